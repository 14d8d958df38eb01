"""Used charge and energy by integration, with the gaps counted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured

Float = npt.NDArray[np.float64]

#: Steps longer than this many usual steps, and than this many s, are gaps: nothing is known inside.
GAP_STEPS, GAP_SECONDS = 5.0, 0.5
#: Error of the current sensor's gain and zero that is allowed for (common practice, no source): share, A.
GAIN_ERROR, ZERO_ERROR = 0.03, 0.1
#: Share of the time in gaps above which no number is given.
MOST_GAPS = 0.2


@dataclass(frozen=True, eq=False)
class Used:
    """What a flight took out of the pack.

    Attributes
    ----------
    charge
        A s (3600 A s = 1 Ah).
    energy
        J.
    over_time
        (n,) A s used up to each sample; gaps filled with the mean of the currents at their ends.
    gaps, gap_seconds
        How many gaps, and how long together.
    """

    charge: Measured
    energy: Measured
    over_time: Float
    gaps: int
    gap_seconds: float


def used_charge(time: Float, current: Float, voltage: Float | None = None) -> Used:
    """Integrate the current by the trapezoidal rule.

    Parameters
    ----------
    time
        (n,) s, not decreasing.
    current
        (n,) A; not a number counts as not logged.
    voltage
        (n,) V, for the energy.

    The interval holds what a current sensor's gain and zero may be off by (3 % and 0.1 A), and for gaps
    anything between the least and the largest current seen.
    """
    route = "current integrated"
    good = np.isfinite(current)
    if np.count_nonzero(good) < 2:
        told = unmeasured("pack current is not logged; log it", "A s", route)
        return Used(
            told, unmeasured("pack current is not logged; log it", "J", route), np.zeros(time.size), 0, 0.0
        )
    t, i = (time, current) if good.all() else (time[good], current[good])
    steps = np.diff(t)
    moving = steps[:: max(1, steps.size // 10_000)]
    moving = moving[moving > 0]
    usual = float(np.median(moving)) if moving.size else 0.0
    gap = steps > max(GAP_STEPS * usual, GAP_SECONDS)
    pieces = 0.5 * (i[1:] + i[:-1]) * steps
    summed = np.concatenate([[0.0], np.cumsum(pieces)])
    over_time = summed if good.all() else np.interp(time, t, summed)
    seconds, lost = float(t[-1] - t[0]), float(steps[gap].sum())
    if seconds <= 0 or lost > MOST_GAPS * seconds:
        why = f"{lost:.0f} of {seconds:.0f} s of current are missing; log it without gaps"
        told, worth = unmeasured(why, "A s", route), unmeasured(why, "J", route)
        return Used(told, worth, over_time, int(gap.sum()), lost)
    charge = float(summed[-1])
    unknown = 0.5 * float(np.ptp(i)) * lost
    half = float(np.hypot(1.96 * GAIN_ERROR * charge, 1.96 * ZERO_ERROR * seconds)) + unknown
    count = int(gap.sum())
    many = "1 gap" if count == 1 else f"{count} gaps"
    caveats = () if lost == 0 else (f"{many}, {lost:.1f} s together, filled between the ends",)
    found = Measured(charge, charge - half, charge + half, "A s", route, caveats=caveats)
    return Used(found, _energy(voltage, good, pieces, half, charge, caveats), over_time, count, lost)


def _energy(
    voltage: Float | None,
    good: npt.NDArray[np.bool_],
    pieces: Float,
    half: float,
    charge: float,
    caveats: tuple[str, ...],
) -> Measured:
    route = "current times voltage integrated"
    if voltage is None or not np.isfinite(voltage[good]).all():
        return unmeasured("pack voltage is not logged with the current; log both", "J", route)
    v = voltage[good]
    value = float(np.sum(pieces * 0.5 * (v[1:] + v[:-1])))
    wide = abs(value) * half / abs(charge) if charge else half * float(v.max())
    return Measured(value, value - wide, value + wide, "J", route, caveats=caveats)
