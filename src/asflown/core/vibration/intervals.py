"""Ratio of sums over blocks of a flight, with the interval the scatter between blocks gives."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import student

FloatArray = npt.NDArray[np.float64]

#: By how much the error of a sum that was chosen because it scatters least is widened (choosing makes the
#: scatter look smaller than it is; set on seeds 3001 to 3060 of the population, counted on others).
CHOSEN = 1.15
#: The least relative error of a power.
_LEAST = 0.02
#: dB of a small relative change of power.
DB_OF_POWER = 10.0 / math.log(10.0)


@dataclass(frozen=True, eq=False)
class Means:
    """Means over blocks of a flight, k of them.

    Attributes
    ----------
    mean
        (k,); not a number where fewer than three blocks have weight.
    influence
        (blocks, k): what each block moves its mean by. Means of the same blocks add up with their influences.
    degrees
        (k,) degrees of freedom: of the weights actually spread over the blocks.
    """

    mean: FloatArray
    influence: FloatArray
    degrees: FloatArray

    @property
    def error(self) -> FloatArray:
        """Standard errors (k,). Neighbouring blocks share samples: their covariance counts, where it adds."""
        part = self.influence
        spread = (part * part).sum(axis=0) + np.maximum(0.0, 2.0 * (part[1:] * part[:-1]).sum(axis=0))
        return np.asarray(np.where(np.isfinite(self.mean), np.sqrt(spread), np.nan))

    def at(self, column: int) -> tuple[float, float, float]:
        """Mean, error and degrees of freedom of one."""
        return float(self.mean[column]), float(self.error[column]), float(self.degrees[column])


def ratios(values: FloatArray, weights: FloatArray) -> Means:
    """Sums of values over sums of weights, (blocks, k) both."""
    total = weights.sum(axis=0)
    count = np.count_nonzero(weights > 0.0, axis=0)
    enough = (total > 0.0) & (count >= 3)
    whole = np.where(enough, total, 1.0)
    mean = values.sum(axis=0) / whole
    influence = (values - mean * weights) * (np.sqrt(count / np.maximum(count - 1, 1)) / whole)
    effective = total * total / np.maximum((weights * weights).sum(axis=0), 1e-300)
    degrees = np.where(enough, np.clip(effective - 1.0, 2.0, np.maximum(count - 1.0, 2.0)), 0.0)
    return Means(np.where(enough, mean, np.nan), influence, degrees)


def ratio(values: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    """Mean, error and degrees of freedom as of :func:`ratios`, of (blocks,)."""
    return ratios(values[:, None], weights[:, None]).at(0)


def _quiet_share(power: FloatArray, reference: FloatArray, noise: FloatArray) -> FloatArray:
    """Shares (blocks, k): less where noise (hard manoeuvres) hides a line of that power.

    Inverse variance of a block's power: it depends on the noise beside the line, not on the line itself.
    """
    line = np.maximum(power, 1e-30) * reference
    variance = noise * noise + 2.0 * line * noise + 0.02 * line * line
    with np.errstate(divide="ignore", invalid="ignore"):
        share = reference * reference / variance
    return np.where((reference > 0.0) & np.isfinite(share), share, 0.0)


def _shared(noise: FloatArray) -> FloatArray:
    """Noise (blocks, k) as the product of a course in time that all columns share and each column's median.

    A column's own noise in a block would weigh up the blocks where it was guessed too low by chance.
    """
    usual = np.median(noise, axis=0)
    usual = np.where(usual > 0.0, usual, np.maximum(noise.max(axis=0, initial=0.0), 1e-30))
    course = (noise / usual).mean(axis=1)
    padded = np.pad(course, 1, mode="edge")
    course = 0.25 * padded[:-2] + 0.5 * course + 0.25 * padded[2:]
    return np.asarray(np.maximum(course, 1e-12)[:, None] * usual)


def weighed(energy: FloatArray, reference: FloatArray, noise: FloatArray) -> Means:
    """Mean squares at the reference speed, quiet blocks counting more.

    Parameters
    ----------
    energy, reference, noise
        (blocks, k): of the line; what a mean square of one would give; what noise alone gave.
    """
    each = energy / np.where(reference > 0.0, reference, 1.0)
    noise = _shared(noise)
    # a first guess that loud blocks cannot spoil: weights of the noise alone
    share = _quiet_share(np.zeros(energy.shape[1]), reference, noise)
    for _ in range(2):
        found = ratios(each * share, share)
        guess = np.fmax(found.mean, found.error)
        share = _quiet_share(np.nan_to_num(guess), reference, noise)
    return ratios(each * share, share)


def rms_of(power: float, error: float, degrees: float, unit: str, route: str, wider: float = 1.0) -> Measured:
    """Root of a power with its interval (t, on the power), or the reason that it does not stand out.

    The error is taken ``wider`` times as large, and 2 % of the power at least.
    """
    if not math.isfinite(power) or not math.isfinite(error):
        return unmeasured(
            "too few seconds of even log at these speeds; fly and log for 10 s or more", unit, route
        )
    reach = student(degrees) * math.hypot(wider * error, _LEAST * power)
    if power <= reach:
        most = math.sqrt(max(power, 0.0) + reach)
        return unmeasured(
            f"no line stands out: below {most:.3g} {unit} rms (95 %); fly longer to find a weaker one",
            unit,
            route,
        )
    return Measured(math.sqrt(power), math.sqrt(power - reach), math.sqrt(power + reach), unit, route)
