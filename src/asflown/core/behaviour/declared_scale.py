"""The scale between a declared controller's drive and the drive read from a log, and whether the two agree.

A release declares its gains per unit of its own drive; the drive that is read from motor commands has the
scale of whatever mixer it was read with. Command and rate as logged, passed through the declared responses,
must give the logged drive up to one number; how much of the drive they explain says whether the declaration
holds for this flight.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Responses = Callable[[Float], tuple[Complex, Complex]]

#: Hz between which drive and prediction are laid beside each other: below lies trim, above vibration.
BAND = (0.8, 25.0)
#: Share of a band's end over which it fades in and out.
FADE = 0.25
#: s of the windows, and of the tapers at a stretch's ends.
WINDOW = 2.0
#: Share of the windows that is judged: those that agree best. Share of their drive that a declaration must
#: explain to be taken. Common practice, no source.
KEPT, LEAST_EXPLAINED = 0.5, 0.97


@dataclass(frozen=True, slots=True)
class DriveScale:
    """What was found.

    Attributes
    ----------
    scale
        The logged drive over the declared one.
    explained
        Share of the logged drive's power in :data:`BAND` that the declaration explains, 0 to 1, over the
        better half of the windows.
    """

    scale: float
    explained: float

    @property
    def holds(self) -> bool:
        """Whether the declared controller may be taken for the one that flew."""
        return self.explained >= LEAST_EXPLAINED and self.scale > 0


def drive_scale(
    stretches: Sequence[tuple[Float, Float, Float]], rate_hz: float, responses: Responses
) -> DriveScale | None:
    """Lay the declared drive beside the logged one.

    Parameters
    ----------
    stretches
        (drive, command, rate), each (n,): the logged drive in any scale, commanded and measured rate, rad/s.
    responses
        Of the drive for the command, and for the rate taken away, at frequencies in Hz.

    Returns
    -------
    DriveScale
        ``None`` where no stretch holds a window.
    """
    length = round(WINDOW * rate_hz)
    rows = [
        row
        for one in stretches
        if one[0].size >= length
        for row in _compared(one, rate_hz, responses, length)
    ]
    return _robust(np.asarray(rows).reshape(-1, 3))


def _compared(
    signals: tuple[Float, Float, Float], rate_hz: float, responses: Responses, length: int
) -> Float:
    """(windows, 3): product, and power of logged and of declared drive, in half-overlapping windows.

    The declared drive is made of the whole stretch: in windows, what a controller's memory brings along from
    before would be missing.
    """
    import scipy.fft

    n = signals[0].size
    ramp = min(length, n // 4)
    taper = np.ones(n)
    taper[:ramp] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    taper[n - ramp :] = taper[:ramp][::-1]
    size = scipy.fft.next_fast_len(n + length, real=True)
    frequencies = np.asarray(np.arange(size // 2 + 1) * (rate_hz / size), dtype=np.float64)
    share = _share(frequencies, min(BAND[1], 0.4 * rate_hz))
    used = np.flatnonzero(share)
    drive, wanted, answer = (scipy.fft.rfft(taper * (one - one.mean()), size) for one in signals)
    command, rate = responses(frequencies[used])
    declared = np.zeros_like(drive)
    declared[used] = share[used] * (command * wanted[used] - rate * answer[used])
    measured, made = (scipy.fft.irfft(part, size)[:n] for part in (drive * share, declared))
    sums = np.cumsum(np.stack([made * measured, measured**2, made**2]), axis=1)
    starts = np.arange(0, n - length + 1, length // 2)
    return np.asarray((sums[:, starts + length - 1] - sums[:, starts]).T)


def _share(frequencies: Float, top: float) -> Float:
    """1 inside the band, cosine ends, 0 outside."""
    low = np.clip((frequencies / BAND[0] - 1 + FADE) / FADE, 0.0, 1.0)
    high = np.clip((1 - frequencies / top) / FADE, 0.0, 1.0)
    return np.asarray(np.sin(0.5 * np.pi * low) ** 2 * np.sin(0.5 * np.pi * high) ** 2)


def _robust(windows: Float) -> DriveScale | None:
    """Scale and share over the windows that agree best: motors at their ends cut the drive in the others."""
    windows = windows[(windows[:, 1] > 0.0) & (windows[:, 2] > 0.0)]
    if windows.shape[0] == 0:
        return None
    alike = windows[:, 0] * np.abs(windows[:, 0]) / (windows[:, 1] * windows[:, 2])
    kept = windows[np.argsort(-alike)[: max(1, round(KEPT * windows.shape[0]))]]
    cross, measured, predicted = (float(total) for total in kept.sum(axis=0))
    return DriveScale(cross / predicted, max(0.0, cross) ** 2 / (measured * predicted))
