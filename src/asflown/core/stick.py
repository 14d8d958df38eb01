"""How a release makes a commanded rate of the stick, as data, and what such a declaration must hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise


class StickForm(StrEnum):
    """The forms a stick's curve may be declared in (textbook terms).

    ``linear``: in proportion. ``expo``: a straight line and a cubic, mixed by a share. ``cubic``: the odd
    cubic with a given slope in the middle and a given end. ``table``: straight lines between points.
    """

    LINEAR = "linear"
    EXPO = "expo"
    CUBIC = "cubic"
    TABLE = "table"


class DeadBand(StrEnum):
    """What is left of the stick's way beyond its dead band.

    ``stretched``: it is stretched to the whole way again. ``shifted``: the band is taken off. ``cut``: as it
    is.
    """

    STRETCHED = "stretched"
    SHIFTED = "shifted"
    CUT = "cut"


@dataclass(frozen=True)
class StickShape:
    """The stick's curve of one axis.

    Attributes
    ----------
    parameters
        What the form needs (``full_rate`` …) to the role of the setting that gives it.
    constants
        What it needs that no setting gives, by the same words, in SI (rates in rad/s, shares of 1).
    points
        Of a table: deflection, and the share of the full rate there or the role that gives it.
    rule
        What becomes of the way beyond the dead band.
    """

    axis: str
    form: StickForm
    parameters: Mapping[str, str] = field(default_factory=dict)
    constants: Mapping[str, float] = field(default_factory=dict)
    points: tuple[tuple[float, float | str], ...] = ()
    rule: DeadBand = DeadBand.STRETCHED


#: What each form takes; all of them may have a dead band (share of the way) and a limit (rad/s).
NEEDS: Mapping[StickForm, tuple[str, ...]] = {
    StickForm.LINEAR: ("full_rate",),
    StickForm.EXPO: ("full_rate", "expo"),
    StickForm.CUBIC: ("centre_rate", "full_rate"),
    StickForm.TABLE: ("full_rate",),
}
MAY = ("dead_band", "limit")


def faults(shape: StickShape) -> Iterator[tuple[str, str]]:
    """What keeps a shape from being computed, whatever the settings are.

    Yields
    ------
    tuple
        The field, and what is wrong with it.
    """
    takes = (*NEEDS[shape.form], *MAY)
    for word in (*shape.parameters, *(one for one in shape.constants if one not in shape.parameters)):
        if word not in takes:
            yield "roles", f"the form {shape.form} has no {word}; it takes {', '.join(takes)}"
        elif word in shape.parameters and word in shape.constants:
            yield "roles", f"{word} is given by a role and as a constant"
    for word in NEEDS[shape.form]:
        if word not in shape.parameters and word not in shape.constants:
            yield "roles", f"the form {shape.form} needs its {word}"
    if shape.form is StickForm.TABLE:
        yield from _point_faults(shape.points)
    elif shape.points:
        yield "points", f"the form {shape.form} has no points"


def _point_faults(points: tuple[tuple[float, float | str], ...]) -> Iterator[tuple[str, str]]:
    places = [place for place, _ in points]
    if len(places) < 2 or places[0] not in (-1.0, 0.0) or places[-1] != 1.0:
        yield "points", "a table goes from a deflection of 0 (or -1, where the sides differ) to 1"
    elif any(later <= earlier for earlier, later in pairwise(places)):
        yield "points", "deflections rise from point to point"
