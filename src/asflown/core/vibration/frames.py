"""Power of short windowed frames: one pass of short transforms that spectra, maps and tracking read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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
    """

    power: Float32
    frequency: FloatArray
    length: int
    hop: int
    rate_hz: float

    @property
    def middle(self) -> npt.NDArray[np.int64]:
        """(frames,) sample in the middle of each."""
        return np.arange(self.power.shape[1]) * self.hop + self.length // 2


def good_length(seconds: float, rate_hz: float) -> int:
    """An even number of samples near ``seconds`` that transforms quickly."""
    from scipy.fft import next_fast_len

    return 2 * int(next_fast_len(max(8, round(0.5 * seconds * rate_hz)), real=True))


def frames_of(values: list[npt.NDArray[np.floating]], rate_hz: float, length: int, hop: int) -> Frames:
    """Hann-weighted frames of signals (n,) of one length, each frame's mean taken off first."""
    from scipy.fft import rfft

    window = (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(length) / length)).astype(np.float32)
    count = max(0, (values[0].size - length) // hop + 1)
    scale = np.full(length // 2 + 1, 2.0 / (rate_hz * float(window @ window)), dtype=np.float32)
    scale[0] *= 0.5
    if length % 2 == 0:
        scale[-1] *= 0.5
    power = np.empty((len(values), count, length // 2 + 1), dtype=np.float32)
    some = max(1, (1 << 17) // length)
    for row, signal in enumerate(values):
        steady = np.asarray(signal, dtype=np.float32)
        view = np.lib.stride_tricks.sliding_window_view(steady, length)[::hop]
        for first in range(0, count, some):
            part = view[first : first + some]
            part = (part - part.mean(axis=1, keepdims=True)) * window
            found = rfft(part, axis=1, overwrite_x=True)
            square = found.real**2
            square += found.imag**2
            square *= scale
            power[row, first : first + some] = square
    return Frames(power, np.arange(length // 2 + 1) * (rate_hz / length), length, hop, rate_hz)
