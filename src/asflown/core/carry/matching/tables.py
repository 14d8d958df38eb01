"""Both catalogs as sparse matrices: words of names, trigrams of names, words of descriptions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asflown.core.carry.matching.abbreviation import word_likeness
from asflown.core.carry.matching.reading import Reading

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Places = NDArray[np.intp]

#: Rows of the old side looked at in one go: 400 rows of 5,000 columns take 8 MB a table.
BLOCK = 400


@dataclass(frozen=True)
class Side:
    """One catalog's matrices, all CSR, a row a parameter.

    Attributes
    ----------
    names, leaves
        1 where the name (its last part) has the word; shape (n, words).
    reach
        As ``names``, with the likeness of variants and abbreviations, at most 1.
    spoken
        ``reach`` joined with the words of the description.
    grams
        Letter trigrams of the name, weighted by rarity, of length 1.
    text, has_text
        Description words weighted by rarity and count; 1 where a word stands.
    unit_text
        ``text`` brought to length 1.
    total, leaf_total, text_total
        Sum of weights a row.
    """

    names: Any
    leaves: Any
    reach: Any
    spoken: Any
    grams: Any
    text: Any
    has_text: Any
    unit_text: Any
    total: Floats
    leaf_total: Floats
    text_total: Floats


@dataclass(frozen=True)
class Tables:
    """Both sides over one vocabulary.

    Attributes
    ----------
    rarity
        Weight of each word of names, shape (words,).
    alive_old, alive_new
        Weight of a word times how far it lives on in the new release / lived already in the old one.
    """

    old: Side
    new: Side
    rarity: Floats
    alive_old: Floats
    alive_new: Floats


def make_tables(old: Sequence[Reading], new: Sequence[Reading]) -> Tables:
    """Matrices of both catalogs; rarity after TF-IDF (Spärck Jones 1972; Salton and Buckley 1988)."""
    import numpy as np

    both = (*old, *new)
    n = len(old)
    words = sorted({word for reading in both for word in reading.words}) or [""]
    place = {word: position for position, word in enumerate(words)}
    names = _binary([r.words for r in both], place)
    leaves = _binary([r.leaf for r in both], place)
    in_old = np.asarray(names[:n].sum(axis=0)).ravel()
    in_new = np.asarray(names[n:].sum(axis=0)).ravel()
    share = np.maximum(in_old / max(n, 1), in_new / max(len(new), 1))
    rarity = np.log1p(1 / np.maximum(share, 1e-9)).astype(np.float32)
    reach = names @ word_likeness(words)
    reach.data = np.minimum(reach.data, 1)
    spoken = reach.maximum(_binary([r.text for r in both], place))
    grams = _unit(_weighted([_trigrams(r.words) for r in both], by_count=False))
    text = _weighted([r.text for r in both], by_count=True)
    has_text = text.copy()
    has_text.data = np.ones_like(text.data)
    unit_text = _unit(text)
    total, leaf_total = names @ rarity, leaves @ rarity
    text_total = np.asarray(text.sum(axis=1)).ravel()
    parts = (names, leaves, reach, spoken, grams, text, has_text, unit_text, total, leaf_total, text_total)
    return Tables(
        Side(*(part[:n] for part in parts)),
        Side(*(part[n:] for part in parts)),
        rarity,
        (rarity * np.minimum(1, in_new / np.maximum(in_old, 1))).astype(np.float32),
        (rarity * np.minimum(1, in_old / np.maximum(in_new, 1))).astype(np.float32),
    )


def blocks(tables: Tables, rows: Places, columns: Places) -> Iterator[tuple[Places, Floats, Floats]]:
    """First likeness of names and descriptions, block by block.

    Yields
    ------
    places, likeness, description
        Positions within ``rows``; first likeness and cosine of descriptions, shape (block, columns).
    """
    import numpy as np

    new = tables.new
    weighted_names = _scaled(new.names, tables.rarity)[columns].T.tocsr()
    reach = new.reach[columns].T.tocsr()
    grams, text = new.grams[columns].T.tocsr(), new.unit_text[columns].T.tocsr()
    totals = np.maximum(new.total[columns], 1e-6)
    for begin in range(0, len(rows), BLOCK):
        places = np.arange(begin, min(begin + BLOCK, len(rows)))
        here = rows[places]
        of_new = (tables.old.reach[here] @ weighted_names).toarray() / totals
        of_old = (_scaled(tables.old.names[here], tables.rarity) @ reach).toarray()
        of_old /= np.maximum(tables.old.total[here], 1e-6)[:, None]
        description = (tables.old.unit_text[here] @ text).toarray()
        likeness = 0.3 * (of_new + of_old) + 0.4 * description
        likeness += 0.3 * (tables.old.grams[here] @ grams).toarray()
        yield places, likeness, description


def paired(left: Any, right: Any, i: Places, j: Places, weights: Floats | None = None) -> Floats:
    """Dot product of row ``i[k]`` of ``left`` and row ``j[k]`` of ``right``, for every pair k."""
    import numpy as np

    made = []
    for begin in range(0, len(i), 50_000):
        part = slice(begin, begin + 50_000)
        rows = right[j[part]] if weights is None else _scaled(right[j[part]], weights)
        made.append(np.asarray(left[i[part]].multiply(rows).sum(axis=1)).ravel())
    return np.concatenate(made).astype(np.float32) if made else np.zeros(0, np.float32)


def _scaled(matrix: Any, weights: Floats) -> Any:
    """Every column times its weight."""
    made = matrix.copy()
    made.data = made.data * weights[made.indices]
    return made


def _binary(rows: Sequence[Iterable[str]], place: dict[str, int]) -> Any:
    import numpy as np
    from scipy.sparse import csr_array

    starts, columns = [0], []
    for row in rows:
        columns += sorted({place[word] for word in row if word in place})
        starts.append(len(columns))
    data = np.ones(len(columns), np.float32)
    return csr_array((data, np.array(columns, np.intp), starts), shape=(len(rows), max(1, len(place))))


def _weighted(rows: Sequence[Sequence[str]], *, by_count: bool) -> Any:
    """Rarity of every item, times ``1 + log(count)`` where wanted; shape (rows, items)."""
    import numpy as np
    from scipy.sparse import csr_array

    counted = [Counter(row) for row in rows]
    spread = Counter(item for row in counted for item in row)
    place = {item: position for position, item in enumerate(spread)}
    rarity = np.log1p(len(rows) / np.array([*spread.values(), 1], np.float32))
    starts, columns = [0], []
    counts: list[int] = []
    for row in counted:
        columns += [place[item] for item in row]
        counts += row.values()
        starts.append(len(columns))
    index = np.array(columns, np.intp)
    data = rarity[index]
    if by_count:
        data = data * (1 + np.log(np.array(counts, np.float32)))
    shape = (len(rows), max(1, len(place)))
    return csr_array((data.astype(np.float32), index, starts), shape=shape)


def _unit(matrix: Any) -> Any:
    """Every row brought to length 1."""
    import numpy as np

    made = matrix.copy()
    lengths = np.sqrt(np.asarray(matrix.multiply(matrix).sum(axis=1)).ravel())
    made.data = made.data / np.repeat(np.maximum(lengths, 1e-9), np.diff(made.indptr)).astype(np.float32)
    return made


def _trigrams(words: Sequence[str]) -> list[str]:
    text = f"  {' '.join(words)} "
    return [text[k : k + 3] for k in range(len(text) - 2)]
