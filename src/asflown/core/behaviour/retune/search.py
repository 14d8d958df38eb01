"""Turn the knobs until the new loops answer as the old ones did: any value within the ranges.

Everything is in the logarithms of the knobs. First least squares (trust region, scipy) with what is worse
than before in peak sensitivity and noise made dear. Then the largest difference itself is made small, by
linear programs within a region of trust (Madsen 1975, *Journal of the Institute of Mathematics and its
Applications* 16, 321, from memory; solved by HiGHS): per axis one bound on all differences, with peak and
noise as constraints.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.looks import Axis, Look

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: By how much, in the logarithm, peak and noise are kept below the old ones while values are not on the grid.
ASIDE = 2e-4
#: What an excess of peak and noise costs: in the least squares, and against a unit of difference.
DEAR, PRICE = 300.0, 2000.0
#: Differences of less than this, in their unit, are none: 0.02 dB, 0.25 deg.
SLIGHT = 0.1
_LOOKS = 15
_TRUST, _LEAST_TRUST = 0.25, 1e-4


@dataclass(frozen=True, order=True, slots=True)
class Standing:
    """How good values are: less is better.

    Attributes
    ----------
    unstable
        Number of unstable axes.
    excess
        Sum of what is worse, logarithm; 0 where nothing is.
    distance
        Farthest difference of the worst axis, and the sum of all axes'.
    """

    unstable: int
    excess: float
    distance: float

    @property
    def is_feasible(self) -> bool:
        """Whether every axis is stable with nothing worse."""
        return self.unstable == 0 and self.excess == 0.0


def standing_of(looks: Sequence[Look]) -> Standing:
    """Of all axes together."""
    farthest = [look.farthest for look in looks]
    return Standing(
        sum(not look.stable for look in looks),
        sum(look.excess for look in looks),
        max(farthest) + sum(farthest),
    )


@dataclass(frozen=True, eq=False)
class Search:
    """Axes and knobs to be searched."""

    axes: Mapping[str, Axis]
    knobs: Sequence[Knob]

    @property
    def ends(self) -> tuple[Float, Float]:
        """Logarithms of the knobs' ends, (nk,) each."""
        low = np.log([knob.low for knob in self.knobs])
        return low, np.maximum(np.log([knob.high for knob in self.knobs]), low)

    @property
    def alone(self) -> Bool:
        """(nk,) which knobs act in one axis alone."""
        return np.array([len(knob.axes) == 1 for knob in self.knobs])

    def clipped(self, values: Float) -> Float:
        """Values (nk,) brought within the knobs' ends."""
        return np.clip(values, [knob.low for knob in self.knobs], [knob.high for knob in self.knobs])

    def looks(self, values: Float, *, slopes: bool = False) -> list[Look]:
        """Every axis at values (nk,), SI."""
        return [axis.look(values, slopes=slopes) for axis in self.axes.values()]

    def standing(self, values: Float) -> Standing:
        """How good values (nk,), SI, are."""
        return standing_of(self.looks(values))


def settled(search: Search, start: Float, free: Bool, looks: int = _LOOKS) -> Float:
    """Values (nk,) of least squares from a start (nk,); only knobs that are free (nk,) move."""
    from scipy.optimize import least_squares

    low, high = search.ends
    start = search.clipped(start)
    begin = np.log(start)
    moving = free & (high - low > 1e-9)
    if not np.any(moving):
        return start

    def at(part: Float) -> Float:
        x = begin.copy()
        x[moving] = part
        return np.asarray(np.exp(x))

    def residuals(part: Float) -> Float:
        return np.concatenate([_residuals(look) for look in search.looks(at(part))])

    def slopes(part: Float) -> Float:
        made = [_residual_slopes(look) for look in search.looks(at(part), slopes=True)]
        return np.asarray(np.concatenate(made)[:, moving])

    edge = 1e-9
    found = least_squares(
        residuals,
        np.clip(begin[moving], low[moving] + edge, high[moving] - edge),
        jac=slopes,
        bounds=(low[moving], high[moving]),
        max_nfev=looks,
        xtol=1e-5,
        ftol=1e-4,
    )
    return np.where(moving, search.clipped(at(found.x)), start)


