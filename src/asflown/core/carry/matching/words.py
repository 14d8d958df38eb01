"""Names and descriptions as words: cut apart, brought to a stem, with joined words found and parted."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

#: English words that say nothing about a parameter.
FILLERS = frozenset(
    [
        *(
            "a",
            "an",
            "the",
            "of",
            "to",
            "for",
            "in",
            "on",
            "and",
            "or",
            "is",
            "are",
            "be",
            "by",
            "with",
            "that",
        ),
        *(
            "this",
            "it",
            "as",
            "at",
            "if",
            "from",
            "will",
            "when",
            "which",
            "can",
            "should",
            "not",
            "used",
            "use",
        ),
    ]
)
#: Shorter words are neither parted nor parts.
LEAST_PART = 3


@lru_cache(maxsize=131072)
def raw_words(text: str) -> tuple[str, ...]:
    """Lower-case words and numbers of a text; a change of case parts words too.

    Examples
    --------
    >>> raw_words("pitch.rateGain2"), raw_words("HTTPPort_max")
    (('pitch', 'rate', 'gain', '2'), ('http', 'port', 'max'))
    """
    spaced = re.sub(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", text)
    return tuple(re.findall(r"[^\W\d_]+|\d+", spaced.casefold()))


@lru_cache(maxsize=65536)
def stem(word: str) -> str:
    """A word without the endings of plural, participle and gerund (a short form of Porter's rules, 1980).

    Examples
    --------
    >>> [stem(w) for w in ("retries", "retry", "limits", "limiting", "scaled", "scale")]
    ['retry', 'retry', 'limit', 'limit', 'scal', 'scal']
    """
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and word.endswith("sses"):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        word = word[:-1]
    if len(word) > 6 and word.endswith("ing"):
        word = word[:-3]
    elif len(word) > 5 and word.endswith("ed"):
        word = word[:-2]
    if len(word) > 4 and word.endswith("e"):
        word = word[:-1]
    if len(word) > 4 and word[-1] == word[-2] and word[-1] not in "sl":
        word = word[:-1]
    return word


class Splitter:
    """Parts joined words (``ratelimit``) where the catalogs themselves use the parts apart.

    Parameters
    ----------
    names
        Words of every name of both catalogs, one item a name.
    descriptions
        In how many descriptions each word stands.
    """

    def __init__(self, names: Iterable[tuple[str, ...]], descriptions: Counter[str]) -> None:
        self._in_names: Counter[str] = Counter()
        for words in names:
            self._in_names.update(set(words))
        self._in_texts = descriptions
        often = (word for word, count in descriptions.items() if count >= 3)
        self._known = frozenset(w for w in (*self._in_names, *often) if len(w) >= LEAST_PART)
        self._parted: dict[str, tuple[str, ...]] = {}

    def stems(self, words: Iterable[str]) -> tuple[str, ...]:
        """Stems of the words, joined words parted."""
        return tuple(stem(part) for word in words for part in self.split(word))

    def split(self, word: str) -> tuple[str, ...]:
        """The parts of a word; the word itself where it is no joined one."""
        if word not in self._parted:
            self._parted[word] = self._cut(word)
        return self._parted[word]

    def _cut(self, word: str) -> tuple[str, ...]:
        if len(word) < 2 * LEAST_PART or word.isdigit():
            return (word,)
        least = max(2.0, self._count(word) / 2)
        best: tuple[int, str, str] | None = None
        for at in range(LEAST_PART, len(word) - LEAST_PART + 1):
            left, right = word[:at], word[at:]
            if left in self._known and right in self._known:
                share = min(self._count(left), self._count(right))
                if share >= least and (best is None or share > best[0]):
                    best = (share, left, right)
        return (*self.split(best[1]), *self.split(best[2])) if best else (word,)

    def _count(self, word: str) -> int:
        return self._in_names[word] + self._in_texts[word]
