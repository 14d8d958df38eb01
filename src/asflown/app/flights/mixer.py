"""Which motor turns which axis, as the flight shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.flights.arrays import stacked
from asflown.core.signals import AXES

if TYPE_CHECKING:
    from asflown.core.flight import EvenPart
    from asflown.core.motors.mixer import MotorMixer

#: Families of signals that the mixer is told from.
FAMILIES = frozenset(("motor", "rate", "control", "rate_command"))


def mixer_of(part: EvenPart) -> MotorMixer:
    """The mixer from controls where they were logged, else from what the motors did to the rates."""
    from asflown.core.motors.mixer import MotorMixer, mixer_from

    motors = stacked(part, "motor")
    if motors is None:
        return MotorMixer(None, reason="motor commands are not known in this log; log every motor's command")
    return mixer_from(
        motors,
        stacked(part, "control", AXES),
        stacked(part, "rate", AXES),
        part.rate,
        commands=stacked(part, "rate_command", AXES),
    )
