"""What a log says about a controller, as spectra of windows: its output, both inputs, integrals, slopes.

Integral and derivative are made in time, before windowing: then a window's ends, and whatever an integrator
brings along from before, touch the lowest bins alone, which are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.from_log.windows import Rows, Windows, windows_of

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Largest share of folded noise in the measured rate.
WORST_SHARE = 0.01
#: Command, rad/s rms, from which on it moved.
MOVED = 2e-3
#: Share of the time that half-overlapped Hann windows and their bins are worth (Welch 1967, from memory).
WORTH = 1.0 / (1.06 * 1.5)


@dataclass(frozen=True, eq=False)
class Spectra:
    """Windows of a log as spectra.

    Attributes
    ----------
    stretches
        As they came.
    windows
        Where they lie; their bands, of which ``kept`` are used.
    values
        (w, nf, 13) spectra of `family.SIGNALS`, and of its six inputs with the window's derivative.
    commanded
        Whether the command moved.
    folded
        Power, in a bin of a window, of what may have folded into the measured rate.
    kept
        (b,) bands that are used.
    """

    stretches: tuple[Rows, ...]
    windows: Windows
    values: Complex
    commanded: bool
    folded: float
    kept: Bool

    @property
    def frequencies(self) -> Float:
        """(k,) Hz, centres of the bands that are used."""
        return self.windows.frequencies[self.kept]

    @property
    def bins(self) -> Float:
        """(k,) bins of each."""
        return self.windows.bins[self.kept]

    @property
    def count(self) -> int:
        """Windows."""
        return len(self.windows.places)

    @property
    def worth(self) -> Float:
        """(k,) independent complex values in each band."""
        return np.asarray(np.maximum(1.0, self.bins * self.count * WORTH))

    @cached_property
    def total(self) -> Complex:
        """(k, 13, 13) sums of ``v conj(v)`` over windows and bins."""
        by_bin = self.values.transpose(1, 2, 0) @ self.values.transpose(1, 0, 2).conj()
        return np.asarray(self.windows.summed(by_bin, 0)[self.kept])

    @cached_property
    def share(self) -> Float:
        """(k,) largest share of the measured rate's power that has folded into it."""
        power = self.total[:, 1, 1].real
        return np.asarray(self.folded * self.bins * self.count / np.maximum(power, 1e-300))

    def crossed(self, errors: Complex) -> tuple[Complex, Float]:
        """Sums over the bins of ``v conj(e)``, (w, k, 7), and of ``|e|^2``, (w, k); errors (w, nf)."""
        across = self.windows.summed(self.values[..., :7] * errors.conj()[..., None], 1)[:, self.kept]
        power = self.windows.summed(np.abs(errors) ** 2, 1)[:, self.kept]
        return np.asarray(across), np.asarray(power)

    def only(self, bands: Bool) -> Spectra:
        """Only some of the bands that are used, (k,)."""
        kept = self.kept.copy()
        kept[self.kept] = bands
        return replace(self, kept=kept)

    def without(self, left_out: Bool) -> Spectra:
        """Without some windows, (w,)."""
        stay = np.flatnonzero(~left_out)
        places = tuple(self.windows.places[i] for i in stay)
        return replace(self, windows=replace(self.windows, places=places), values=self.values[stay])

    def errors(self, coefficients: Complex, frequencies: Float) -> Complex:
        """(w, nf) what a controller leaves over of the output, the filters run over the whole log.

        Parameters
        ----------
        coefficients
            (nk, 7) as `family.coefficients` at ``frequencies``, Hz; smooth between them.
        """
        import scipy.fft

        made = []
        for one, (size, at, spectra) in zip(self.stretches, self._whole, strict=True):
            weights = _between(coefficients[:, 1:], frequencies, at)
            left = scipy.fft.irfft(np.sum(weights * spectra, axis=0), size)[: one.output.size]
            made.append(one.output + left)
        return self.windows.spectra(made)

    @cached_property
    def _whole(self) -> tuple[tuple[int, Float, Complex], ...]:
        """Of every stretch: length of the transform, frequencies (nf,), spectra of the inputs (6, nf)."""
        import scipy.fft

        made = []
        for one in self.stretches:
            size = scipy.fft.next_fast_len(one.output.size, real=True)
            at = np.asarray(np.arange(size // 2 + 1) * (one.rate / size), dtype=np.float64)
            spectra = scipy.fft.rfft(_level(_inputs(one)), size, axis=1)
            _to_true(spectra, one.rate, at)
            made.append((size, at, spectra))
        return tuple(made)


def spectra_of(stretches: Sequence[Rows], *, loop_rate: float | None = None) -> Spectra | None:
    """Spectra of every window in which nothing stood at its end.

    Parameters
    ----------
    stretches
        Of one sampling rate.
    loop_rate
        Hz; where the log holds every step of the loop nothing can fold.

    Returns
    -------
    Spectra
        ``None`` where too little fits into windows, or the measured rate is noise alone.
    """
    windows = windows_of(stretches)
    if windows is None:
        return None
    inputs = [_inputs(one) for one in stretches]
    rows = [windows.spectra([one.output for one in stretches])]
    for slope in (False, True):
        rows += [windows.spectra([one[k] for one in inputs], slope=slope) for k in range(6)]
    values = np.stack(rows, axis=-1)
    f = np.asarray((windows.first + np.arange(values.shape[1])) * (windows.rate / windows.length), np.float64)
    for first in (1, 7):
        _to_true(values[..., first : first + 6].transpose(2, 0, 1), windows.rate, f)
    whole = loop_rate is not None and abs(loop_rate / windows.rate - 1) < 0.02
    folded = 0.0 if whole else _floor(stretches, windows)
    power = np.sum(np.abs(values[..., 1]) ** 2, axis=0)
    share = folded * windows.bins * len(windows.places) / np.maximum(windows.summed(power, 0).real, 1e-300)
    kept = np.asarray(share < WORST_SHARE)
    if np.count_nonzero(kept) < 8:
        return None
    return Spectra(tuple(stretches), windows, values, _moved(stretches), folded, kept)


def _moved(stretches: Sequence[Rows]) -> bool:
    if any(one.command is None for one in stretches):
        return False
    return max(float(np.std(one.command)) for one in stretches if one.command is not None) > MOVED


def _inputs(one: Rows) -> Float:
    """(6, n): measured rate, its sums by trapezoids, its differences; the same of the command."""
    rows = []
    for values in (one.response, np.zeros(one.output.size) if one.command is None else one.command):
        earlier = np.concatenate([values[:1], values[:-1]])
        rows += [values, np.cumsum(0.5 * (values + earlier)) / one.rate, (values - earlier) * one.rate]
    return np.stack(rows)


def _level(rows: Float) -> Float:
    """Rows without mean and slope."""
    ramp = np.linspace(-1.0, 1.0, rows.shape[1])
    rows = rows - rows.mean(axis=1, keepdims=True)
    return np.asarray(rows - (rows @ ramp / (ramp @ ramp))[:, None] * ramp)


def _to_true(spectra: Complex, rate: float, frequencies: Float) -> None:
    """Turn sums and differences of rows, (6, ..., nf), into the true integral and derivative, in place."""
    half = np.clip(np.pi * frequencies / rate, 1e-9, 0.49 * np.pi)
    for k in (1, 4):
        spectra[k] *= np.tan(half) / half
    for k in (2, 5):
        spectra[k] *= 2j * half / (1 - np.exp(-2j * half))


def _between(coefficients: Complex, frequencies: Float, at: Float) -> Complex:
    """(6, nf) coefficients at other frequencies, straight between and constant beyond."""
    real = [np.interp(at, frequencies, row.real) for row in coefficients.T]
    imaginary = [np.interp(at, frequencies, row.imag, left=0.0) for row in coefficients.T]
    return np.stack(real) + 1j * np.stack(imaginary)


def _floor(stretches: Sequence[Rows], windows: Windows) -> float:
    """Power in a bin of what has folded into the rate: the quietest part of the highest third."""
    taper = np.hanning(windows.length + 1)[:-1]
    cut = np.stack([stretches[i].response[s : s + windows.length] for i, s in windows.places])
    power = np.mean(np.abs(np.fft.rfft(cut * taper, axis=1)) ** 2, axis=0)
    at = np.arange(power.size) / windows.length
    return float(np.percentile(power[(at > 0.3) & (at < 0.45)], 25))
