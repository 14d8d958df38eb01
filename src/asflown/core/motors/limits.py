"""Motors at their limits, and what is left above hover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import averaged_where, bounds, means_of

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: A motor counts as at its limit within this of it, as a share of the range.
NEAR = 0.002
#: Rows at a limit nearer together than this, s, make one span.
JOINED = 0.05
#: Rows a value must return to be taken for a limit.
REPEATS = 3


@dataclass(frozen=True, slots=True)
class Saturation:
    """Shares of time at a limit, 0 to 1.

    Attributes
    ----------
    idle, full
        The limits used; ``None`` where none was given and no motor ever stood at one.
    at_idle, at_full
        For each motor.
    total
        Share of rows with any motor at a limit.
    spans
        When, longest first, at most 200.
    """

    idle: float | None
    full: float | None
    at_idle: tuple[float, ...]
    at_full: tuple[float, ...]
    total: float
    spans: tuple[Span, ...]


def saturation(
    motors: Float, rate_hz: float, idle: float | None = None, full: float | None = None, start: float = 0.0
) -> Saturation:
    """How often and when motors stand at their limits.

    Parameters
    ----------
    motors
        (motors, n) commands, airborne.
    idle, full
        Limits; ``None``: the least and largest command seen, if it comes back often enough to be a limit.
    start
        s, time of the first sample.
    """
    count, n = motors.shape
    if n == 0:
        return Saturation(idle, full, (0.0,) * count, (0.0,) * count, 0.0, ())
    low = float(motors.min()) if idle is None else idle
    high = float(motors.max()) if full is None else full
    near = NEAR * (high - low)
    down, up = motors <= low + near, motors >= high - near
    if idle is None and not _comes_back(down, motors, low):
        down, idle = np.zeros_like(down), None
    else:
        idle = low
    if full is None and not _comes_back(up, motors, high):
        up, full = np.zeros_like(up), None
    else:
        full = high
    anywhere: Bool = np.asarray((down | up).any(axis=0))
    return Saturation(
        idle,
        full,
        tuple(float(share) for share in down.mean(axis=1)),
        tuple(float(share) for share in up.mean(axis=1)),
        float(anywhere.mean()),
        _spans(anywhere, rate_hz, start),
    )


def _comes_back(at: Bool, motors: Float, limit: float) -> bool:
    """Whether the extreme value itself comes back, as a limit's does and a chance extreme's does not."""
    return int(np.count_nonzero(motors[at] == limit)) >= REPEATS


def _spans(rows: Bool, rate_hz: float, start: float, most: int = 200) -> tuple[Span, ...]:
    found = np.flatnonzero(rows)
    if found.size == 0:
        return ()
    breaks = np.flatnonzero(np.diff(found) > max(1.0, JOINED * rate_hz))
    first = found[np.concatenate([[0], breaks + 1])]
    last = found[np.concatenate([breaks, [found.size - 1]])]
    longest = np.argsort(first - last, kind="stable")[:most]
    return tuple(
        Span(start + float(first[i]) / rate_hz, start + float(last[i] + 1) / rate_hz) for i in longest
    )


@dataclass(frozen=True, slots=True)
class Headroom:
    """What is left in hover.

    Attributes
    ----------
    hover
        Mean motor command, 1.
    above
        From the hardest working motor's mean to full, 1.
    thrust_ratio
        Full thrust over hover thrust, of the mean command and the thrust curve.
    """

    hover: Measured
    above: Measured
    thrust_ratio: Measured


def headroom(
    motors: Float, hover: Bool, rate_hz: float, full: float = 1.0, exponent: Measured | None = None
) -> Headroom:
    """Headroom of the motors above hover.

    Parameters
    ----------
    motors, hover
        (motors, n) commands and (n,) true in steady hover.
    exponent
        Of the thrust curve, from :mod:`asflown.core.motors.thrust`.
    """
    seconds = float(np.count_nonzero(hover)) / rate_hz
    route = "means in hover"
    if seconds < 5.0:
        told = unmeasured(f"{seconds:.0f} s of steady hover are too short; hover for 30 s", route=route)
        return Headroom(told, told, told)
    means = means_of(averaged_where(motors, rate_hz, hover), seconds)
    count = motors.shape[0]
    hardest = np.zeros(count)
    hardest[int(np.argmax(means.value))] = 1.0
    both = means.of(np.stack([np.full(count, 1 / count), hardest]))
    level, top = both.measured(0, "1", route), both.measured(1, "1", route)
    above = Measured(full - means.value.max(), full - (top.high or 0.0), full - (top.low or 0.0), "1", route)
    return Headroom(level, above, _ratio(level, full, exponent))


def _ratio(level: Measured, full: float, exponent: Measured | None) -> Measured:
    route = "mean hover command to the power of the thrust curve"
    curve, hover = bounds(exponent), bounds(level)
    if curve is None or exponent is None:
        why = "not estimated" if exponent is None else exponent.reason
        return unmeasured(f"the thrust curve is not known: {why}", route=route)
    if hover is None or not hover[1] > 0:
        return unmeasured("the hover command is not above 0; check the motor columns", route=route)
    ratio = np.log(full / hover[0])
    value = curve[0] * ratio
    half = np.hypot(0.5 * (curve[2] - curve[1]) * ratio, 0.5 * curve[0] * np.log(hover[2] / hover[1]))
    caveats = ("at the voltage of the hover; full thrust itself was not flown",)
    low, middle, high = (float(np.exp(x)) for x in (value - half, value, value + half))
    return Measured(middle, low, high, "1", route, caveats=caveats)
