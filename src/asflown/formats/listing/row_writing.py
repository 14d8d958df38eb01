"""One setting as a line: the original's own line, or a neighbour's, with the parts exchanged."""

from __future__ import annotations

from collections import Counter

from asflown.core.record import Key, Setting
from asflown.formats.listing.attributes import AttributeShape, ElementShape
from asflown.formats.listing.marks import Marks
from asflown.formats.listing.placing import Placed
from asflown.formats.listing.shape import LineShape
from asflown.formats.listing.table import TableShape
from asflown.formats.listing.values import QUOTES, Found, Span


class RowWriter:
    """Makes lines after the lines of an original."""

    def __init__(self, marks: Marks, placed: Placed, *, own_lines: bool = True) -> None:
        self.marks = marks
        self.placed = placed
        self.plainest = None if own_lines else _plainest(marks)
        self.by_key: dict[Key, int] = {}
        self.by_bank: dict[tuple[str | None, bool], int] = {}
        self.by_index: dict[bool, int] = {}
        for number in sorted(marks.found):
            found = marks.found[number]
            bank = placed.banks.get(number)
            self.by_key[Key(found.name, bank, found.index)] = number
            self.by_bank.setdefault((bank, found.index is not None), number)
            self.by_index.setdefault(found.index is not None, number)

    def lines(self, setting: Setting, previous: Setting | None) -> list[str] | None:
        """The line(s) of a setting, ``None`` where the shape cannot carry it."""
        if self.plainest is not None:
            made = self._try(self.plainest, setting, own=False)
            if made is not None:
                return made
        own = self.by_key.get(setting.key)
        if own is not None:
            made = self._try(own, setting, own=True)
            if made is not None:
                return made
        for donor in self._donors(setting, previous):
            made = self._try(donor, setting, own=False)
            if made is not None:
                return made
        return None

    def _donors(self, setting: Setting, previous: Setting | None) -> list[int]:
        indexed = setting.key.index is not None
        near = (
            self.by_key.get(previous.key)
            if previous is not None and previous.key.bank == setting.key.bank
            else None
        )
        found = [
            self.by_bank.get((setting.key.bank, indexed)),
            self.by_index.get(indexed),
            self.by_index.get(not indexed),
        ]
        if near is not None and (self.marks.found[near].index is not None) == indexed:
            found.insert(0, near)
        quoted = next((n for n, f in self.marks.found.items() if _quote_at(self.marks.text(n), f)), None)
        return list(dict.fromkeys(number for number in [*found, quoted] if number is not None))

    def _try(self, number: int, setting: Setting, *, own: bool) -> list[str] | None:
        text, found = self.marks.text(number), self.marks.found[number]
        shape = self.marks.shapes[self.marks.shape_of[number]]
        first, *more = setting.value.split("\n")
        for quote in _quotings(text, found, first):
            line = _exchange(text, found, setting, first, quote, own=own, shape=shape)
            again = shape.match(line) if line is not None else None
            if line is None or again is None:
                continue
            key = setting.key
            bank_fits = again.bank is None or (key.bank or "").endswith(again.bank)
            if again.name == key.name and again.index == key.index and again.value == first and bank_fits:
                if not more:
                    return [line]
                return self._continued(number, line, more)
        return None

    def _continued(self, number: int, line: str, more: list[str]) -> list[str] | None:
        """Continuation lines as the original had them."""
        before = next(iter(self.marks.continues), None)
        if before is None or any(not part.strip() or part != part.strip() for part in more):
            return None
        text = self.marks.text(before)
        lead = text[: len(text) - len(text.lstrip())]
        after = " \\" if any(self.marks.text(n).endswith("\\") for n in self.marks.continues.values()) else ""
        made = [line, *(lead + part for part in more)]
        return [part + after for part in made[:-1]] + made[-1:]


