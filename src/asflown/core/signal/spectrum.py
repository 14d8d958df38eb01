"""Averaged spectra of many channels at once: power, cross, coherence, frequency responses.

Source: P. D. Welch, IEEE Trans. Audio Electroacoustics AU-15(2), June 1967 (from memory; digits held against
scipy.signal). Spectra are one-sided; ``density`` is unit²/Hz and sums (times the bin width) to the mean
square, ``spectrum`` is unit² and shows a line on a bin as its mean square.

Segments may lie anywhere: :func:`segment_starts` places them inside runs of unbroken samples, so that no
window spans a gap. The arithmetic is done in the type of the samples (float32 is enough for a log), the sums
of blocks of segments in float64.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from asflown.core.signal.averages import effective_averages_at
from asflown.core.signal.windows import FloatArray, Window, window_weights
from asflown.errors import InputError

ComplexArray = npt.NDArray[np.complex128]
IndexArray = npt.NDArray[np.int64]
Channels = Sequence[npt.NDArray[np.floating]] | npt.NDArray[np.floating]

_SAMPLES_AT_A_TIME = 1 << 18  # of windowed segments: a megabyte in float32; measured the quickest


@dataclass(frozen=True, slots=True)
class Segmenting:
    """How a signal is cut.

    Attributes
    ----------
    length
        Samples of a segment; products of 2, 3 and 5 are quick.
    overlap
        Share of a segment shared with the next, from 0, below 1.
    window
        Name of the window.
    detrend
        Whether each segment's mean is taken off first.
    """

    length: int
    overlap: float = 0.5
    window: Window = Window.HANN
    detrend: bool = True

    def __post_init__(self) -> None:
        if self.length < 2 or not 0.0 <= self.overlap < 1.0:
            raise ValueError(f"two samples or more and an overlap below 1, got {self.length} {self.overlap}")

    @property
    def hop(self) -> int:
        """Samples from one segment to the next."""
        return max(1, self.length - round(self.length * self.overlap))

    @property
    def weights(self) -> FloatArray:
        """The window, ``(length,)``."""
        return window_weights(self.window, self.length)


def segment_starts(runs: Sequence[tuple[int, int]], cut: Segmenting) -> IndexArray:
    """First sample ``(k,)`` of each segment that fits into runs of samples ``[start, stop)``."""
    starts = [np.arange(start, stop - cut.length + 1, cut.hop) for start, stop in runs]
    return np.concatenate([np.zeros(0, dtype=np.int64), *starts]).astype(np.int64)


@dataclass(frozen=True, slots=True)
class PowerSpectra:
    """Averaged power spectra.

    Attributes
    ----------
    frequencies
        ``(nf,)`` Hz.
    power
        ``(channels, nf)``, unit²/Hz or unit².
    segments
        Number of segments averaged.
    averages
        How many independent ones they are worth.
    """

    frequencies: FloatArray
    power: FloatArray
    segments: int
    averages: float


@dataclass(frozen=True, slots=True)
class CrossSpectra:
    """Averaged power and cross spectra of inputs and outputs.

    Attributes
    ----------
    frequencies
        ``(nf,)`` Hz.
    input_power, output_power
        ``(inputs, nf)``, ``(outputs, nf)``.
    cross
        ``(outputs, inputs, nf)``: mean of conj(X) Y.
    segments, averages
        Number of segments, and how many independent ones they are worth.
    """

    frequencies: FloatArray
    input_power: FloatArray
    output_power: FloatArray
    cross: ComplexArray
    segments: int
    averages: float

    @property
    def coherence(self) -> FloatArray:
        """Squared coherence ``(outputs, inputs, nf)``, 0 to 1; NaN where a power is zero.

        Raises
        ------
        InputError
            From one segment: it would be one, whatever the signals.
        """
        if self.segments < 2:
            raise InputError(
                "coherence from one segment is 1 whatever the signals",
                next_step="log for longer, or cut into shorter segments",
            )
        power = self.output_power[:, None] * self.input_power
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray((self.cross.real**2 + self.cross.imag**2) / power)

    @property
    def response(self) -> ComplexArray:
        """H1 ``(outputs, inputs, nf)``: cross over input power; right when the noise is in the output."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(self.cross / self.input_power)

    @property
    def response_of_noisy_input(self) -> ComplexArray:
        """H2 ``(outputs, inputs, nf)``: output power over cross; right when the noise is in the input."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(self.output_power[:, None] / np.conj(self.cross))


Scaling = Literal["density", "spectrum"]


def power_spectra(
    channels: Channels,
    rate_hz: float,
    cut: Segmenting,
    starts: npt.ArrayLike | None = None,
    shares: npt.ArrayLike | None = None,
    scaling: Scaling = "density",
) -> PowerSpectra:
    """Power spectra of many channels.

    Parameters
    ----------
    channels
        ``(channels, n)``, or as many arrays ``(n,)``; float32 or float64.
    rate_hz
        Samples a second.
    cut
        How to cut.
    starts
        ``(k,)`` first sample of each segment; ``None``: as many as fit.
    shares
        ``(k,)`` weight of each segment in the average; ``None``: all alike.
    scaling
        ``density`` or ``spectrum``.

    Raises
    ------
    InputError
        When no segment fits.
    """
    plan = _Plan.of(channels, rate_hz, cut, starts, shares, scaling)
    power = np.zeros((len(channels), plan.scale.size))
    for row, values in enumerate(channels):
        for first, transforms in plan.transforms(values):
            power[row] += plan.mean_square(transforms, first)
    return PowerSpectra(plan.frequencies, power * plan.scale, plan.starts.size, plan.averages)


def cross_spectra(
    inputs: Channels,
    outputs: Channels,
    rate_hz: float,
    cut: Segmenting,
    starts: npt.ArrayLike | None = None,
    shares: npt.ArrayLike | None = None,
    scaling: Scaling = "density",
) -> CrossSpectra:
    """Power and cross spectra of every input with every output; parameters as of :func:`power_spectra`."""
    every = [*inputs, *outputs]
    plan = _Plan.of(every, rate_hz, cut, starts, shares, scaling)
    count = len(inputs)
    power = np.zeros((len(every), plan.scale.size))
    cross = np.zeros((len(outputs), count, plan.scale.size), dtype=np.complex128)
    for parts in zip(*(plan.transforms(values) for values in every), strict=True):
        first = parts[0][0]
        for row, (_, transforms) in enumerate(parts):
            power[row] += plan.mean_square(transforms, first)
        for i, (_, x) in enumerate(parts[:count]):
            weighted = plan.weighted(np.conj(x), first)
            for j, (_, y) in enumerate(parts[count:]):
                cross[j, i] += np.einsum("kf,kf->f", weighted, y)
    power *= plan.scale
    return CrossSpectra(
        plan.frequencies, power[:count], power[count:], cross * plan.scale, plan.starts.size, plan.averages
    )


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where the segments lie, what they weigh (summing to one), and the factor of each bin."""

    cut: Segmenting
    starts: IndexArray
    shares: FloatArray | None  # None: all alike, and in the scale
    weights: FloatArray
    frequencies: FloatArray
    scale: FloatArray
    averages: float

    @classmethod
    def of(
        cls,
        channels: Channels,
        rate_hz: float,
        cut: Segmenting,
        starts: npt.ArrayLike | None,
        shares: npt.ArrayLike | None,
        scaling: Scaling,
    ) -> _Plan:
        lengths = {len(values) for values in channels}
        if len(lengths) != 1:
            raise ValueError(f"channels are of one length, got {sorted(lengths)}")
        samples = lengths.pop()
        first = segment_starts([(0, samples)], cut) if starts is None else np.asarray(starts, dtype=np.int64)
        if first.size == 0:
            raise InputError(
                f"no stretch of {cut.length} unbroken samples, got {samples} in all",
                next_step="log for longer, or cut into shorter segments",
            )
        if first.min() < 0 or first.max() + cut.length > samples:
            raise ValueError(f"a segment of {cut.length} lies outside 0 to {samples}")
        weights = cut.weights
        share = None if shares is None else np.asarray(shares, dtype=np.float64)
        one_sided = np.full(cut.length // 2 + 1, 2.0)
        one_sided[0] = 1.0
        if cut.length % 2 == 0:
            one_sided[-1] = 1.0
        norm = rate_hz * (weights @ weights) if scaling == "density" else np.sum(weights) ** 2
        return cls(
            cut=cut,
            starts=first,
            shares=None if share is None else share / share.sum(),
            weights=weights,
            frequencies=np.arange(one_sided.size, dtype=np.float64) * (float(rate_hz) / cut.length),
            scale=one_sided / norm / (first.size if share is None else 1.0),
            averages=effective_averages_at(first, weights, share),
        )

    def transforms(
        self, values: npt.NDArray[np.floating]
    ) -> Iterator[tuple[int, npt.NDArray[np.complexfloating]]]:
        """Transforms ``(some, nf)`` of windowed segments, a few at a time, with the number of the first."""
        import scipy.fft

        samples = np.ascontiguousarray(values)
        if samples.dtype != np.float32:
            samples = samples.astype(np.float64, copy=False)
        windows = np.lib.stride_tricks.sliding_window_view(samples, self.cut.length)
        weights = self.weights.astype(samples.dtype)
        some = max(1, _SAMPLES_AT_A_TIME // self.cut.length)
        for first in range(0, self.starts.size, some):
            part = windows[self._rows(first, some)]
            if self.cut.detrend:
                part = part - part.mean(axis=1, keepdims=True)
                part *= weights
            else:
                part = part * weights
            yield first, scipy.fft.rfft(part, axis=1, overwrite_x=True)

    def _rows(self, first: int, some: int) -> slice | IndexArray:
        """Rows of the sliding view: a slice (no copy) where the segments are evenly spaced."""
        starts = self.starts[first : first + some]
        if starts.size > 1 and not np.all(np.diff(starts) == starts[1] - starts[0]):
            return starts
        step = int(starts[1] - starts[0]) if starts.size > 1 else 1
        return slice(int(starts[0]), int(starts[-1]) + 1, step) if step > 0 else starts

    def mean_square(
        self, transforms: npt.NDArray[np.complexfloating], first: int
    ) -> npt.NDArray[np.floating]:
        """Sum over segments of share · |X|², ``(nf,)``."""
        squares = transforms.real**2
        squares += transforms.imag**2
        if self.shares is None:
            return np.asarray(squares.sum(axis=0))
        return np.asarray(self.shares[first : first + len(squares)] @ squares)

    def weighted(
        self, transforms: npt.NDArray[np.complexfloating], first: int
    ) -> npt.NDArray[np.complexfloating]:
        """The transforms times their segments' shares."""
        if self.shares is None:
            return transforms
        return np.asarray(transforms * self.shares[first : first + len(transforms), None])
