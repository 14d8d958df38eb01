"""Which pairs are looked at closely: of every old name the likeliest new ones, and the reverse."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from asflown.core.carry.matching.tables import Tables, blocks

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from asflown.core.carry.matching.tables import Floats, Places

#: New names looked at for an old one: among the free ones, and among those an identical old name has.
FREE, TAKEN = 20, 4
#: Old names looked at for a free new one.
BACK = 6


@dataclass(frozen=True)
class Candidates:
    """Pairs to look at closely, with how far each stands out by first likeness.

    Attributes
    ----------
    old, new
        Positions in the old and the new catalog, shape (pairs,).
    taken
        Whether an old parameter of the same name has the new one already.
    margin_old, margin_new
        First likeness less that of the best rival for the same old / new name.
    text_old, text_new
        The same for the cosine of descriptions.
    likeness, text
        First likeness; cosine of descriptions.
    """

    old: Places
    new: Places
    taken: NDArray[np.bool_]
    likeness: Floats
    text: Floats
    margin_old: Floats
    margin_new: Floats
    text_old: Floats
    text_new: Floats

    def __len__(self) -> int:
        return len(self.old)

    def only(self, places: Places) -> Candidates:
        """Some of the pairs."""
        return Candidates(*(getattr(self, field.name)[places] for field in fields(self)))


def choose(tables: Tables, lost: Places, free: Places, taken: Places) -> Candidates:
    """Choose pairs of ``lost`` old names with ``free`` and ``taken`` new ones (positions)."""
    import numpy as np

    columns = np.concatenate([free, taken])
    back = _Back(len(free))
    found: list[tuple[Places, Places, Floats, Floats]] = []
    rows_best = np.full((2, 2, len(lost)), -np.inf, np.float32)
    for places, likeness, text in blocks(tables, lost, columns):
        n = len(free)
        back.add(places, likeness[:, :n], text[:, :n])
        for which, table in enumerate((likeness[:, :n], text[:, :n])):
            rows_best[which][:, places] = _two_best(table)
        keep = np.zeros(likeness.shape, bool)
        _mark(keep[:, :n], likeness[:, :n], FREE)
        _mark(keep[:, n:], likeness[:, n:], TAKEN)
        i, j = np.nonzero(keep)
        found.append((places[i], j, likeness[i, j], text[i, j]))
    found.append(back.pairs())
    rows, places_new, likeness, text = (np.concatenate(part) for part in zip(*found, strict=True))
    _, first = np.unique(rows * len(columns) + places_new, return_index=True)
    rows, places_new, likeness, text = rows[first], places_new[first], likeness[first], text[first]
    return Candidates(
        old=lost[rows],
        new=columns[places_new],
        taken=places_new >= len(free),
        likeness=likeness,
        text=text,
        margin_old=_margin(likeness, rows_best[0][:, rows]),
        margin_new=_margin(likeness, back.best(0, places_new)),
        text_old=_margin(text, rows_best[1][:, rows]),
        text_new=_margin(text, back.best(1, places_new)),
    )


def _mark(keep: NDArray[np.bool_], table: Floats, most: int) -> None:
    import numpy as np

    most = min(most, table.shape[1])
    if most:
        np.put_along_axis(keep, np.argpartition(-table, most - 1, axis=1)[:, :most], True, axis=1)


def _two_best(table: Floats, axis: int = 1) -> Floats:
    """The largest and second largest along an axis, -inf where there is none; shape (2, rest)."""
    import numpy as np

    if not table.size:
        return np.full((2, table.shape[1 - axis]), -np.inf, np.float32)
    at = np.expand_dims(table.argmax(axis=axis), axis)
    best = np.take_along_axis(table, at, axis)
    np.put_along_axis(table, at, -np.inf, axis)
    second = table.max(axis=axis)
    np.put_along_axis(table, at, best, axis)
    return np.stack([best.squeeze(axis), second]).astype(np.float32)


def _margin(value: Floats, best: Floats) -> Floats:
    """A value less the best of its rivals; the value itself where it has none."""
    import numpy as np

    rival = np.where(value >= best[0], best[1], best[0])
    return (value - np.where(np.isfinite(rival), rival, 0)).astype(np.float32)


class _Back:
    """The likeliest old names of every free new one, gathered block by block."""

    def __init__(self, columns: int) -> None:
        import numpy as np

        self._values = np.full((BACK, columns), -np.inf, np.float32)
        self._texts = np.zeros((BACK, columns), np.float32)
        self._rows = np.zeros((BACK, columns), np.intp)
        self._best = np.full((2, 2, columns), -np.inf, np.float32)

    def add(self, places: Places, likeness: Floats, text: Floats) -> None:
        import numpy as np

        if not likeness.shape[1]:
            return
        values = np.concatenate([self._values, likeness])
        texts = np.concatenate([self._texts, text])
        rows = np.concatenate([self._rows, np.broadcast_to(places[:, None], likeness.shape)])
        top = np.argpartition(-values, BACK - 1, axis=0)[:BACK]
        self._values, self._texts, self._rows = (
            np.take_along_axis(part, top, axis=0) for part in (values, texts, rows)
        )
        for which, table in enumerate((likeness, text)):
            both = np.concatenate([self._best[which], _two_best(table, axis=0)])
            two = np.partition(both, -2, axis=0)[-2:]
            self._best[which][0], self._best[which][1] = two[1], two[0]

    def pairs(self) -> tuple[Places, Places, Floats, Floats]:
        import numpy as np

        k, columns = np.nonzero(np.isfinite(self._values))
        return self._rows[k, columns], columns, self._values[k, columns], self._texts[k, columns]

    def best(self, which: int, columns: Places) -> Floats:
        """Best and second best of a column; a taken column has no rival."""
        import numpy as np

        made = np.full((2, len(columns)), -np.inf, np.float32)
        free = columns < self._best.shape[2]
        made[:, free] = self._best[which][:, columns[free]]
        return made
