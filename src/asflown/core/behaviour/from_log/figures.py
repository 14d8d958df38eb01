"""Gains, cut-offs and delays of a read controller with their 95 % intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from asflown.core.behaviour.from_log.family import NUMBERS
from asflown.core.behaviour.from_log.fit import Fit
from asflown.core.measured import Measured, unmeasured

#: The figures with their units, in the order shown.
UNITS: Mapping[str, str] = {
    "proportional": "s/rad",
    "integral": "1/rad",
    "derivative": "s2/rad",
    "feed_forward": "s2/rad",
    "rate_cutoff": "Hz",
    "derivative_cutoff": "Hz",
    "command_cutoff": "Hz",
    "rate_delay": "s",
    "command_delay": "s",
}
#: Place of each figure among `family.NUMBERS`.
_PLACES = dict(zip(UNITS, range(len(NUMBERS)), strict=True))
#: Spread of a cut-off's logarithm, and of a delay in s, from which on the log does not tell it.
NOT_TOLD = {"rate_cutoff": 0.5, "derivative_cutoff": 0.5, "command_cutoff": 0.5}
NOT_TOLD_DELAY = 1e-3
#: Independent pieces in half-overlapped windows.
PIECES = 0.55
READ = "read from the log"
_STILL = "the command did not move in this log; move the stick of this axis"
_NO_DERIVATIVE = "no derivative term is seen"
_NONE = "no such filter is seen"
_NOT_EXCITED = (
    "too little above its cut-off in this log; tap the arms while rocking, or log every step of the loop"
)


def is_told(one: Fit) -> bool:
    """Whether a fit has a derivative term that differs from none."""
    return one.variant.derivative is not None and abs(one.numbers[2]) > 2 * one.covariance[2, 2] ** 0.5


def quantile(count: int) -> float:
    """Student's 97.5 % quantile for so many windows."""
    from scipy.special import stdtrit

    return float(stdtrit(max(3.0, PIECES * count - 1), 0.975))


def figures_of(fits: Sequence[Fit], likely: Sequence[Fit], count: int) -> dict[str, Measured]:
    """Every figure: of the best fit, its interval reaching over the likely ones.

    Parameters
    ----------
    fits, likely
        The best one first in both; ``likely`` are those of ``fits`` that the log does not rule out.
    count
        Windows.
    """
    wide = quantile(count)
    return {name: _figure(name, fits, likely, wide) for name in UNITS}


def _figure(name: str, fits: Sequence[Fit], likely: Sequence[Fit], wide: float) -> Measured:
    best, unit, place = likely[0], UNITS[name], _PLACES[name]
    if name.startswith(("feed", "command")) and not best.variant.commanded:
        return unmeasured(_STILL, unit, READ)
    if name == "derivative" and best.variant.derivative is None:
        return _absent(fits, wide)
    if name.endswith("cutoff"):
        return _cutoff(name, likely, wide)
    ends = [_ends(one, place, wide) for one in likely if place in one.variant.free]
    low, high = min(low for low, _ in ends), max(high for _, high in ends)
    if name.endswith("delay") and best.covariance[place, place] ** 0.5 > NOT_TOLD_DELAY:
        return unmeasured(_NOT_EXCITED, unit, READ)
    return Measured(float(best.numbers[place]), low, high, unit, READ)


def _ends(one: Fit, place: int, wide: float) -> tuple[float, float]:
    value, half = float(one.numbers[place]), wide * float(one.covariance[place, place]) ** 0.5
    return value - half, value + half


def _absent(fits: Sequence[Fit], wide: float) -> Measured:
    """No derivative: how large one could be."""
    other = next((one for one in fits if one.variant.derivative is not None), None)
    if other is None:
        return unmeasured(_NO_DERIVATIVE, UNITS["derivative"], READ)
    low, high = _ends(other, 2, wide)
    return Measured(0.0, min(low, 0.0), max(high, 0.0), UNITS["derivative"], READ)


def _cutoff(name: str, likely: Sequence[Fit], wide: float) -> Measured:
    """A cut-off, over those members in which the filter is of the same order."""
    kind = name.removesuffix("_cutoff")
    place, best = _PLACES[name], likely[0]
    order = getattr(best.variant, kind)
    if kind == "derivative" and not is_told(best):
        return unmeasured(_NO_DERIVATIVE, "Hz", READ)
    if not order:
        return unmeasured(_NONE, "Hz", READ)
    alike = [one for one in likely if getattr(one.variant, kind) == order]
    if best.covariance[place, place] ** 0.5 > NOT_TOLD[name]:
        return unmeasured(_NOT_EXCITED, "Hz", READ)
    ends = [_ends(one, place, wide) for one in alike]
    low, high = (float(np.exp(end)) for end in (min(e[0] for e in ends), max(e[1] for e in ends)))
    return Measured(float(np.exp(best.numbers[place])), low, high, "Hz", READ)
