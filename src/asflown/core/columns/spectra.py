"""How columns go with one another: correlation at lags, within 0.3 to 40 Hz, for all pairs at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.columns.sample import Sample
    from asflown.core.flight import FloatArray

    Complex = npt.NDArray[np.complex128]

LOWEST, HIGHEST = 0.3, 40.0
REACH, LAGS = 0.15, 121
_LAG = np.linspace(-REACH, REACH, LAGS)


@dataclass(frozen=True, eq=False)
class Together:
    """Cross spectra of the columns of a sample, and what follows from them.

    Attributes
    ----------
    cross
        (c, c, k) mean of conj(X_i) X_j.
    frequency
        (k,) Hz.
    noise
        (c,) share of the power above the band, of what a column has above 0.3 Hz.
    """

    cross: Complex
    frequency: FloatArray
    noise: FloatArray

    @cached_property
    def _turns(self) -> Complex:
        return np.asarray(np.exp(2j * math.pi * np.outer(_LAG, self.frequency)), dtype=np.complex128)

    def correlation(self, i: int, j: int, *, derivative: bool = False) -> tuple[float, float]:
        """The largest correlation of j with i (or with the derivative of i), and the lag of j behind, s.

        Returns
        -------
        tuple
            Correlation -1 to 1; lag, positive where j comes later.
        """
        lags = _LAG
        between = self.cross[i, j]
        power = float(np.sum(self.cross[i, i].real)), float(np.sum(self.cross[j, j].real))
        if derivative:
            turn = 2j * math.pi * self.frequency
            between = between * np.conj(turn)
            power = float(np.sum(self.cross[i, i].real * np.abs(turn) ** 2)), power[1]
        if min(power) <= 0:
            return 0.0, 0.0
        values = (self._turns @ between).real
        values = values / math.sqrt(power[0] * power[1])
        best = int(np.argmax(np.abs(values)))
        return float(values[best]), _refined(values, best, lags)

    def slope(self, i: int, j: int, *, derivative: bool = False) -> float:
        """How much of j goes with one of i (or its derivative) up to 2 Hz: the static factor between them."""
        slow = self.frequency <= max(2.0, float(self.frequency[0]) * 2)
        turn = 2j * math.pi * self.frequency[slow] if derivative else np.ones(int(slow.sum()))
        power = float(np.sum(self.cross[i, i].real[slow] * np.abs(turn) ** 2))
        between = self.cross[i, j][slow] * np.conj(turn)
        # The lag turns the phase a little; the magnitude of the sum is little disturbed by that.
        total = complex(np.sum(between))
        return math.copysign(abs(total), total.real) / power if power > 0 else 0.0


def _refined(values: FloatArray, best: int, lags: FloatArray) -> float:
    if not 0 < best < values.size - 1:
        return float(lags[best])
    before, here, after = np.abs(values[best - 1 : best + 2])
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(lags[best] + shift * (lags[1] - lags[0]))


def together(sample: Sample, step: float) -> Together | None:
    """Cross spectra of a sample; ``None`` where the rate is not known or the log too short."""
    length = sample.blocks.shape[1]
    if not math.isfinite(step) or step <= 0 or length < 64 or length * step < 1.0:
        return None
    values = sample.blocks - sample.blocks.mean(axis=1, keepdims=True)
    window = 0.5 - 0.5 * np.cos(2 * math.pi * np.arange(length) / length)
    spectra = np.fft.rfft(values * window[None, :, None], axis=1)
    frequency = np.fft.rfftfreq(length, step)
    lowest = max(LOWEST, 1.5 * float(frequency[1]))
    band = (frequency >= lowest) & (frequency <= min(HIGHEST, 0.4 / step))
    if np.count_nonzero(band) < 4:
        return None
    inside = spectra[:, band, :]
    whole = np.sum(np.abs(spectra[:, frequency >= lowest, :]) ** 2, axis=(0, 1))
    kept = np.sum(np.abs(inside) ** 2, axis=(0, 1))
    part = np.ascontiguousarray(np.moveaxis(inside, 1, 0))  # (k, b, c)
    cross = np.moveaxis(np.conj(np.swapaxes(part, 1, 2)) @ part, 0, 2)
    noise = np.asarray(1 - kept / np.maximum(whole, 1e-300), dtype=np.float64)
    return Together(cross, np.asarray(frequency[band], dtype=np.float64), noise)
