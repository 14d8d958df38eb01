"""Rests of an accelerometer in several positions: where the aircraft lay still, and what it read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.calibrate.still import WINDOW, spans_of, still_rows
from asflown.core.signal.mean_error import means_of

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: m/s2: spread of a window that is still by the accelerometer alone: floor and ceiling (common practice, no
#: source), and how far its mean may lie from its neighbour's.
FLOOR, LOUDEST, MOVED = 0.05, 0.6, 0.3
TIMES_QUIETEST = 3.0
#: m/s2 between the first and the last third of a rest above which the aircraft was turning.
TURNING = 0.15
#: s of a rest that are used at most.
LONGEST = 120.0
#: m/s2: standard error of a mean that is good enough: 0.02 degrees (common practice, no source).
GOOD_MEAN = 0.0035


@dataclass(frozen=True, eq=False)
class Position:
    """One rest.

    Attributes
    ----------
    mean
        (3,) m/s2.
    noise
        (3,) variance of the mean times the seconds it was taken over, (m/s2)² s, with ``dof`` degrees of
        freedom; it allows for noise that remembers.
    start, seconds
        s.
    log
        Which log it is in, counted from 0.
    """

    mean: Float
    noise: Float
    dof: int
    start: float
    seconds: float
    log: int = 0


@dataclass(frozen=True, slots=True)
class Unused:
    """A rest that is not used, and why."""

    start: float
    seconds: float
    why: str
    log: int = 0


def positions_of(
    accel: Float, rates: Float | None, rate_hz: float, start: float = 0.0, log: int = 0
) -> tuple[tuple[Position, ...], tuple[Unused, ...]]:
    """Every rest of a log.

    Parameters
    ----------
    accel, rates
        (3, n) m/s2 and rad/s; without rates the accelerometer says by itself whether it is still.
    start
        s, of the first row.
    """
    rows = still_by_accel(accel, rate_hz) if rates is None else still_rows(rates, rate_hz)
    used: list[Position] = []
    unused: list[Unused] = []
    for span in spans_of(rows, rate_hz):
        first, last = round(span.start * rate_hz), round(min(span.end, span.start + LONGEST) * rate_hz)
        piece = accel[:, first:last]
        seconds = piece.shape[1] / rate_hz
        third = piece.shape[1] // 3
        moved = float(np.max(np.abs(piece[:, :third].mean(axis=1) - piece[:, -third:].mean(axis=1))))
        if not math.isfinite(moved) or piece.shape[1] < 8:
            unused.append(Unused(start + span.start, seconds, "values are missing in it", log))
        elif moved > TURNING:
            why = f"it was still turning: the reading moved by {moved:.2f} m/s2"
            unused.append(Unused(start + span.start, seconds, why, log))
        else:
            means = means_of(piece, seconds)
            noise = np.diagonal(means.covariance) * seconds
            used.append(Position(means.value, noise, means.dof, start + span.start, seconds, log))
    return tuple(used), tuple(unused)


def still_by_accel(accel: Float, rate_hz: float) -> Bool:
    """True (n,) where the accelerometer is quiet in a whole window and reads the same in both neighbours."""
    length = max(2, int(WINDOW * rate_hz))
    count = accel.shape[1] // length
    rows = np.zeros(accel.shape[1], dtype=bool)
    if count < 3:
        return rows
    windows = accel[:, : count * length].reshape(3, count, length)
    spread = np.sqrt(windows.var(axis=2).max(axis=0))
    finite = np.isfinite(spread)
    if not finite.any():
        return rows
    limit = min(max(TIMES_QUIETEST * float(np.percentile(spread[finite], 10)), FLOOR), LOUDEST)
    quiet = finite & (spread < limit)
    steps = np.abs(np.diff(windows.mean(axis=2), axis=1)).max(axis=0) < MOVED
    quiet[:-1] &= steps
    quiet[1:] &= steps
    rows[: count * length] = np.repeat(quiet, length)
    return rows


@dataclass(frozen=True, eq=False)
class Rests:
    """Positions taken together: the sensor's noise is the same in all of them.

    Attributes
    ----------
    means
        (k, 3) m/s2.
    variance
        (k, 3) of the means.
    dof
        Degrees of freedom of the noise.
    noise
        (3,) variance of a mean over one second, (m/s2)².
    """

    means: Float
    variance: Float
    dof: int
    noise: Float

    @property
    def seconds_wanted(self) -> float:
        """S of rest that bring a mean's standard error below `GOOD_MEAN`, 5 to 30 s."""
        return float(np.clip(np.max(self.noise) / GOOD_MEAN**2, 5.0, 30.0))


def together(positions: Sequence[Position]) -> Rests:
    """Pool the noise of positions, one or more.

    Notes
    -----
    One rest of 10 s has four degrees of freedom; k of them have 4 k.
    """
    dof = sum(one.dof for one in positions)
    noise = sum((one.noise * one.dof for one in positions), np.zeros(3)) / dof
    seconds = np.array([one.seconds for one in positions])
    return Rests(np.array([one.mean for one in positions]), noise / seconds[:, None], dof, noise)
