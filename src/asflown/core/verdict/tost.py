"""Two one-sided tests: whether a difference lies within bounds, or beyond them.

Source: Schuirmann, *Journal of Pharmacokinetics and Biopharmaceutics* 15(6), 657-680, 1987. Equivalent at 5 %
is the same as: the 90 % interval lies within the bounds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: Chance of a wrong call that is allowed, of each side.
LEVEL = 0.05


@dataclass(frozen=True, slots=True)
class Tested:
    """A difference held against bounds.

    Attributes
    ----------
    p_low, p_high
        Of the one-sided tests against the lower and the upper bound.
    p_beyond
        That the difference lies within the bounds, tested by the nearer end (for calling it different).
    interval, interval_95
        Ends of the 90 % interval, by which equivalence is called, and of the 95 % one.
    """

    difference: float
    error: float
    dof: float
    p_low: float
    p_high: float
    p_beyond: float
    interval: tuple[float, float]
    interval_95: tuple[float, float]

    @property
    def p(self) -> float:
        """Of equivalence: the larger of the two."""
        return max(self.p_low, self.p_high)


def tested(difference: float, error: float, dof: float, low: float, high: float) -> Tested:
    """Test a difference with a standard error (above zero) and degrees of freedom (may be infinite)."""
    if not error > 0.0:
        # nothing scatters: the difference is what it is
        within = low < difference < high
        p = 0.0 if within else 1.0
        ends = difference, difference
        return Tested(difference, 0.0, dof, p, p, 1.0 - p, ends, ends)
    below, above = (difference - low) / error, (difference - high) / error
    narrow, wide = (quantile(share, dof) * error for share in (0.95, 0.975))
    beyond = min(survival(above, dof), survival(-below, dof))
    return Tested(
        difference,
        error,
        dof,
        survival(below, dof),
        survival(-above, dof),
        beyond,
        (difference - narrow, difference + narrow),
        (difference - wide, difference + wide),
    )


def survival(t: float, dof: float) -> float:
    """Chance of Student's t above a value; of the normal deviate for infinite degrees of freedom."""
    from scipy import special

    return float(special.ndtr(-t) if math.isinf(dof) else special.stdtr(dof, -t))


def quantile(share: float, dof: float) -> float:
    """Student's t that a share lies below."""
    from scipy import special

    return float(special.ndtri(share) if math.isinf(dof) else special.stdtrit(dof, share))


def welch(variances: Sequence[tuple[float, float]]) -> float:
    """Degrees of freedom of a sum of variances, each with its own (Welch & Satterthwaite)."""
    total = sum(variance for variance, _ in variances)
    weight = sum(variance**2 / dof for variance, dof in variances if variance > 0.0)
    return total**2 / weight if weight > 0.0 else math.inf


def of_samples(
    first: Sequence[float], second: Sequence[float], low: float, high: float, *, pooled: bool = False
) -> Tested:
    """Two one-sided tests of the means of two independent samples, two values or more each."""
    means, squares = [], []
    for values in (first, second):
        mean = sum(values) / len(values)
        means.append(mean)
        squares.append(sum((value - mean) ** 2 for value in values))
    n, m = len(first), len(second)
    if pooled:
        dof = float(n + m - 2)
        variance = sum(squares) / dof * (1 / n + 1 / m)
    else:
        parts = [(squares[0] / (n - 1) / n, n - 1.0), (squares[1] / (m - 1) / m, m - 1.0)]
        variance, dof = sum(part for part, _ in parts), welch(parts)
    return tested(means[0] - means[1], math.sqrt(variance), dof, low, high)


def stepped_down(ps: Sequence[float], level: float = LEVEL) -> set[int]:
    """Places of the p-values that hold with so many tries.

    Source: Holm, *Scandinavian Journal of Statistics* 6(2), 1979 (from memory).
    """
    made: set[int] = set()
    for rank, (p, place) in enumerate(sorted((p, place) for place, p in enumerate(ps))):
        if p * (len(ps) - rank) >= level:
            break
        made.add(place)
    return made
