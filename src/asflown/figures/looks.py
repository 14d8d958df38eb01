"""Colours, dashes and hatches of figures: roles are never told by hue alone, so that black print will do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.figures.figure import Look, Series

PAPER, SHEET, INK, PENCIL, RULE, HAIR = "#FAF8F2", "#FFFEFB", "#1F2328", "#5F5E57", "#6B6A63", "#CFCBBF"
#: Lines of what was not sure to be there; 3.4 to 1 against the sheet.
GREYED = "#8B8A82"
#: Colours of maps, equally readable without colour sight and in grey.
MAP = "cividis"


@dataclass(frozen=True, slots=True)
class Pen:
    r"""How a series is drawn.

    Attributes
    ----------
    dash
        Lengths of stroke and gap in turn, px of 1/96 inch; none: solid.
    width
        px.
    hatch
        Of its band, ``/`` or ``\`` or ``.``; empty: filled.
    """

    colour: str
    dash: tuple[float, ...] = ()
    width: float = 2.0
    hatch: str = ""


_BY_LOOK = {
    Look.BEFORE: Pen("#0072B2"),
    Look.AFTER: Pen("#D55E00", (11.0, 5.0), hatch="/"),
    Look.PREDICTED: Pen(INK, (2.0, 3.0), hatch="."),
    Look.MARGIN: Pen(PENCIL, (7.0, 3.0, 2.0, 3.0), 1.4),
}
_PLAIN = (
    Pen(INK, (), 1.8),
    Pen(PENCIL, (5.0, 3.0), 1.6, "\\"),
    Pen(INK, (2.0, 3.0), 1.6, "."),
    Pen(PENCIL, (9.0, 3.0, 2.0, 3.0), 1.6, "/"),
    Pen(INK, (9.0, 4.0), 1.6, "\\"),
    Pen(PENCIL, (2.0, 5.0), 1.6, "."),
)


def pens(series: Sequence[Series]) -> tuple[Pen, ...]:
    """A pen for each series; plain ones go round by dash, and a second one of a role is thin."""
    made: list[Pen] = []
    seen: dict[Look, int] = {}
    for one in series:
        number = seen.get(one.look, 0)
        seen[one.look] = number + 1
        if one.look is Look.PLAIN:
            made.append(_PLAIN[number % len(_PLAIN)])
            continue
        pen = _BY_LOOK[one.look]
        made.append(pen if number == 0 else Pen(pen.colour, pen.dash, 1.0, pen.hatch))
    return tuple(made)
