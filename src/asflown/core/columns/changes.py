"""A column of words or codes as a list of changes."""

from __future__ import annotations

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
    words = np.asarray(column.words, dtype=object)
    words = words if kept is None else words[kept]
    filled = np.flatnonzero(words != "")
    if filled.size == 0:
        return Labels(name, time[:0], ())
    there = words[filled]
    rows = filled[np.concatenate(([True], there[1:] != there[:-1]))]
    return Labels(name, time[rows], tuple(str(words[row]) for row in rows))


def _number_changes(numbers: npt.NDArray[np.floating]) -> npt.NDArray[np.int64]:
    filled = np.flatnonzero(np.isfinite(numbers))
    if filled.size == 0:
        return filled
    there = numbers[filled]
    return filled[np.concatenate(([True], there[1:] != there[:-1]))]
