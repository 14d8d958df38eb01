"""Which motor turns which axis, as the flight shows it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from asflown.app.flights.arrays import stacked
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.flight import EvenPart
    from asflown.core.motors.mixer import MotorMixer

#: Families of signals that the mixer is told from.
FAMILIES = frozenset(("motor", "rate", "control", "rate_command"))
_NOT_SEEN = (
    "no pattern of the motors is seen in the measured rates; log them at 500 Hz or more, and fly all axes"
)


def mixer_of(part: EvenPart) -> MotorMixer:
    """The mixer from controls where they were logged, else from what the motors did to the rates."""
    from asflown.core.motors.mixer import MotorMixer, mixer_from

    motors = stacked(part, "motor")
    if motors is None:
        return MotorMixer(None, reason="motor commands are not known in this log; log every motor's command")
    rates = stacked(part, "rate", AXES)
    if rates is None:
        rates = np.zeros((len(AXES), part.samples))
    found = mixer_from(
        motors,
        stacked(part, "control", AXES),
        rates,
        part.rate,
        commands=stacked(part, "rate_command", AXES),
    )
    if found.matrix is not None and not np.all(np.abs(found.matrix).sum(axis=1) > 0):
        return replace(found, matrix=None, reason=_NOT_SEEN)
    return found
