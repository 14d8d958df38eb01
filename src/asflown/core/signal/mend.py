"""A time that only goes forward, from stamps that repeat, go back or begin anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Span
from asflown.core.signal.stamps import TimeBase, examine

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray

#: Seconds put between two sessions whose time began anew.
BETWEEN_SESSIONS = 60.0


@dataclass(frozen=True, eq=False)
class Mended:
    """Time stamps as a flight can carry them.

    Attributes
    ----------
    time
        (k,) s, increasing: sessions one after the other; the object given where nothing was wrong.
    rows
        (k,) which rows of the log it belongs to; ``None``: all of them. Other columns are to be cut likewise.
    sessions
        Where each session lies in ``time``.
    base
        What :func:`~asflown.core.signal.stamps.examine` found.
    """

    time: FloatArray
    rows: npt.NDArray[np.int64] | None
    sessions: tuple[Span, ...]
    base: TimeBase


def mend(time: FloatArray, base: TimeBase | None = None) -> Mended:
    """Leave out rows whose stamp cannot be used and put sessions one after the other.

    Where no rate can be told, no row is kept. Times of rows that are kept change in two cases only: after a
    restart they go on ``BETWEEN_SESSIONS`` s after the session before, and rounded stamps are spread evenly.
    """
    base = examine(time) if base is None else base
    if base.rate <= 0:
        return Mended(np.zeros(0), np.zeros(0, dtype=np.int64), (), base)
    if base.bad is None and base.restarts == 0 and not base.rounded_to:
        return Mended(time, None, (Span(base.start, base.end + base.step),), base)
    good = np.ones(base.rows, dtype=bool) if base.bad is None else ~base.bad
    pieces: list[FloatArray] = []
    spans: list[Span] = []
    kept: list[npt.NDArray[np.int64]] = []
    for a, b in base.sessions:
        rows = np.flatnonzero(good[a:b]) + a
        if rows.size == 0:
            continue
        piece = np.array(time[rows])
        if base.rounded_to:
            piece = unrounded(piece, base)
        if spans and piece[0] <= spans[-1].end:
            piece += spans[-1].end + BETWEEN_SESSIONS - piece[0]
        pieces.append(piece)
        kept.append(rows)
        spans.append(Span(float(piece[0]), float(piece[-1]) + base.step))
    whole = np.concatenate(pieces)
    whole.setflags(write=False)
    index = np.concatenate(kept)
    return Mended(whole, None if index.size == base.rows else index, tuple(spans), base)


def unrounded(stamps: FloatArray, base: TimeBase) -> FloatArray:
    """Even times from rounded stamps of one session: the count of rows times the step.

    Parameters
    ----------
    stamps
        (n,) s, not decreasing.

    Returns
    -------
    (n,) s, increasing; within one ``rounded_to`` of the stamps.
    """
    jumps = np.flatnonzero(np.diff(stamps) > base.step + 1.05 * base.rounded_to) + 1
    result = np.empty(stamps.size)
    for a, b in zip([0, *jumps], [*jumps, stamps.size], strict=True):
        number = np.arange(b - a, dtype=np.float64)
        slope = base.step
        if b - a > 1000:
            centred = number - number.mean()
            slope = float(centred @ (stamps[a:b] - stamps[a]) / (centred @ centred))
        off = stamps[a:b] - slope * number
        # A stamp rounded down lies below its time and one rounded to the nearest around it: take the middle.
        result[a:b] = slope * number + (0.5 * (off.min() + off.max()) if b > a else 0.0)
    return np.maximum.accumulate(result)
