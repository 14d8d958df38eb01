"""Cross spectra of one axis in narrow bands, from whole stretches with short tapered ends.

A long record is not cut into windows: each even stretch is tapered over its ends only (Tukey window) and
transformed whole. That keeps leakage from the strong slow commands away from the frequencies of interest and
loses almost none of the data. Sums over the bins of narrow bands are all that the estimators need.
Source of the estimator: Pintelon & Schoukens, *System Identification: A Frequency Domain Approach*,
Wiley-IEEE 2012 (from memory); the first-order correction for the taper's ends is derived in the docstring of
:func:`banded`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: The lowest frequency looked at, Hz; below it a pilot's trim and slow drifts rule.
LOWEST = 0.4
#: The highest, Hz; above it nothing of the rate loop of such an aircraft is left to see.
HIGHEST = 120.0
#: Bands in an octave where the record is long enough.
PER_OCTAVE = 24
#: Longer stretches are transformed in pieces of about so many seconds.
LONGEST = 130.0
#: Length of a tapered end, s.
TAPER = 1.0


@dataclass(frozen=True, eq=False)
class Stretch:
    """One even stretch of the signals of one axis.

    Attributes
    ----------
    command, drive, response
        (n,) commanded rate rad/s, achieved differential command 1, measured rate rad/s.
    slopes
        (k, n) slow factors by whose powers the drive's effect may vary, as logarithms about their mean.
    instrument
        (n,) what the drive is tested against where that is not the command (the stick), else ``None``.
    """

    rate: float
    command: Float
    drive: Float
    response: Float
    slopes: Float
    instrument: Float | None = None


@dataclass(frozen=True, eq=False)
class Banded:
    """Sums over the bins of each band. ``m = 1 + k``: the signal itself, then times each slow factor.

    Attributes
    ----------
    frequencies
        (nb,) Hz, mean of the bins weighted by the command's power.
    command_drive
        (nb, m, m) sums of conj(R_i) U_j.
    command_ends
        (nb, m) sums of conj(R_i) U', the drive under the derivative of the taper.
    command_response, command_command
        (nb, m) sums of conj(R_i) Y; (nb, m, m) sums of conj(R_i) R_j.
    drive_drive, drive_response, response_response
        (nb, m, m), (nb, m) sums of conj(U_i) U_j and conj(U_i) Y; (nb,) sums of abs(Y)**2.
    bins
        (nb,) independent bins in each band: bins times the taper's efficiency.
    seconds
        Of all stretches together.
    spread_of_slopes
        (k, k) covariance of the slow factors' logarithms over the whole flight.
    """

    frequencies: Float
    command_drive: Complex
    command_ends: Complex
    command_response: Complex
    command_command: Complex
    drive_drive: Complex
    drive_response: Complex
    response_response: Float
    bins: Float
    seconds: float
    spread_of_slopes: Float


def edges(rate: float, shortest: float) -> Float:
    """Band edges, Hz, from `LOWEST` to `HIGHEST` or 0.42 of the sampling rate.

    Parameters
    ----------
    rate
        Samples a second.
    shortest
        s, of the shortest stretch: no band is narrower than one bin of it.

    Returns
    -------
    Float
        (nb + 1,) Hz, rising.
    """
    top = min(HIGHEST, 0.42 * rate)
    width = max(2 ** (1 / PER_OCTAVE) - 1, 1e-3)
    made = [LOWEST]
    while made[-1] < top:
        made.append(made[-1] + max(made[-1] * width, 1.0 / shortest))
    return np.asarray(made)


def taper(samples: int, rate: float) -> tuple[Float, Float]:
    """Tukey window and its derivative, (samples,) each, 1 and 1/s; ends of `TAPER` s, at most an eighth."""
    ramp = max(2, int(min(TAPER, samples / rate / 8) * rate))
    window, slope = np.ones(samples), np.zeros(samples)
    phase = np.pi * (np.arange(ramp) + 0.5) / ramp
    window[:ramp] = 0.5 * (1 - np.cos(phase))
    slope[:ramp] = 0.5 * np.pi * rate / ramp * np.sin(phase)
    window[-ramp:], slope[-ramp:] = window[:ramp][::-1], -slope[:ramp][::-1]
    return window, slope


def banded(
    stretches: Sequence[Stretch],
    limits: Float,
    *,
    keep: Callable[[Float], npt.NDArray[np.bool_]] | None = None,
) -> Banded:
    """Sum the cross spectra of all stretches in bands.

    With ``y = p * u`` and a taper w, the transform of ``w y`` is ``P U_w + i dP/dw U_w'`` to first order,
    as ``w(t) = w(t - s) + s w'(t - s) + …`` under the convolution and ``s p(s)`` transforms to ``i dP/dw``;
    hence the sums with the drive under the taper's derivative.

    Parameters
    ----------
    stretches
        One or more, of one sampling rate and one number of slow factors.
    limits
        (nb + 1,) band edges, Hz.
    keep
        Says for frequencies (n,) in Hz where the command may be used; elsewhere it counts as nothing.

    Returns
    -------
    Banded
        Of the bands that hold a bin with some of the command; fewer than ``nb`` where a stretch is short, or
        lines are kept only.
    """
    total: list[Float | Complex] = []
    seconds = 0.0
    for stretch in _pieces(stretches):
        parts = _sums(stretch, limits, keep)
        total = parts if not total else [a + b for a, b in zip(total, parts, strict=True)]
        seconds += stretch.command.size / stretch.rate
    weighted, power, bins, *sums = total
    filled = (bins > 0) & (power > 0)
    centre = np.where(power > 0, weighted / np.where(power > 0, power, 1), np.sqrt(limits[1:] * limits[:-1]))
    kept = [np.ascontiguousarray(part[filled]) for part in sums]
    slopes = np.concatenate([stretch.slopes for stretch in stretches], axis=1)
    spread = np.atleast_2d(np.cov(slopes, bias=True)) if slopes.size else np.zeros((0, 0))
    complex_sums: list[Complex] = [part.astype(np.complex128, copy=False) for part in kept[:-1]]
    command_drive, command_ends, command_response, command_command, drive_drive, drive_response = complex_sums
    return Banded(
        frequencies=centre[filled].real,
        command_drive=command_drive,
        command_ends=command_ends,
        command_response=command_response,
        command_command=command_command,
        drive_drive=drive_drive,
        drive_response=drive_response,
        response_response=kept[-1].real,
        bins=bins[filled].real,
        seconds=seconds,
        spread_of_slopes=spread,
    )


def _pieces(stretches: Sequence[Stretch]) -> Iterator[Stretch]:
    """Stretches in pieces that are quick to transform; the tapers cost a hundredth of the data."""
    for stretch in stretches:
        n, longest = stretch.command.size, int(LONGEST * stretch.rate)
        count = max(1, round(n / longest)) if n > 1.5 * longest else 1
        for start, end in pairwise(np.linspace(0, n, count + 1).astype(int)):
            part = slice(int(start), int(end))
            response = stretch.response[part]
            yield Stretch(
                stretch.rate,
                stretch.command[part],
                response if stretch.drive is stretch.response else stretch.drive[part],
                response,
                stretch.slopes[:, part],
                None if stretch.instrument is None else stretch.instrument[part],
            )


def _sums(
    stretch: Stretch, limits: Float, keep: Callable[[Float], npt.NDArray[np.bool_]] | None
) -> list[Float | Complex]:
    import scipy.fft

    n = stretch.command.size
    window, slope = taper(n, stretch.rate)
    length = scipy.fft.next_fast_len(n, real=True)
    scaled = window / np.sqrt(np.sum(window**2))
    ends = slope / np.sqrt(np.sum(window**2))
    m = 1 + stretch.slopes.shape[0]
    drive = stretch.drive - stretch.drive.mean()
    command = stretch.command if stretch.instrument is None else stretch.instrument
    # single precision: its rounding lies 120 dB and more under what the signals hold
    alone = stretch.drive is stretch.response  # then one transform does for both
    rows = np.empty((2 * m + (1 if alone else 2), n), dtype=np.float32)
    np.multiply(command - command.mean(), scaled, out=rows[0], casting="same_kind")
    np.multiply(drive, scaled, out=rows[m], casting="same_kind")
    for place, factor in enumerate(stretch.slopes, 1):
        np.multiply(rows[0], factor, out=rows[place], casting="same_kind")
        np.multiply(rows[m], factor, out=rows[m + place], casting="same_kind")
    np.multiply(drive, ends, out=rows[2 * m], casting="same_kind")
    if not alone:
        np.multiply(stretch.response - stretch.response.mean(), scaled, out=rows[-1], casting="same_kind")
    frequency = np.asarray(np.arange(length // 2 + 1) * (stretch.rate / length), dtype=np.float64)
    first, last = np.searchsorted(frequency, [limits[0], limits[-1]])
    spectra = scipy.fft.rfft(rows, length, axis=1)[:, first:last].astype(np.complex128)
    frequency = frequency[first:last]
    if keep is not None:
        spectra[:m] *= keep(frequency)
    r, u, w, y = spectra[:m], spectra[m : 2 * m], spectra[2 * m], spectra[m if alone else -1]
    starts = np.searchsorted(frequency, limits[:-1])
    ends_of = np.searchsorted(frequency, limits[1:])

    is_empty = starts == ends_of
    inside = np.minimum(starts, frequency.size - 1)

    def per_band(products: npt.NDArray[np.complex128] | Float) -> npt.NDArray[np.complex128]:
        sums = np.add.reduceat(products, inside, axis=-1)
        return np.moveaxis(np.where(is_empty, 0, sums), -1, 0)

    power = np.abs(r[0]) ** 2
    efficiency = float(np.sum(window**2) ** 2 / (n * np.sum(window**4))) * n / length
    return [
        per_band(power * frequency).real,
        per_band(power).real,
        np.asarray((ends_of - starts) * efficiency, dtype=np.float64),
        per_band(np.conj(r)[:, None] * u[None]),
        per_band(np.conj(r) * w),
        per_band(np.conj(r) * y),
        per_band(np.conj(r)[:, None] * r[None]),
        per_band(np.conj(u)[:, None] * u[None]),
        per_band(np.conj(u) * y),
        per_band(np.abs(y) ** 2).real,
    ]
