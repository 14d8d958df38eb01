"""Which bank each setting stands in, and which banks the listing says are active."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from asflown.core.listing import PieceKind
from asflown.formats.listing.banks import ACTIVE, active_statement
from asflown.formats.listing.marks import Header, Marks


@dataclass
class Placed:
    """Banks by line, in the listing's order.

    Attributes
    ----------
    banks
        Bank text by line number (from 0) of a setting.
    paths
        For each bank text, the header lines that open it, outermost first.
    active
        Active choice by selector word.
    continued
        Further lines of a setting's value.
    """

    banks: dict[int, str] = field(default_factory=dict)
    paths: dict[str, tuple[int, ...]] = field(default_factory=dict)
    active: dict[str, str] = field(default_factory=dict)
    statements: list[int] = field(default_factory=list)
    continued: dict[int, list[str]] = field(default_factory=dict)


def place(marks: Marks) -> Placed:
    """Walk the lines in order with a stack of open headers."""
    placed = Placed()
    nested = _nesting(marks)
    counts = _doubled(marks)
    last_setting = max(marks.found, default=-1)
    stack: list[tuple[int, Header, str]] = []
    indented = any(header.block for header in marks.headers.values())
    for number, kind in enumerate(marks.kinds):
        if number in marks.headers:
            header = marks.headers[number]
            _pop_for(stack, header, nested)
            stack.append((number, header, counts.get(number, header.text)))
            if number > last_setting:
                _state_active(placed, number, header)
        elif number in marks.closers and stack:
            _pop_closed(stack)
        elif number in marks.found:
            if indented:
                _pop_indent(stack, marks.indent(number))
            _note(placed, number, stack, marks)
        elif kind is PieceKind.SETTING and number in marks.continues:
            placed.continued.setdefault(marks.continues[number], []).append(
                marks.text(number).strip().rstrip("\\").rstrip()
            )
    _stated(marks, placed)
    return placed


def _note(placed: Placed, number: int, stack: list[tuple[int, Header, str]], marks: Marks) -> None:
    texts = [text for _, _, text in stack if text]
    own = marks.found[number].bank
    if own:
        texts.append(own)
    if texts:
        bank = ".".join(texts)
        placed.banks[number] = bank
        placed.paths.setdefault(bank, tuple(line for line, _, _ in stack))


def _pop_for(stack: list[tuple[int, Header, str]], header: Header, nested: set[tuple[str, str]]) -> None:
    while stack and header.style != "{":
        top = stack[-1][1]
        if header.block or top.block or top.style == "{":
            if top.indent < header.indent or top.style == "{":
                return
        elif (header.style, top.style) in nested:
            return
        stack.pop()


def _pop_closed(stack: list[tuple[int, Header, str]]) -> None:
    for place in range(len(stack) - 1, -1, -1):
        if stack[place][1].style == "{":
            del stack[place:]
            return
    stack.pop()


def _pop_indent(stack: list[tuple[int, Header, str]], indent: int) -> None:
    while stack and stack[-1][1].block and stack[-1][1].indent >= indent:
        stack.pop()


def _nesting(marks: Marks) -> set[tuple[str, str]]:
    """Pairs (inner, outer) of header styles: the same inner text stands under different outer ones."""
    under: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    current: dict[str, str] = {}
    for number in sorted(marks.headers):
        header = marks.headers[number]
        for style, text in current.items():
            if style != header.style:
                under[(header.style, style, header.text)].add(text)
        current[header.style] = header.text
    pairs: dict[tuple[str, str], int] = defaultdict(int)
    for (inner, outer, _), texts in under.items():
        if len(texts) >= 2:
            pairs[(inner, outer)] += 1
    return {pair for pair, count in pairs.items() if count > pairs.get((pair[1], pair[0]), 0)}


def _doubled(marks: Marks) -> dict[int, str]:
    """Numbered texts for double-bracketed headers that come again: each opens one more of a kind."""
    groups: dict[str, list[int]] = defaultdict(list)
    for number, header in marks.headers.items():
        if header.style == "[[…]]":
            groups[header.text].append(number)
    return {
        number: f"{text}.{count}"
        for text, numbers in groups.items()
        if len(numbers) > 1
        for count, number in enumerate(sorted(numbers))
    }


def _state_active(placed: Placed, number: int, header: Header) -> None:
    word, _, choice = header.text.rpartition(" ")
    if header.word is not None and header.choice is not None:
        word, choice = header.word, header.choice
    if word and not header.block:
        placed.active[word] = choice
        placed.statements.append(number)


def _stated(marks: Marks, placed: Placed) -> None:
    headers = list({header.text: header for header in marks.headers.values()}.values())
    if not headers:
        return
    for number, kind in enumerate(marks.kinds):
        if kind in (PieceKind.NOT_UNDERSTOOD, PieceKind.COMMENT, PieceKind.NOISE, PieceKind.SETTING):
            told = active_statement(marks.text(number), headers)
            if told is None:
                continue
            placed.active[told[0]] = told[1]
            if (
                number in marks.found
                and number > max(marks.headers)
                and ACTIVE.search(marks.found[number].name)
            ):
                marks.found.pop(number)
                marks.shape_of.pop(number)
                kind = PieceKind.NOT_UNDERSTOOD
            if kind is PieceKind.NOT_UNDERSTOOD and marks.lines[number].number not in marks.ignored:
                marks.kinds[number] = PieceKind.BANK
                placed.statements.append(number)
