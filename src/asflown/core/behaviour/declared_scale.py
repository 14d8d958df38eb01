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
#: s of the windows.
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
    frequencies = np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), dtype=np.float64)
    used = np.flatnonzero((frequencies >= BAND[0]) & (frequencies <= min(BAND[1], 0.4 * rate_hz)))
    if used.size == 0:
        return None
    command, rate = responses(frequencies[used])
    rows = []
    for drive, wanted, answer in stretches:
        for u, r, y in _windows((drive, wanted, answer), length):
            made = command * r[used] - rate * y[used]
            rows.append(
                [float(np.vdot(a, b).real) for a, b in ((made, u[used]), (u[used], u[used]), (made, made))]
            )
    return _robust(np.asarray(rows).reshape(-1, 3))


def _robust(windows: Float) -> DriveScale | None:
    """Scale and share over the windows that agree best: motors at their ends cut the drive in the others."""
    windows = windows[(windows[:, 1] > 0.0) & (windows[:, 2] > 0.0)]
    if windows.shape[0] == 0:
        return None
    alike = windows[:, 0] * np.abs(windows[:, 0]) / (windows[:, 1] * windows[:, 2])
    kept = windows[np.argsort(-alike)[: max(1, round(KEPT * windows.shape[0]))]]
    cross, measured, predicted = (float(total) for total in kept.sum(axis=0))
    return DriveScale(cross / predicted, max(0.0, cross) ** 2 / (measured * predicted))


def _windows(signals: tuple[Float, Float, Float], length: int) -> list[tuple[Complex, Complex, Complex]]:
    """Spectra of half-overlapping Hann windows of the three signals together."""
    window = np.hanning(length + 1)[:-1]
    made = []
    for start in range(0, signals[0].size - length + 1, length // 2):
        parts = (one[start : start + length] for one in signals)
        first, second, third = (np.fft.rfft(window * (part - part.mean())) for part in parts)
        made.append((first, second, third))
    return made
