"""A column of words or codes as a list of changes."""

from __future__ import annotations

from itertools import compress, islice
from operator import ne
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import Labels

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import FloatArray
    from asflown.core.log_table import Column


def label_changes(name: str, time: FloatArray, column: Column, kept: npt.NDArray[np.bool_] | None) -> Labels:
    """The first word and every change of it; rows without a word continue the one before."""
    if column.numbers is not None:
        numbers = column.numbers if kept is None else column.numbers[kept]
        rows = _number_changes(numbers)
        return Labels(name, time[rows], tuple(f"{float(numbers[row]):g}" for row in rows))
    words = column.words if kept is None else tuple(compress(column.words, kept))
    # Without a Python loop over the rows: a log has millions.
    starts = [0, *compress(range(1, len(words)), map(ne, words, islice(words, 1, None)))]
    changes: list[int] = []
    for row in starts if words else ():
        if words[row] and (not changes or words[row] != words[changes[-1]]):
            changes.append(row)
    return Labels(name, time[changes], tuple(words[row] for row in changes))


def _number_changes(numbers: npt.NDArray[np.floating]) -> npt.NDArray[np.int64]:
    filled = np.flatnonzero(np.isfinite(numbers))
    if filled.size == 0:
        return filled
    there = numbers[filled]
    return filled[np.concatenate(([True], there[1:] != there[:-1]))]
