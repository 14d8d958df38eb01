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


def ratio(values: FloatArray, weights: FloatArray) -> tuple[float, float, float]:
    """Sum of values over sum of weights, its standard error, and degrees of freedom.

    Neighbouring blocks may share samples: their covariance counts, where it adds. The degrees of freedom are those
    of the weights actually spread over the blocks (Satterthwaite).
    """
    total = float(weights.sum())
    count = int(np.count_nonzero(weights > 0.0))
    if total <= 0.0 or count < 3:
        return math.nan, math.nan, 0.0
    mean = float(values.sum()) / total
    left = values - mean * weights
    square = left * left
    spread = float(square.sum()) + max(0.0, 2.0 * float(left[1:] @ left[:-1]))
    error = math.sqrt(spread * count / (count - 1)) / total
    degrees = float(square.sum()) ** 2 / max(float(square @ square), 1e-300)
    # the plain count is the most there can be; heavy single blocks leave fewer
    return mean, error, max(2.0, min(count - 1.0, degrees * 1.5))


def _quiet_share(power: float, reference: FloatArray, noise: FloatArray) -> FloatArray:
    """Shares (b,) of blocks: less where noise (hard manoeuvres) hides a line of that power at the reference speed.

    Inverse variance of a block's power: the share depends on the noise beside the line, not on the line itself.
    """
    line = max(power, 1e-30) * reference
    variance = noise * noise + 2.0 * line * noise + 0.02 * line * line
    with np.errstate(divide="ignore", invalid="ignore"):
        share = reference * reference / variance
    return np.where((reference > 0.0) & np.isfinite(share), share, 0.0)


def weighed(energy: FloatArray, reference: FloatArray, noise: FloatArray) -> tuple[float, float, float]:
    """Mean square at the reference speed, its error and degrees of freedom, quiet blocks counting more."""
    good = reference > 0.0
    if int(good.sum()) < 5:
        return ratio(energy, reference)
    # a first guess that loud blocks cannot spoil: weights of the noise alone
    share = _quiet_share(0.0, reference, noise)
    for _ in range(2):
        power, error, _ = ratio(energy * share / _safe(reference), share)
        share = _quiet_share(max(power, error if math.isfinite(error) else 0.0), reference, noise)
    return ratio(energy * share / _safe(reference), share)


def _safe(reference: FloatArray) -> FloatArray:
    return np.where(reference > 0.0, reference, 1.0)


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
