"""Statements of several words: which words name the setting, which are its value."""

from __future__ import annotations

import itertools
import re
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

_LINKS = frozenset(["is", "to", "set", "equals", "was", "has", "be", "are", "at"])
_WORDLIKE = re.compile(r"[A-Za-z_][\w.\-]{0,40}$")
_TRUTH = frozenset(
    ["true", "false", "on", "off", "yes", "no", "enabled", "disabled", "none", "null", "auto", "default"]
)
_TYPE_VALUE = re.compile(r"[-+]?\d")


@dataclass(frozen=True)
class Statement:
    """How the words of blank-separated lines come apart."""

    words: tuple[str, ...]
    skip: int
    skip_after: int
    trailing: int
    indexed: frozenset[str]
    extended: frozenset[tuple[str, ...]]
    uniqueness: float


def learn_statement(
    rows: Sequence[Sequence[str]],
    sections: Sequence[int],
    runs_up: Callable[[Sequence[str]], bool],
    tells_type: Callable[[Sequence[str], Sequence[str]], bool],
    is_running: Callable[[Sequence[str]], bool],
    *,
    led: bool = False,
) -> Statement:
    """Learn which words of these rows are the name, its index, constant words, types and the value."""
    skip = (
        1
        if is_running([row[0] for row in rows if len(row) >= 3]) and all(len(row) >= 3 for row in rows)
        else 0
    )
    rows = [row[skip:] for row in rows]
    words = _links(rows, 4 if led else 8)
    skip_after, trailing = (0, 0)
    if not words:
        skip_after, trailing = _type_columns(rows, tells_type)
    if not skip and not words and not skip_after and not trailing:
        skip = _type_first(rows, tells_type)
        rows = [row[skip:] for row in rows]
    selectors = frozenset() if skip or words else selector_words(rows)
    groups: dict[tuple[int, str], list[Sequence[str]]] = {}
    for row, where in zip(rows, sections, strict=True):
        groups.setdefault((where, row[0]), []).append(row)
    indexed, extended = set[str](), set[tuple[str, ...]]()
    if not skip_after and not trailing and not words:
        merged: dict[str, list[list[Sequence[str]]]] = {}
        for (_, head), group in groups.items():
            merged.setdefault(head, []).append(group)
        for head, parts in merged.items():
            if head in selectors:
                continue
            if _has_index(parts, runs_up, bool(selectors)):
                indexed.add(head)
            else:
                _extend((head,), parts, extended)
    keys = {(where, *_name(row, indexed, extended)) for row, where in zip(rows, sections, strict=True)}
    return Statement(
        words,
        skip,
        skip_after,
        trailing,
        frozenset(indexed),
        frozenset(extended),
        len(keys) / max(1, len(rows)),
    )


def _name(row: Sequence[str], indexed: set[str], extended: set[tuple[str, ...]]) -> tuple[str, ...]:
    if row[0] in indexed:
        return tuple(row[:2])
    size = 1
    while tuple(row[:size]) in extended and size < len(row):
        size += 1
    return tuple(row[:size])


def _links(rows: Sequence[Sequence[str]], least: int = 8) -> tuple[str, ...]:
    """Constant words between name and value (``is``, ``set to``)."""
    words: list[str] = []
    while len(rows) >= 2:
        place = 1 + len(words)
        long = [row for row in rows if len(row) > place + 1]
        if len(long) < 0.7 * len(rows):
            break
        word, count = Counter(row[place] for row in long).most_common(1)[0]
        share = 0.7 if word.lower() in _LINKS else 0.97
        enough = word.lower() in _LINKS or (
            len(rows) >= least and word.lower() not in _TRUTH and _WORDLIKE.match(word)
        )
        if count < share * len(rows) or not enough:
            break
        words.append(word)
        rows = [row for row in long if row[place] == word]
    return tuple(words)


