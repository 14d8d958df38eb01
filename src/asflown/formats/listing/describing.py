"""Lines that describe the setting above them: wrapped descriptions, allowed ranges, factory values."""

from __future__ import annotations

import re
from collections import Counter

from asflown.core.listing import PieceKind
from asflown.formats.listing.marks import Marks

_MARKED = re.compile(r"\s*[^\s=:][^=:]{0,60}[=:]")
_PROSE_WORD = re.compile(r"[A-Za-z][A-Za-z'\-]*[.,;:!?)]?|\([A-Za-z]+\)?")


def mark_wrapped(marks: Marks) -> None:
    """Mark deeper-indented prose below settings as remarks, before any template is known."""
    opened = marks.open()
    if len(opened) < 4 or marks.headers:
        return
    least = min(marks.indent(n) for n in opened)
    deep = [n for n in opened if marks.indent(n) > least]
    flat = [n for n in opened if marks.indent(n) == least]
    if not deep or len(flat) < 2:
        return
    prose = sum(_is_prose(marks.text(n)) for n in deep)
    marked = sum(_MARKED.match(marks.text(n)) is not None for n in flat)
    if prose < 0.8 * len(deep) or marked < 0.8 * len(flat):
        return
    if any(re.search(r"[=:]\s*$|[\\\\,]$", marks.text(n)) for n in flat):
        return
    for number in deep:
        marks.kinds[number] = PieceKind.COMMENT


def _is_prose(text: str) -> bool:
    words = text[:400].split()
    plain = sum(_PROSE_WORD.fullmatch(word) is not None for word in words)
    return (
        "=" not in text and not re.match(r"\s*\S+:\s", text) and len(words) >= 2 and plain >= 0.6 * len(words)
    )


def mark_described(marks: Marks) -> None:
    """Mark lines that come again below (nearly) every setting with the same first words as remarks."""
    places = sorted([*marks.found, *marks.open()])
    heads = {n: _head(marks, n) for n in places}
    counts = Counter(heads.values())
    single = [n for n in marks.found if counts[heads[n]] == 1 and marks.found[n].value]
    if len(single) < 2 or marks.headers:
        return
    often = {
        head
        for head, count in counts.items()
        if head and 0.5 * len(single) <= count <= len(single) and count > 1
    }
    if len(often) > 6:
        return
    below: list[int] = []
    owner = False
    for number in places:
        if heads[number] in often:
            if not owner:
                return
            below.append(number)
        else:
            owner = number in marks.found and counts[heads[number]] == 1 and bool(marks.found[number].value)
    if len(single) + len(below) < 0.9 * len(places):
        return
    for number in below:
        marks.found.pop(number, None)
        marks.shape_of.pop(number, None)
        marks.kinds[number] = PieceKind.COMMENT


def _head(marks: Marks, number: int) -> str:
    found = marks.found.get(number)
    if found is not None:
        return found.name if found.index is None else f"{found.name}[{found.index}]"
    match = re.match(r"\s*([A-Za-z][\w\-]{0,40})[ \w\-]{0,40}[:=]", marks.text(number))
    return match.group(1) if match else ""
