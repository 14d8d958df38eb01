"""Lines that cut a listing into blocks naming the same things: typed commands, markers, remarks.

Where names come again, the line in front of each block is likely to say which bank the block shows. Every
group of lines that are alike but for one word is tried; the one that explains most repeats is believed.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence

from asflown.core.listing import PieceKind
from asflown.formats.listing.marks import Header, Marks

WORD = re.compile(r"\w[\w.\-]*")
#: Words that ask for a listing; they are no part of what is listed.
_ASKING = frozenset(
    ["show", "list", "dump", "print", "get", "display", "read", "cat", "view", "export", "query", "report"]
)
_FREE = (None, PieceKind.COMMENT, PieceKind.FIXED, PieceKind.NOISE)
MOST_WORDS = 8


def mark_cuts(marks: Marks) -> None:
    """Mark lines as headers where that explains names that come again."""
    if len(marks.found) < 4:
        return
    for _ in range(2):
        repeats = _repeats(marks, frozenset())
        if not repeats:
            return
        best: tuple[float, list[int]] | None = None
        for numbers in _groups(marks):
            left = _repeats(marks, frozenset(numbers))
            gain = (repeats - left) / repeats - _doubt(marks, numbers[0])
            if left <= 0.2 * repeats and (best is None or gain > best[0]):
                best = gain, numbers
        if best is None:
            return
        _make_headers(marks, best[1])


def _doubt(marks: Marks, number: int) -> float:
    if number in marks.commands:
        return 0.0
    return 0.3 if number in marks.found else 0.1


def _repeats(marks: Marks, cuts: frozenset[int]) -> int:
    """How many settings have a key that stood before in their stretch."""
    seen: set[tuple[str, str, str | None]] = set()
    bank = ""
    count = 0
    places = sorted([*marks.found, *marks.headers, *cuts])
    for number in places:
        if number in cuts:
            bank = "\0" + marks.commands.get(number, marks.text(number)).strip()
        elif number in marks.headers:
            bank = marks.headers[number].text
        else:
            found = marks.found[number]
            key = (f"{bank}\0{found.bank or ''}", found.name, found.index)
            count += key in seen
            seen.add(key)
    return count


def _groups(marks: Marks) -> list[list[int]]:
    """Lines alike but for one word (or number), each in front of a setting; typed commands first."""
    alike: dict[tuple[str, ...], list[int]] = defaultdict(list)
    asked: list[int] = []
    last = max(marks.found)
    for number, kind in enumerate(marks.kinds):
        command = marks.commands.get(number)
        if number > last or (command is None and not _may_cut(marks, number, kind)):
            continue
        text = marks.text(number)[:200] if command is None else command
        words = WORD.findall(text)
        if not 1 <= len(words) <= MOST_WORDS or len(text) > 120:
            continue
        origin = "command" if command is not None else str(kind)
        if number in marks.found:
            alike[(origin, str(len(words)), *words[:-1], "")].append(number)
            continue
        for place in range(len(words)):
            masked = [*words[:place], "", *words[place + 1 :]]
            alike[(origin, str(len(words)), *masked)].append(number)
        if command is not None and _in_front(marks, number):
            asked.append(number)
    groups = []
    for key, numbers in alike.items():
        texts = {marks.commands.get(n, marks.text(n)) for n in numbers}
        if (
            len(numbers) >= 2
            and len(texts) >= 2
            and (key[0] == "command" or len(key) > 3 or _framed(marks, numbers))
        ):
            groups.append(numbers)
    if len({marks.commands[n] for n in asked}) >= 2:
        groups.append(asked)
    return groups


def _may_cut(marks: Marks, number: int, kind: PieceKind | None) -> bool:
    """Whether a line may be no setting but a cut; of settings those with a number and no value."""
    found = marks.found.get(number)
    if found is not None:
        text = marks.text(number).rstrip()
        return (
            (found.index is not None and not found.value)
            or re.fullmatch(r"\d{1,3}:", found.value) is not None
            or (text[-1:] == ":" and not found.value and re.search(r"\d:$", text) is not None)
        )
    return kind in _FREE and marks.lines[number].number not in marks.ignored


def _framed(marks: Marks, numbers: Sequence[int]) -> bool:
    """Whether single words carry a mark of their own, or are numbers."""
    return all(re.search(r"[^\w\s]", marks.text(n)) or marks.text(n).strip().isdecimal() for n in numbers)


def _in_front(marks: Marks, number: int) -> bool:
    later = marks.next_of_interest(number)
    return later is not None and later in marks.found


def _make_headers(marks: Marks, numbers: list[int]) -> None:
    rows = [WORD.findall(marks.commands.get(n, marks.text(n))) for n in numbers]
    for number, label in zip(numbers, labels(rows), strict=True):
        if number in marks.commands:
            marks.prompts[number] = marks.text(number)
            marks.lines[number].text = marks.commands[number]
        word, _, choice = label.rpartition(" ")
        marks.found.pop(number, None)
        marks.shape_of.pop(number, None)
        marks.kinds[number] = PieceKind.BANK
        marks.headers[number] = Header(label, "cut", 0, False, word or None, choice if word else None)


def labels(rows: Sequence[Sequence[str]]) -> list[str]:
    """What each of these lines selects: the word that differs, with the word before a number.

    Examples
    --------
    >>> labels([["show", "bank", "1"], ["show", "bank", "2"]])
    ['bank 1', 'bank 2']
    >>> labels([["show", "motors"], ["show", "radio"]])
    ['motors', 'radio']
    """
    if len({len(row) for row in rows}) > 1:
        return [
            " ".join(word for word in row if word.lower() not in _ASKING) or " ".join(row) for row in rows
        ]
    place = next((p for p in range(len(rows[0])) if len({row[p] for row in rows}) > 1), len(rows[0]) - 1)
    numbered = all(re.fullmatch(r"\d{1,4}|\w", row[place]) for row in rows)
    before = rows[0][place - 1] if place else ""
    with_word = before and before.lower() not in _ASKING and (numbered or place == 1 or before in _BANK_WORDS)
    return [f"{row[place - 1]} {row[place]}" if with_word else row[place] for row in rows]


_BANK_WORDS = frozenset(["bank", "profile", "slot", "preset", "section", "group", "page", "layer", "set"])
