"""Ratio of sums over blocks of a flight, with the interval the scatter between blocks gives."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured

FloatArray = npt.NDArray[np.float64]

#: dB of a small relative change of power.
DB_OF_POWER = 10.0 / math.log(10.0)


def student(degrees: float, share: float = 0.95) -> float:
    """Two-sided quantile of Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(max(degrees, 1.0), 0.5 + 0.5 * share))


def ratios(values: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sums of values over sums of weights, their standard errors, and degrees of freedom.

    Neighbouring blocks may share samples: their covariance counts, where it adds. The degrees of freedom are those
    of the weights actually spread over the blocks.

    Parameters
    ----------
    values, weights
        (blocks, k).

    Returns
    -------
    tuple
        Three of (k,); not a number, and no degrees, where fewer than three blocks have weight.
    """
    total = weights.sum(axis=0)
    count = np.count_nonzero(weights > 0.0, axis=0)
    enough = (total > 0.0) & (count >= 3)
    whole = np.where(enough, total, 1.0)
    mean = values.sum(axis=0) / whole
    left = values - mean * weights
    square = left * left
    added = square.sum(axis=0)
    spread = added + np.maximum(0.0, 2.0 * (left[1:] * left[:-1]).sum(axis=0))
    error = np.sqrt(spread * count / np.maximum(count - 1, 1)) / whole
    effective = total * total / np.maximum((weights * weights).sum(axis=0), 1e-300)
    degrees = np.where(enough, np.clip(effective - 1.0, 2.0, np.maximum(count - 1.0, 2.0)), 0.0)
    return np.where(enough, mean, np.nan), np.where(enough, error, np.nan), degrees


def ratio(values: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    """As :func:`ratios`, of (blocks,)."""
    mean, error, degrees = ratios(values[:, None], weights[:, None])
    return float(mean[0]), float(error[0]), float(degrees[0])


def _quiet_share(power: FloatArray, reference: FloatArray, noise: FloatArray) -> FloatArray:
    """Shares (blocks, k): less where noise (hard manoeuvres) hides a line of that power at the reference speed.

    Inverse variance of a block's power: it depends on the noise beside the line, not on the line itself.
    """
    line = np.maximum(power, 1e-30) * reference
    variance = noise * noise + 2.0 * line * noise + 0.02 * line * line
    with np.errstate(divide="ignore", invalid="ignore"):
        share = reference * reference / variance
    return np.where((reference > 0.0) & np.isfinite(share), share, 0.0)


def weighed(
    energy: FloatArray, reference: FloatArray, noise: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean squares at the reference speed, errors and degrees of freedom, quiet blocks counting more.

    Parameters
    ----------
    energy, reference, noise
        (blocks, k): of the line; what a mean square of one would give; what noise alone gave.
    """
    each = energy / np.where(reference > 0.0, reference, 1.0)
    # a first guess that loud blocks cannot spoil: weights of the noise alone
    share = _quiet_share(np.zeros(energy.shape[1]), reference, noise)
    for _ in range(2):
        power, error, _ = ratios(each * share, share)
        guess = np.fmax(power, np.where(np.isfinite(error), error, 0.0))
        share = _quiet_share(np.nan_to_num(guess), reference, noise)
    return ratios(each * share, share)


def rms_of(
    power: float, error: float, degrees: float, unit: str, route: str, caveats: tuple[str, ...] = ()
) -> Measured:
    """Root of a power with its interval (t, on the logarithm); a reason where it does not stand out."""
    if not math.isfinite(power) or not math.isfinite(error):
        return unmeasured(
            "too few seconds of even log at these speeds; fly and log for 10 s or more", unit, route
        )
    reach = student(degrees) * error
    if power <= 0.0 or reach >= 2.0 * power:
        most = math.sqrt(max(power, 0.0) + reach)
        return unmeasured(
            f"no line stands out: below {most:.3g} {unit} rms (95 %); fly longer to find a weaker one",
            unit,
            route,
        )
    # on the logarithm of power: symmetric in dB
    half = 0.5 * reach / power
    value = math.sqrt(power)
    return Measured(value, value * math.exp(-half), value * math.exp(half), unit, route, None, caveats)