def _type_columns(
    rows: Sequence[Sequence[str]], tells_type: Callable[[Sequence[str], Sequence[str]], bool]
) -> tuple[int, int]:
    """A type column right after the name, or one after the value, where all rows have three words."""
    width, count = Counter(len(row) for row in rows).most_common(1)[0]
    if width != 3 or count < 0.97 * len(rows) or len(rows) < 4:
        return 0, 0
    full = [row for row in rows if len(row) == 3]
    middle, last = [row[1] for row in full], [row[2] for row in full]
    if len({row[0] for row in full}) < 0.9 * len(full):
        return 0, 0
    if all(_WORDLIKE.match(word) for word in middle) and tells_type(middle, last):
        return 1, 0
    few = len(set(last)) <= max(3, 0.1 * len(last)) and len(full) >= 8
    codes = all(word.isdecimal() or _WORDLIKE.match(word) for word in last)
    numeric = all(_TYPE_VALUE.match(word) for word in middle)
    if (
        few
        and codes
        and numeric
        and len(set(middle)) > 3 * len(set(last))
        and all(w.isdecimal() for w in last)
    ):
        return 0, 1
    return 0, 0


def _type_first(
    rows: Sequence[Sequence[str]], tells_type: Callable[[Sequence[str], Sequence[str]], bool]
) -> int:
    """A type before the name, where all rows have three words."""
    if len(rows) < 4 or sum(len(row) == 3 for row in rows) < 0.97 * len(rows):
        return 0
    full = [row for row in rows if len(row) == 3]
    seconds = {row[1] for row in full}
    if len(seconds) < len(full) * 0.95 or not all(_WORDLIKE.match(word) for word in seconds):
        return 0
    return 1 if tells_type([row[0] for row in full], [row[2] for row in full]) else 0


def _has_index(
    parts: Sequence[Sequence[Sequence[str]]], runs_up: Callable[[Sequence[str]], bool], selected: bool
) -> bool:
    """Whether the second word counts 0, 1, 2 … or 1, 2, 3 … in every section, with a value after it."""
    if not all(len(row) >= 3 for part in parts for row in part):
        return False
    numbers = [[row[1] for row in part] for part in parts]
    if not any(len(part) >= 2 for part in numbers):
        return False
    if all(runs_up(part) or part in (["0"], ["1"]) for part in numbers):
        return selected or all(len(set(part)) == len(part) or _runs_again(part) for part in numbers)
    return False


