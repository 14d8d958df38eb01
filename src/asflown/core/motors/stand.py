"""A run on a thrust stand: thrust against speed, thrust against command, and where the supply gave way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import student

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Voltage this share of the open circuit's below the line of the lighter loads: the supply has given way.
FOLDED = 0.03
FEWEST = 5


@dataclass(frozen=True, eq=False)
class StandRun:
    """One run.

    Attributes
    ----------
    coefficient
        c of ``thrust = c speed^2``, in thrust unit times s2.
    explained
        Share of the variance of thrust that it explains (R2), ``None`` where it was not fitted.
    exponent
        Of thrust against command, supply limit left out.
    limited
        (n,) true where the supply gave way.
    """

    coefficient: Measured
    explained: float | None
    exponent: Measured
    limited: Bool


def stand_run(command: Float, thrust: Float, speed: Float, voltage: Float, current: Float) -> StandRun:
    """Figures of one run of a motor and propeller at rest.

    Parameters
    ----------
    command
        (n,) 0 to 1, rising.
    thrust, speed, voltage, current
        (n,) any unit of thrust, rev/s, V, A.
    """
    limited = supply_limited(voltage, current)
    coefficient, explained = _square_law(thrust, speed)
    return StandRun(coefficient, explained, _exponent(command, thrust, ~limited), limited)


def supply_limited(voltage: Float, current: Float) -> Bool:
    """True (n,) where the voltage lies below ``V0 - R I`` of the lighter loads."""
    order = np.argsort(current, kind="stable")
    light = order[: max(3, current.size // 2)]
    design = np.column_stack([np.ones(light.size), -current[light]])
    (start, resistance), *_ = np.linalg.lstsq(design, voltage[light], rcond=None)
    return np.asarray(voltage < start - max(float(resistance), 0.0) * current - FOLDED * start)


def _square_law(thrust: Float, speed: Float) -> tuple[Measured, float | None]:
    route = "thrust on speed squared"
    good = np.isfinite(thrust) & np.isfinite(speed) & (speed > 0)
    if np.count_nonzero(good) < FEWEST:
        return unmeasured(f"fewer than {FEWEST} steps with a turning motor", "1", route), None
    square, lift = speed[good] ** 2, thrust[good]
    value = float(square @ lift / (square @ square))
    left = lift - value * square
    freedom = lift.size - 1
    error = float(np.sqrt(left @ left / freedom / (square @ square)))
    half = student(freedom) * error
    spread = float(np.sum((lift - lift.mean()) ** 2))
    explained = 1 - float(left @ left) / spread if spread > 0 else None
    return Measured(value, value - half, value + half, "1", route), explained


def _exponent(command: Float, thrust: Float, free: Bool) -> Measured:
    route = "log thrust on log command"
    good = free & (command > 0.02) & (thrust > 0.01 * np.nanmax(thrust))
    if np.count_nonzero(good) < FEWEST:
        return unmeasured(f"fewer than {FEWEST} steps below the supply's limit", "1", route)
    x, y = np.log(command[good]), np.log(thrust[good])
    x = x - x.mean()
    value = float(x @ y / (x @ x))
    left = y - y.mean() - value * x
    freedom = x.size - 2
    half = student(freedom) * float(np.sqrt(left @ left / freedom / (x @ x)))
    caveats = ("one power for the whole range: an end of the scale bends it",)
    return Measured(value, value - half, value + half, "1", route, caveats=caveats)