def _residuals(look: Look) -> Float:
    share = np.sqrt(1.0 / look.differences.size)
    return np.concatenate([share * look.differences, DEAR * np.maximum(0.0, look.worse + ASIDE)])


def _residual_slopes(look: Look) -> Float:
    share = np.sqrt(1.0 / look.differences.size)
    counts = (look.worse + ASIDE > 0.0)[:, None]
    return np.concatenate([share * look.slopes_differences, DEAR * counts * look.slopes_worse])


def narrowed(search: Search, start: Float, free: Bool, rounds: int = 15) -> Float:
    """Values (nk,) whose largest differences are least, from a start near them; stable if the start is."""
    low, high = search.ends
    start = search.clipped(start)
    x = np.log(start)
    looks = search.looks(np.exp(x), slopes=True)
    now, trust = _price(looks), _TRUST
    for _ in range(rounds):
        reach = np.where(free, trust, 0.0)
        step, promised = _linear_step(looks, np.maximum(low - x, -reach), np.minimum(high - x, reach))
        if step is None or now - promised < max(1e-3, 2e-3 * now):
            break
        ahead = np.clip(x + step, low, high)
        there = search.looks(np.exp(ahead), slopes=True)
        then = _price(there)
        worsens = sum(not look.stable for look in there) > sum(not look.stable for look in looks)
        gained = (now - then) / (now - promised)
        if gained > 0.05 and not worsens:
            x, looks, now = ahead, there, then
        trust *= 0.3 if gained < 0.25 or worsens else 2.0 if gained > 0.75 else 1.0
        if trust < _LEAST_TRUST:
            break
    return np.where(free, search.clipped(np.exp(x)), start)


def _price(looks: Sequence[Look]) -> float:
    farthest = [look.farthest for look in looks]
    excess = sum(max(0.0, float(np.max(look.worse)) + ASIDE) for look in looks)
    return max(farthest) + sum(farthest) + PRICE * excess


def _linear_step(looks: Sequence[Look], low: Float, high: Float) -> tuple[Float | None, float]:
    """The best step between ends (nk,) if all were linear, and what it promises.

    Unknowns: the step, each axis' bound on its differences, each axis' excess, and the largest bound.
    """
    from scipy.optimize import linprog

    moving = np.flatnonzero(high - low > 1e-12)
    count, axes = moving.size, len(looks)
    if not count:
        return None, np.inf
    rows, ends = [], []
    for place, look in enumerate(looks):
        slopes = look.slopes_differences[:, moving]
        bound = np.zeros((slopes.shape[0], 2 * axes + 1))
        bound[:, place] = -1.0
        rows += [np.hstack([slopes, bound]), np.hstack([-slopes, bound])]
        ends += [-look.differences, look.differences]
        reach = np.abs(look.slopes_worse[:, moving]) @ np.maximum(-low[moving], high[moving])
        near = np.isfinite(look.worse) & (look.worse + ASIDE + reach > 0.0)
        excess = np.zeros((int(near.sum()), 2 * axes + 1))
        excess[:, axes + place] = -1.0
        rows.append(np.hstack([look.slopes_worse[near][:, moving], excess]))
        ends.append(-look.worse[near] - ASIDE)
    most = np.zeros((axes, count + 2 * axes + 1))
    most[:, count : count + axes] = np.eye(axes)
    most[:, -1] = -1.0
    cost = np.concatenate([np.zeros(count), np.ones(axes), np.full(axes, PRICE), [1.0]])
    found = linprog(
        cost,
        A_ub=np.vstack([*rows, most]),
        b_ub=np.concatenate([*ends, np.zeros(axes)]),
        bounds=[*zip(low[moving], high[moving], strict=True), *[(0.0, None)] * (2 * axes + 1)],
        method="highs",
    )
    if found.x is None or found.fun is None:
        return None, np.inf
    step = np.zeros(low.size)
    step[moving] = found.x[:count]
    return step, float(found.fun)
