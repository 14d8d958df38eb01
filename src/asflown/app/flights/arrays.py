"""Arrays out of an even stretch, as the computing packages take them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.flight import EvenPart, Span

if TYPE_CHECKING:
    import numpy.typing as npt

#: The most motors looked for.
_MOST = 32


def stacked(part: EvenPart, family: str, members: Sequence[str] = ()) -> npt.NDArray[np.float64] | None:
    """(k, n): a counted family from 1 on, or these members of a family; ``None`` where one is missing."""
    names = [f"{family}.{member}" for member in members]
    if not members:
        names = []
        while len(names) < _MOST and f"{family}.{len(names) + 1}" in part.values:
            names.append(f"{family}.{len(names) + 1}")
    if not names or any(name not in part.values for name in names):
        return None
    return part.rows(names)


def members(part: EvenPart, family: str) -> dict[str, npt.NDArray[np.float64]]:
    """The members of a family that are there, by name."""
    return {
        name.partition(".")[2]: values
        for name, values in part.values.items()
        if name.partition(".")[0] == family
    }


def inside(part: EvenPart, spans: Sequence[Span]) -> npt.NDArray[np.bool_]:
    """(n,) true for samples within one of the spans."""
    rows = np.zeros(part.samples, dtype=bool)
    for span in spans:
        first = max(0, int(np.ceil((span.start - part.start) * part.rate)))
        last = min(part.samples, int(np.floor((span.end - part.start) * part.rate)) + 1)
        rows[first:last] = True
    return rows
