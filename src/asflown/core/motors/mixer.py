"""Which motor raises which axis, read from a flight.

The mixer of an aircraft maps three axis commands u and a collective c to motor commands, ``m = M u + 1 c``.
From a flight only its least-squares inverse is needed: ``u = matrix @ m`` with
``matrix = (M' M)^-1 M'`` is the differential command that the motors really got, saturation included.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]

#: Parts of the flight that are asked for their own pattern.
GROUPS = 8


@dataclass(frozen=True, eq=False)
class MotorMixer:
    """The least-squares inverse of the mixer.

    Attributes
    ----------
    matrix
        (3, motors) rows roll, pitch, yaw: ``matrix @ motors`` is the differential command of each axis; every
        row sums to 0, so the collective falls out. ``None`` where there is a ``reason``.
        From logged controls it has their scale: unsaturated, ``matrix @ motors`` equals the control. From
        rates only the pattern is claimed: the absolute values of each row sum to 1 (four motors: +-1/4).
    certainty
        For roll, pitch and yaw: share of the parts of the flight that give this axis the same pattern, as
        ``(agreeing + 1) / (parts + 2)`` (rule of succession), so it is never 1.
    route
        ``controls``, ``rates, command as instrument`` or ``rates alone``.
    reason
        Why there is no matrix and what to log or fly.
    caveats
        What limits it.
    """

    matrix: Float | None
    certainty: tuple[float, float, float] = (0.0, 0.0, 0.0)
    route: str = ""
    reason: str | None = None
    caveats: tuple[str, ...] = ()

    def differential(self, motors: Float) -> Float:
        """Differential command of each axis, (3, n), of motors (motors, n)."""
        if self.matrix is None:
            raise ValueError(f"no mixer: {self.reason}")
        return self.matrix @ motors


def mixer_from(
    motors: Float,
    control: Float | None,
    rates: Float | None,
    rate_hz: float,
    commands: Float | None = None,
) -> MotorMixer:
    """Which motor raises which axis.

    With logged controls: regression of the motors on them, leaving out saturated rows. Without: regression of
    angular acceleration on motor commands; with the commanded rates as instrument, where given, so that the
    loop's answer to disturbances does not enter.

    Parameters
    ----------
    motors
        (motors, n) motor commands, 1, airborne rows only.
    control
        (3, n) outputs of the rate controller, ``None`` where not logged.
    rates
        (3, n) measured roll, pitch, yaw rate, rad/s, ``None`` where not logged.
    rate_hz
        Samples a second.
    commands
        (3, n) commanded rates, rad/s, ``None`` where not logged.
    """
    from asflown.core.motors.mixer_by_control import from_control
    from asflown.core.motors.mixer_by_rates import from_rates

    count = motors.shape[0]
    if count < 4:
        return MotorMixer(
            None, reason=f"{count} motors are logged; four or more are needed to tell the axes apart"
        )
    seen = from_rates(motors, rates, rate_hz, commands)
    if control is None:
        return seen
    found = from_control(motors, control)
    return seen if found.matrix is None and seen.matrix is not None else _agreed(found, seen)


def _agreed(found: MotorMixer, seen: MotorMixer) -> MotorMixer:
    """The mixer from controls, with a caveat for each axis that the measured rates contradict."""
    if found.matrix is None or seen.matrix is None:
        return found
    cosine = [
        float(a @ b / (np.linalg.norm(a) * np.linalg.norm(b) or 1.0))
        for a, b in zip(found.matrix, seen.matrix, strict=True)
    ]
    told = tuple(
        f"the measured {axis} rate falls where its control rises: check the sign of that column"
        for axis, value, sure in zip(AXES, cosine, seen.certainty, strict=True)
        if value < -0.5 and sure > 0.75
    )
    return replace(found, caveats=found.caveats + told)


def same(part: Float, whole: Float) -> npt.NDArray[np.int64]:
    """For each axis 1 where the two patterns (3, motors) point the same way within 45 deg."""
    lengths = np.linalg.norm(part, axis=1) * np.linalg.norm(whole, axis=1)
    cosine = np.sum(part * whole, axis=1) / np.where(lengths > 0, lengths, 1.0)
    agrees: npt.NDArray[np.int64] = (cosine > np.sqrt(0.5)).astype(np.int64)
    return agrees


def certainty_of(agreeing: npt.NDArray[np.int64] | int, parts: int) -> tuple[float, float, float]:
    """Certainty of each axis by the rule of succession."""
    share = (np.broadcast_to(np.asarray(agreeing), (3,)) + 1) / (parts + 2)
    return float(share[0]), float(share[1]), float(share[2])
