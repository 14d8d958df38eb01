"""The chance that two one-sided tests find what is true, before anything is flown.

Two forms. *Given errors*: the standard error comes from a calibration, a prior, or flights long flown, so the
interval's width is fixed; the planner uses it, since its scatter is a prior moderated by a few flights and is
not taken anew from the flights it plans. *Samples*: the error is estimated from the two samples compared, and
the width itself scatters.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from asflown.core.verdict.tost import LEVEL

Float = npt.NDArray[np.float64]


def power(
    difference: float, error: float, dof: float, low: float, high: float, level: float = LEVEL
) -> float:
    """Chance that equivalence is called: true difference and standard error known, limits by t."""
    return float(powers(difference, np.array(error), np.array(dof), low, high, level))


def power_beyond(
    difference: float, error: float, dof: float, low: float, high: float, level: float = LEVEL
) -> float:
    """Chance that a difference is called beyond the bounds, for a true one and a known standard error."""
    return float(powers_beyond(difference, np.array(error), np.array(dof), low, high, level))


def powers(
    difference: float, error: Float, dof: Float, low: float, high: float, level: float = LEVEL
) -> Float:
    """The same as :func:`power` for many errors and degrees of freedom, element by element."""
    from scipy import special

    width, safe = _width(error, dof, level), np.where(error > 0.0, error, 1.0)
    told = special.ndtr((high - width - difference) / safe) - special.ndtr((low + width - difference) / safe)
    told = np.where(error > 0.0, told, float(low < difference < high))
    return np.asarray(np.where(high - low > 2.0 * width, told, 0.0))


def powers_beyond(
    difference: float, error: Float, dof: Float, low: float, high: float, level: float = LEVEL
) -> Float:
    """The same as :func:`power_beyond` for many errors and degrees of freedom, element by element."""
    from scipy import special

    width, safe = _width(error, dof, level), np.where(error > 0.0, error, 1.0)
    above = special.ndtr(-(high + width - difference) / safe)
    below = special.ndtr((low - width - difference) / safe)
    return np.asarray(np.where(error > 0.0, above + below, float(not low <= difference <= high)))


def power_of_samples(
    n: int, bound_over_sigma: float, *, difference_over_sigma: float = 0.0, level: float = LEVEL
) -> float:
    """Chance that equivalence of two means is called, of two samples of the same size, exactly.

    Parameters
    ----------
    n
        Values in each sample, two or more.
    bound_over_sigma
        The bound on either side, over the standard deviation of one value.

    Raises
    ------
    ValueError
        For samples of less than two, or a bound that is not above zero.

    Notes
    -----
    Pooled variance, ``2 n - 2`` degrees of freedom. For each size ``x`` of the estimated over the true error
    the chance is the normal one; it is integrated over the density of ``x`` (``chi / sqrt(dof)``).
    """
    if n < 2 or not bound_over_sigma > 0.0:
        raise ValueError(f"two values or more and a bound above zero are wanted, not {n}, {bound_over_sigma}")
    from scipy import integrate, special

    dof = 2.0 * n - 2.0
    error = math.sqrt(2.0 / n)
    quantile = float(special.stdtrit(dof, 1.0 - level))
    constant = 0.5 * dof * math.log(0.5 * dof) - float(special.gammaln(0.5 * dof)) + math.log(2.0)

    def part(x: float) -> float:
        density = math.exp(constant + (dof - 1.0) * math.log(x) - 0.5 * dof * x * x) if x > 0.0 else 0.0
        room = bound_over_sigma - quantile * x * error
        high, low = ((end - difference_over_sigma) / error for end in (room, -room))
        return density * float(special.ndtr(high) - special.ndtr(low))

    # beyond the widest interval that fits between the bounds nothing is called
    most = min(bound_over_sigma / (quantile * error), 1.0 + 12.0 / math.sqrt(dof))
    middle = min(1.0, 0.5 * most)
    halves = (0.0, middle), (middle, most)
    return sum(float(integrate.quad(part, *ends, epsabs=1e-11, epsrel=1e-10)[0]) for ends in halves)


def _width(error: Float, dof: Float, level: float) -> Float:
    """Half the interval's width of each."""
    from scipy import special

    endless = np.isinf(dof)
    by_t = special.stdtrit(np.where(endless, 1.0, dof), 1.0 - level)
    return np.asarray(np.where(endless, special.ndtri(1.0 - level), by_t) * error)
