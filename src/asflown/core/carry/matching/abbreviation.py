"""Which words of names stand for one another: spelling variants and abbreviations, learned from the names."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scipy.sparse import csr_array

#: Likeness of a word and one that begins with it, of a word and one that holds its letters in order
#: (``vlt`` in ``voltage``), and of two-letter ones.
BEGINS, IN_ORDER, TWO_LETTERS = 0.75, 0.6, 0.3
#: Least likeness of spelling (1 - edits over letters) of two variants of a word.
VARIANT = 0.75


def word_likeness(words: Sequence[str]) -> csr_array:
    """Likeness of every two words, 0 to 1; 1 on the diagonal; shape (n, n), sparse, symmetric.

    Parameters
    ----------
    words
        Sorted, each once.
    """
    import numpy as np
    from scipy.sparse import coo_array

    found: dict[tuple[int, int], float] = {}
    for a, b, value in (*_variants(words), *_abbreviations(words)):
        key = (a, b) if a < b else (b, a)
        found[key] = max(found.get(key, 0.0), value)
    n = len(words)
    rows = [*range(n), *(a for a, _ in found), *(b for _, b in found)]
    columns = [*range(n), *(b for _, b in found), *(a for a, _ in found)]
    values = [*([1.0] * n), *found.values(), *found.values()]
    return coo_array((np.array(values, dtype=np.float32), (rows, columns)), shape=(n, n)).tocsr()


def _by_first(words: Sequence[str]) -> dict[str, list[int]]:
    """Positions of alphabetic words by their first letter."""
    groups: dict[str, list[int]] = defaultdict(list)
    for position, word in enumerate(words):
        if word.isalpha():
            groups[word[0]].append(position)
    return groups


def _variants(words: Sequence[str]) -> Iterator[tuple[int, int, float]]:
    """Words of four letters and more with nearly the same spelling (``color``, ``colour``)."""
    import numpy as np
    from rapidfuzz import process
    from rapidfuzz.distance import Indel

    for group in _by_first(words).values():
        places = [i for i in group if len(words[i]) >= 4]
        texts = [words[i] for i in places]
        if len(texts) < 2:
            continue
        table = process.cdist(
            texts, texts, scorer=Indel.normalized_similarity, score_cutoff=VARIANT, dtype=np.float32
        )
        for a, b in np.argwhere(np.triu(table, 1)).tolist():
            share = (float(table[a, b]) - VARIANT) / (1 - VARIANT)
            yield places[a], places[b], 0.5 + 0.4 * share


def _abbreviations(words: Sequence[str]) -> Iterator[tuple[int, int, float]]:
    for group in _by_first(words).values():
        texts = [words[i] for i in group]
        for at, short in enumerate(texts):
            if 2 <= len(short) <= 6:
                for to, value in _longer(short, texts):
                    yield group[at], group[to], value


def _longer(short: str, texts: Sequence[str]) -> Iterator[tuple[int, float]]:
    """Sorted words that ``short`` may stand for."""
    for to in range(bisect_left(texts, short), len(texts)):
        if not texts[to].startswith(short):
            break
        if texts[to] != short and len(short) >= 3:
            yield to, BEGINS
    for to, long in enumerate(texts):
        if len(long) > max(len(short), 4 if len(short) == 2 else 0) and holds_in_order(short, long):
            yield to, IN_ORDER if len(short) >= 3 else TWO_LETTERS


def holds_in_order(short: str, long: str) -> bool:
    """Whether the letters of ``short`` stand in ``long`` in their order.

    Examples
    --------
    >>> holds_in_order("vlt", "voltage"), holds_in_order("tlv", "voltage")
    (True, False)
    """
    rest = iter(long)
    return all(letter in rest for letter in short)