def _runs_again(numbers: Sequence[str]) -> bool:
    """Whether numbers are one run after the other, all of the same length: 0 1 2 0 1 2."""
    period = len(set(numbers))
    return (
        period >= 2
        and len(numbers) % period == 0
        and list(numbers) == list(numbers[:period]) * (len(numbers) // period)
    )


def _extend(
    head: tuple[str, ...], parts: Sequence[Sequence[Sequence[str]]], extended: set[tuple[str, ...]]
) -> None:
    """Let a statement's name take one more word where the words so far stand more than once."""
    size = len(head)
    if size > 5 or not any(len(part) >= 2 for part in parts):
        return
    rows = [row for part in parts for row in part]
    if not all(len(row) > size + 1 and _WORDLIKE.match(row[size]) for row in rows):
        return
    if len({row[size] for row in rows}) < 2:
        return
    extended.add(head)
    nexts: dict[str, list[list[Sequence[str]]]] = {}
    for part in parts:
        local: dict[str, list[Sequence[str]]] = {}
        for row in part:
            local.setdefault(row[size], []).append(row)
        for word, group in local.items():
            nexts.setdefault(word, []).append(group)
    for word, groups in nexts.items():
        _extend((*head, word), groups, extended)


def opening_selectors(texts: Sequence[str]) -> list[list[int]]:
    """Lines ``word choice`` that cut a listing into like stretches, before anything is known of them.

    Parameters
    ----------
    texts
        Lines; one that is known to be something else is empty.
    """
    spots: dict[tuple[str, ...], list[int]] = {}
    for number, text in enumerate(texts):
        words = text.split()
        if 2 <= len(words) <= 3 and all(_CHOICE.match(word) for word in words):
            spots.setdefault(tuple(words[:-1]), []).append(number)
        elif 2 <= len(words) <= 8 and (numbered := _numbered(text)) is not None:
            spots.setdefault(("", *numbered), []).append(number)
    likely = [numbers for head, numbers in spots.items() if _may_select(texts, head, numbers)]
    if not likely:
        return []
    bags = [frozenset(map(sys.intern, _TOKEN.findall(text))) for text in texts]
    filled = sum(bool(bag) for bag in bags)
    common = {word for word, count in Counter(w for bag in bags for w in bag).items() if count > 0.6 * filled}
    return [numbers for numbers in likely if _cuts(bags, numbers, common)]


def _may_select(texts: Sequence[str], head: tuple[str, ...], numbers: Sequence[int]) -> bool:
    """Whether lines with one head choose at least two different things."""
    if len(numbers) < 2:
        return False
    if head[0]:
        picks, word = [texts[n].split()[-1] for n in numbers], texts[numbers[0]].split()[-2]
    else:
        picks, word = [_DIGITS.findall(texts[n])[0] for n in numbers], ""
    return len(set(picks)) >= 2 and are_choices(picks, word)


def _numbered(text: str) -> tuple[str, ...] | None:
    """The words of a line with one number in it and no separator, the number left out."""
    if len(_DIGITS.findall(text)) != 1 or re.search(r"[=\t,;\"']|:\s*\S", text) or len(text) > 80:
        return None
    words = _DIGITS.sub("", text).split()
    letters = [word for word in words if any(c.isalpha() for c in word)]
    return tuple(words) if len(letters) >= 2 else None


_DIGITS = re.compile(r"\b\d{1,3}\b")


_CHOICE = re.compile(r"[\w.\-]{1,24}$")
_TOKEN = re.compile(r"[A-Za-z_][\w.\-/]*")


def _cuts(bags: Sequence[frozenset[str]], spots: Sequence[int], common: set[str]) -> bool:
    bounds = [*spots, len(bags)]
    sets = [frozenset[str]().union(*bags[a + 1 : b]) - common for a, b in itertools.pairwise(bounds)]
    full = [words for words in sets if words]
    if len(full) < 2 or len(full) < len(sets) - 1:
        return False
    before = frozenset[str]().union(*bags[: spots[0]]) - common
    if any(before & words for words in full):
        return False
    alike = sum(len(a & b) >= 0.5 * min(len(a), len(b)) for a, b in itertools.pairwise(full))
    return alike >= 0.5 * (len(full) - 1)


#: Plain words for a bank; with one of these the numbers chosen need not be without gap.
_BANK_WORDS = frozenset(["bank", "profile", "slot", "preset", "section", "group", "page", "layer"])


def are_choices(picks: Sequence[str], word: str = "") -> bool:
    """Whether values may choose a bank: 1, 2, 3 … or words, but no amounts and no on/off."""
    distinct = list(dict.fromkeys(picks))
    if all(pick.isdecimal() and len(pick) < 5 for pick in distinct):
        numbers = sorted(int(pick) for pick in distinct)
        if word.lower() in _BANK_WORDS:
            return True
        return numbers[0] in (0, 1) and numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    return all(_WORDLIKE.match(pick) and pick.lower() not in _TRUTH for pick in distinct)


def selector_words(rows: Sequence[Sequence[str]]) -> frozenset[str]:
    """First words of two-word rows that cut the listing into stretches naming the same things."""
    places: dict[str, list[int]] = {}
    for number, row in enumerate(rows):
        if len(row) == 2:
            places.setdefault(row[0], []).append(number)
    found = set()
    for word, spots in places.items():
        picks = [rows[spot][1] for spot in spots]
        if len(spots) < 2 or len(set(picks)) < 2 or not are_choices(picks, word):
            continue
        if cuts_alike([row[0] for row in rows], spots):
            found.add(word)
    return frozenset(found)


def cuts_alike(heads: Sequence[str], spots: Sequence[int]) -> bool:
    """Whether the stretches after each spot name much the same things, each at most once."""
    bounds = [*spots, len(heads)]
    stretches = [heads[a + 1 : b] for a, b in itertools.pairwise(bounds)]
    full = [stretch for stretch in stretches if stretch]
    if len(full) < 2:
        return False
    sets = [set(stretch) for stretch in full]
    alike = 0
    for one, two in itertools.pairwise(sets):
        shared = len(one & two)
        if shared and shared >= 0.5 * min(len(one), len(two)):
            alike += 1
    return alike >= 0.5 * (len(sets) - 1)
