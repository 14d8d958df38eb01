"""Power of short windowed frames: one pass of short transforms that spectra, maps and tracking read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.signal.windows import Window, window_weights

FloatArray = npt.NDArray[np.float64]
Float32 = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Frames:
    """Power density of frames.

    Attributes
    ----------
    power
        (channels, frames, nf) unit²/Hz, one-sided, float32.
    frequency
        (nf,) Hz.
    length, hop
        Samples of a frame, and from one to the next.
    each
        Frames of each stretch.
    """

    power: Float32
    frequency: FloatArray
    length: int
    hop: int
    rate_hz: float
    each: int

    @property
    def middle(self) -> npt.NDArray[np.int64]:
        """(each,) sample of a stretch in the middle of each of its frames."""
        return np.arange(self.each) * self.hop + self.length // 2


def good_length(seconds: float, rate_hz: float) -> int:
    """An even number of samples near ``seconds`` that transforms quickly."""
    from scipy.fft import next_fast_len

    return 2 * int(next_fast_len(max(8, round(0.5 * seconds * rate_hz)), real=True))


def frames_of(values: npt.NDArray[np.floating], rate_hz: float, length: int, hop: int) -> Frames:
    """Hann-weighted frames of signals, each frame's mean taken off first.

    Parameters
    ----------
    values
        (stretches, channels, n); no frame reaches from one stretch into the next.
    """
    from scipy.fft import rfft

    window = window_weights(Window.HANN, length).astype(np.float32)
    stretches, channels, samples = values.shape
    count = max(0, (samples - length) // hop + 1)
    scale = np.full(length // 2 + 1, 2.0 / (rate_hz * float(window @ window)), dtype=np.float32)
    scale[0] *= 0.5
    if length % 2 == 0:
        scale[-1] *= 0.5
    power = np.empty((channels, stretches * count, length // 2 + 1), dtype=np.float32)
    some = max(1, (1 << 17) // length)
    for stretch, row in np.ndindex(stretches, channels):
        steady = np.asarray(values[stretch, row], dtype=np.float32)
        view = np.lib.stride_tricks.sliding_window_view(steady, length)[::hop]
        for first in range(0, count, some):
            part = view[first : first + some]
            part = part - part.mean(axis=1, keepdims=True)
            part *= window
            found = rfft(part, axis=1, overwrite_x=True)
            square = np.square(found.real)
            square += np.square(found.imag)
            square *= scale
            start = stretch * count + first
            power[row, start : start + len(part)] = square
    frequency = np.arange(length // 2 + 1, dtype=np.float64) * (rate_hz / length)
    return Frames(power, frequency, length, hop, rate_hz, count)