def _plainest(marks: Marks) -> int | None:
    """The setting line with the least around its name and value, among the most usual template's."""
    if not marks.found:
        return None
    usual = Counter(marks.shape_of[number] for number in marks.found).most_common(1)[0][0]
    return min(
        (number for number in marks.found if marks.shape_of[number] == usual),
        key=lambda n: (len(marks.text(n)) - len(marks.found[n].name) - len(marks.found[n].value), n),
    )


def _quote_at(text: str, found: Found) -> str:
    start, end = found.value_at
    if start and text[start - 1] in QUOTES and text[end : end + 1] == QUOTES[text[start - 1]]:
        return text[start - 1]
    return ""


def _quotings(text: str, found: Found, value: str) -> list[str]:
    own = _quote_at(text, found)
    if not own and value and any(c in value for c in " \t#;"):
        return ["", '"', "'"]
    return list(dict.fromkeys([own, '"', "'", ""]))


def _exchange(
    text: str, found: Found, setting: Setting, value: str, quote: str, *, own: bool, shape: object
) -> str | None:
    """The line with name, index, value and unit exchanged."""
    value_start, value_end = found.value_at
    if _quote_at(text, found):
        value_start, value_end = value_start - 1, value_end + 1
    parts: list[tuple[Span, str]] = []
    key = setting.key
    name_end = found.name_at[1]
    if not own:
        parts.append((found.name_at, getattr(shape, "stored", str)(key.name)))
        if isinstance(shape, ElementShape):
            close = text.rfind(found.name)
            parts.append(((close, close + len(found.name)), key.name))
        if found.index_at is not None and key.index is not None:
            parts.append((found.index_at, _index_text(text[slice(*found.index_at)], key.index)))
        elif found.index_at is not None:
            close = found.index_at[1] + (text[found.index_at[1] : found.index_at[1] + 1] in ("]", ")"))
            parts.append(((name_end, close), ""))
        elif key.index is not None:
            parts.append(((name_end, name_end), "".join(f"[{part}]" for part in key.index.split(","))))
    stored = getattr(shape, "stored", str)
    shown = f"{quote}{stored(value)}{QUOTES[quote] if quote else ''}"
    parts.append(((value_start, value_end), shown))
    if found.unit_at is not None and setting.unit is not None:
        parts.append((found.unit_at, setting.unit))
    line = _put(text, parts)
    if own or isinstance(shape, (TableShape, AttributeShape, ElementShape)):
        return line
    return _without_rest(line, text, value_end, setting, found, shape)


def _index_text(old: str, new: str) -> str:
    return new.replace(",", "][") if "][" in old else new


def _put(text: str, parts: list[tuple[Span, str]]) -> str:
    """Exchange spans from left to right; columns behind wide gaps stay where they are."""
    out = ""
    place = 0
    for (start, end), new in sorted(parts):
        between = text[place:start]
        if between.startswith("  ") and place:
            gap = len(between) - len(between.lstrip(" "))
            target = place + gap
            between = " " * max(2 if gap > 1 else 1, target - len(out)) + between[gap:]
        out += between + new
        place = end
    rest = text[place:]
    if rest.startswith("  "):
        gap = len(rest) - len(rest.lstrip(" "))
        rest = " " * max(2, place + gap - len(out)) + rest[gap:]
    return (out + rest).rstrip()


def _without_rest(line: str, text: str, value_end: int, setting: Setting, found: Found, shape: object) -> str:
    """A new key's line carries no remark and no unit of the line it was made after."""
    rest = text[value_end:]
    kept = line[: len(line) - len(rest.rstrip())] if rest.strip() else line
    if not rest.strip():
        return line
    if found.unit_at is not None and setting.unit is not None:
        kept = line[: line.rfind(setting.unit) + len(setting.unit)]
        if rest.strip()[-1:] in ")]>":
            kept += rest.strip()[-1]
    kept = kept.rstrip()
    if isinstance(shape, LineShape):
        if shape.values.wrap:
            kept += shape.values.wrap[1]
        if shape.values.terminator:
            kept += shape.values.terminator
    return kept
