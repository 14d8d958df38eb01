"""The known controller as a route to the figures: taken where it explains the drive that was logged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from asflown.app.flights.arrays import stacked
from asflown.app.flights.bench import Bench
from asflown.core.signals import AXES

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.core.behaviour.declared import KnownController
    from asflown.core.flight import EvenPart

    Float = npt.NDArray[np.float64]

#: A scale this near to one is one: the log holds the firmware's own drive.
_ONE = 0.03
_SAYS_NOTHING = "{axis}: the flight is too short to lay the declared controller beside it"
_DOES_NOT_HOLD = (
    "{axis}: the declared controller explains {share:.0%} of the logged drive alone, 97 % are wanted; the"
    " record is not what flew, or the log holds other signals: measured model-free"
)
_HOLDS = (
    "{axis}: the controller declared by {release} with the settings of {record} explains {share:.2%} of the"
    " logged drive"
)


def known_controllers(
    bench: Bench, parts: Sequence[EvenPart], pattern: Float | None
) -> tuple[dict[str, KnownController], tuple[str, ...]]:
    """The declared controllers that this flight bears out, at the scale of its drive.

    Returns
    -------
    dict, tuple of str
        By axis; and what is to be said of each axis.
    """
    declared = bench.declared
    if declared is None:
        return {}, ()
    from asflown.core.behaviour.declared_scale import drive_scale

    known: dict[str, KnownController] = {}
    said = [f"{axis}: {reason}" for axis, reason in declared.reasons.items()]
    for axis, controller in declared.controllers.items():
        stretches = _stretches(parts, axis, pattern)
        found = drive_scale(stretches, parts[0].rate, controller.response) if stretches else None
        if found is None:
            said.append(_SAYS_NOTHING.format(axis=axis))
        elif not found.holds:
            said.append(_DOES_NOT_HOLD.format(axis=axis, share=found.explained))
        else:
            scale = controller.scale * found.scale
            known[axis] = controller.scaled(1.0 if abs(scale - 1.0) < _ONE else scale)
            facts = {"release": declared.release, "record": declared.record, "share": found.explained}
            said.append(_HOLDS.format(axis=axis, **facts))
            said += [f"{axis}: {remark}" for remark in controller.remarks]
    return known, _once(said)


def _once(said: list[str]) -> tuple[str, ...]:
    """The same said of every axis once."""
    texts = [text.partition(": ")[2] for text in said]
    if len(said) == len(AXES) and len(set(texts)) == 1:
        return (texts[0],)
    return tuple(said)


def _stretches(
    parts: Sequence[EvenPart], axis: str, pattern: Float | None
) -> list[tuple[Float, Float, Float]]:
    made = []
    for part in parts:
        motors = stacked(part, "motor")
        wanted, answer = part.values.get(f"rate_command.{axis}"), part.values.get(f"rate.{axis}")
        if wanted is None or answer is None:
            continue
        if pattern is not None and motors is not None:
            made.append((pattern[AXES.index(axis)] @ motors, wanted, answer))
        elif f"control.{axis}" in part.values:
            made.append((part.values[f"control.{axis}"], wanted, answer))
    return made
