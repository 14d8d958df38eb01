"""Tables: columns between delimiters, or columns that stand under each other."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from asflown.formats.listing.roles import NAMES, Roles, assign_roles, is_title_row
from asflown.formats.listing.shape import _name_and_index, quoted
from asflown.formats.listing.values import (
    QUOTES,
    Found,
    Span,
    ValueRules,
    close_quote,
    learn_units,
    split_value,
    trim,
)

_DELIMITERS = ("|", "│", "┃", "║", "¦", "\t", ";", ",")
_RULER_PARTS = re.compile(r"[-=_~─═]{2,}")
_RULER = re.compile(r"^[\s\-=_~+|:.*#─━═│┃║┼┬┴├┤┌┐└┘╔╗╚╝╠╣╦╩╬]+$")
SAMPLE = 2000


def is_ruler(text: str) -> bool:
    """Whether a line is nothing but drawing: ``-----``, ``+---+---+``."""
    return _RULER.match(text) is not None


@dataclass(frozen=True)
class TableShape:
    """A table's rows.

    Attributes
    ----------
    delimiter
        What stands between cells; empty where columns stand at fixed places.
    starts
        Where columns begin, for tables without delimiter.
    roles
        Which column is what.
    titles
        The column titles, lower case; empty where there are none.
    """

    delimiter: str
    starts: tuple[int, ...]
    width: int
    roles: Roles
    titles: tuple[str, ...]
    bordered: bool = False
    values: ValueRules = field(default_factory=ValueRules)
    #: Columns that each hold the values of one bank, and what the banks are called.
    bank_columns: tuple[tuple[int, str], ...] = ()

    def matches(self, text: str) -> list[Found]:
        """The row's parts, once for each bank that has a column of its own."""
        from dataclasses import replace

        if not self.bank_columns:
            found = self.match(text)
            return [found] if found is not None else []
        rows = []
        for column, bank in self.bank_columns:
            one = replace(self, roles=replace(self.roles, value=column), bank_columns=())
            found = one.match(text)
            if found is not None and found.value:
                rows.append(found._replace(bank=bank))
        return rows

    def match(self, text: str) -> Found | None:
        """The row's parts, ``None`` where the line is no row."""
        if self.bank_columns:
            return next(iter(self.matches(text)), None)
        if not self.delimiter:
            text = text.expandtabs(8)
        cells = self.cells(text)
        if cells is None or self.is_titles(text, cells):
            return None
        name_at = cells[self.roles.name]
        value_at = cells[self.roles.value]
        plain, inner, index = _name_and_index(text, name_at)
        others = [at for column, at in enumerate(cells) if column != self.roles.name]
        if all(a >= b for a, b in others):
            return None
        if plain[0] >= plain[1] or (
            not self.delimiter and not any(c.isalnum() for c in text[plain[0] : plain[1]])
        ):
            return None
        if self.roles.index is not None:
            inner = cells[self.roles.index]
            index = text[inner[0] : inner[1]] or None
            inner = inner if index else None
        doubling = self.delimiter in (",", ";", "\t") and text[value_at[0] : value_at[0] + 1] == '"'
        if doubling and value_at[1] - value_at[0] >= 2 and text[value_at[1] - 1] == '"':
            value, unit = (value_at[0] + 1, value_at[1] - 1), None
        else:
            value, unit = split_value(text, *value_at, self.values)
        if self.roles.unit is not None:
            at = cells[self.roles.unit]
            unit = at if at[0] < at[1] else None
        bank = self._bank(text, cells)
        shown = text[value[0] : value[1]]
        if doubling and '""' in shown:
            shown = shown.replace('""', '"')
        return Found(
            text[plain[0] : plain[1]],
            index,
            shown,
            _shown(text, unit) if unit else None,
            bank,
            plain,
            inner,
            value,
            unit,
        )

    def _bank(self, text: str, cells: Sequence[Span]) -> str | None:
        return None if self.roles.bank is None else _shown(text, cells[self.roles.bank]) or None

    def is_titles(self, text: str, cells: Sequence[Span]) -> bool:
        """Whether a row repeats the column titles."""
        return (
            bool(self.titles) and tuple(text[a:b].strip().strip('"').lower() for a, b in cells) == self.titles
        )

    def cells(self, text: str) -> list[Span] | None:
        """Spans of the row's cells, ``None`` where the columns do not fit."""
        if self.delimiter:
            cells = split_cells(text, self.delimiter, self.bordered)
            return cells if len(cells) == self.width else None
        return fixed_cells(text, self.starts)

    def pattern(self) -> str:
        """The template as a person may pin it."""
        words = ["{skip}"] * self.width
        for role in ("index", "unit", "bank", "value", "name"):
            column = getattr(self.roles, role)
            if column is not None:
                words[column] = "{" + role + "}"
        if not self.delimiter:
            return "  ".join(words)
        mark = self.delimiter if self.delimiter in "\t,;" else f" {self.delimiter} "
        line = mark.join(words)
        return f"{self.delimiter} {line} {self.delimiter}" if self.bordered else line

    def says(self) -> str:
        """What was learned, in one sentence."""
        between = f"columns between {quoted(self.delimiter)}" if self.delimiter.strip() else "columns"
        if self.delimiter == "\t":
            between = "columns between tabs"
        named = f"a table of {self.width} {between}"
        facts = [f"the name in column {self.roles.name + 1}", f"the value in column {self.roles.value + 1}"]
        for role in ("index", "unit", "bank"):
            column = getattr(self.roles, role)
            if column is not None:
                facts.append(f"the {role} in column {column + 1}")
        if self.bank_columns:
            facts[1] = "a value for each of " + ", ".join(quoted(bank) for _, bank in self.bank_columns)
        head = f", titled {', '.join(quoted(t) for t in self.titles)}" if self.titles else ", without titles"
        return f"{named}{head}: {', '.join(facts)}"


def _shown(text: str, at: Span) -> str:
    start, end = at
    if end - start >= 2 and text[start] in QUOTES and close_quote(text, start) == end - 1:
        return text[start + 1 : end - 1]
    return text[start:end]


def split_cells(text: str, delimiter: str, bordered: bool) -> list[Span]:
    """Cells of a delimited row, trimmed; quotation marks protect delimiters."""
    start, end = trim(text, 0, len(text))
    if delimiter == "\t":
        start, end = 0, len(text)
    if bordered and text.startswith(delimiter, start):
        start += len(delimiter)
        if text.endswith(delimiter, start, end):
            end -= len(delimiter)
    cells: list[Span] = []
    place = start
    while True:
        cell = trim(text, place, end)[0]
        look = place
        if cell < end and text[cell] in "\"'" and delimiter in ",;\t|":
            look = _cell_quote(text, cell, end, delimiter)
        stop = text.find(delimiter, look, end)
        if stop < 0:
            cells.append(trim(text, place, end))
            return cells
        cells.append(trim(text, place, stop))
        place = stop + len(delimiter)


def _cell_quote(text: str, start: int, end: int, delimiter: str) -> int:
    """Where a quoted cell ends (doubled marks stand for one), or ``start`` where it does not."""
    mark = text[start]
    place = text.find(mark, start + 1, end)
    while place >= 0 and text.startswith(mark, place + 1) and place + 1 < end:
        place = text.find(mark, place + 2, end)
    if place < 0:
        return start
    rest = trim(text, place + 1, end)[0]
    return (
        place + 1 if rest >= end or text.startswith(delimiter, rest) or text[rest - 1] == delimiter else start
    )


def fixed_cells(text: str, starts: Sequence[int]) -> list[Span] | None:
    """Cells of a row whose columns begin at fixed places."""
    if "\t" in text:
        text = text.expandtabs(8)
    cells: list[Span] = []
    for number, start in enumerate(starts):
        end = starts[number + 1] if number + 1 < len(starts) else len(text)
        if number and start < len(text) and text[start] not in " \t" and text[start - 1] not in " \t":
            return _loose_cells(text, len(starts))
        cells.append(trim(text, min(start, len(text)), min(end, len(text))))
    return cells


def _loose_cells(text: str, width: int) -> list[Span] | None:
    """Cells of a row that overflows its columns: as many words as there are columns."""
    spans = [match.span() for match in re.finditer(r"\S+(?: \S+)*", text)]
    if len(spans) != width:
        spans = [match.span() for match in re.finditer(r"\S+", text)]
    return spans if len(spans) == width else None


def learn_table(texts: Sequence[str]) -> TableShape | None:
    """A table in these lines (neither blank nor remarks), ``None`` where they are none."""
    sample = [text[:4000] for text in texts[:SAMPLE]]
    rows = [text for text in sample if not is_ruler(text)]
    if len(rows) < 2:
        return None
    for delimiter in _DELIMITERS:
        table = _delimited(delimiter, rows)
        if table is not None:
            return table
    return _aligned(sample)


def _delimited(delimiter: str, rows: Sequence[str]) -> TableShape | None:
    with_mark = [row for row in rows if delimiter in row]
    if len(with_mark) < max(2, 0.5 * len(rows)):
        return None
    drawn = delimiter in "|│┃║¦"
    bordered = drawn and sum(row.strip().startswith(delimiter) for row in with_mark) >= 0.9 * len(with_mark)
    split = [(row, split_cells(row, delimiter, bordered)) for row in with_mark]
    width, count = Counter(len(cells) for _, cells in split).most_common(1)[0]
    if width < 2 or count < 0.9 * len(with_mark) or count < max(2, 0.5 * len(rows)):
        return None
    full = [[row[a:b] for a, b in cells] for row, cells in split if len(cells) == width]
    titles = _titles(full)
    body = [row for row in full if row != full[0]] if titles else full
    if not body or (not titles and (width < 3 or len(body) < 3)):
        return None
    if not titles and not _names_like(body):
        return None
    roles = assign_roles(titles, body)
    if roles is None:
        return None
    values = _value_rules([row[roles.value] for row in body]) if roles.unit is None else ValueRules()
    banks = bank_columns([cell.strip("\"'") for cell in full[0]], roles.name) if titles else ()
    return TableShape(delimiter, (), width, roles, titles, bordered, values, banks)


def bank_columns(titles: Sequence[str], name: int) -> tuple[tuple[int, str], ...]:
    """Columns titled alike but for a number or letter: each holds one bank's values.

    Examples
    --------
    >>> bank_columns(["name", "set 1", "set 2", "unit"], 0)
    ((1, 'set 1'), (2, 'set 2'))
    >>> bank_columns(["name", "value", "default"], 0)
    ()
    """
    groups: dict[str, list[tuple[int, str]]] = {}
    for column, title in enumerate(titles):
        stem = re.sub(r"(?:(?<=[\s_\-#])[A-Za-z]|\d{1,3})$", "", title.strip())
        if column != name and stem != title.strip() and stem.strip().lower() not in ("", "value", "default"):
            groups.setdefault(stem, []).append((column, title.strip()))
    largest = max(groups.values(), key=len, default=[])
    return tuple(largest) if len(largest) >= 2 else ()


def _names_like(body: Sequence[Sequence[str]]) -> bool:
    """Whether some column of rows without titles tells the rows apart by plain names."""
    for column in range(len(body[0])):
        cells = [row[column] for row in body]
        plain = sum(bool(re.fullmatch(r"[\"']?[A-Za-z_][\w.\-\[\]/]*[\"']?", cell)) for cell in cells)
        if plain >= 0.9 * len(cells) and len(set(cells)) >= 0.9 * len(cells):
            return True
    return False


def _titles(rows: Sequence[Sequence[str]]) -> tuple[str, ...]:
    head = [cell.strip().strip("\"'").lower() for cell in rows[0]]
    banked = head[0] in NAMES and bool(bank_columns(head, 0))
    return tuple(head) if banked or is_title_row(head, rows[1:]) else ()


def _value_rules(cells: Sequence[str]) -> ValueRules:
    units, wrap = learn_units(list(cells))
    return ValueRules(units=units, unit_wrap=wrap)


def _aligned(sample: Sequence[str]) -> TableShape | None:
    texts = [text.expandtabs(8) for text in sample]
    for number, text in enumerate(texts[:25]):
        if is_ruler(text):
            continue
        ruler = texts[number + 1] if number + 1 < len(texts) and is_ruler(texts[number + 1]) else ""
        segments = [m.span() for m in _RULER_PARTS.finditer(ruler)]
        words = text.split()
        wide = re.split(r"\s{2,}", text.strip())
        if len(wide) >= 3 and bank_columns(wide, 0):
            words = wide
        if len(segments) >= 2 and all(c in "-=_~ ─═\t" for c in ruler):
            table = _at(text, tuple(start for start, _ in segments), texts[number + 2 :], strong=True)
        elif len(words) >= 2 and (words is wide or is_title_row([w.lower() for w in words], (), strict=True)):
            body = [row for row in texts[number + 1 :] if not is_ruler(row)]
            table = _at(text, _outside_titles(text, _rivers(text, body)), body, strong=bool(ruler))
        else:
            continue
        if table is not None:
            return table
    return None


def _rivers(head: str, body: Sequence[str]) -> tuple[int, ...]:
    """Where columns begin: places blank in nearly all rows part them."""
    rows = [row for row in body if len(row.split()) >= 2]
    width = min(max((len(row) for row in [head, *rows]), default=0), 400)
    taken = [0] * (width + 1)
    for row in rows:
        for place, char in enumerate(row[:width]):
            if char != " ":
                taken[place] += 1
    most = 0.02 * len(rows)
    starts: list[int] = []
    blank = True
    for place in range(width):
        free = taken[place] <= most and (place >= len(head) or head[place] == " ")
        if blank and not free:
            starts.append(place)
        blank = free
    bounds = [*starts[1:], width + 1]
    return tuple(a for a, b in zip(starts, bounds, strict=True) if head[a:b].strip() or a == starts[0])


def _outside_titles(head: str, starts: tuple[int, ...]) -> tuple[int, ...]:
    """Column starts that do not part a title of several words, where such titles name banks."""
    spans = [match.span() for match in re.finditer(r"\S+(?: \S+)*", head)]
    if not bank_columns([head[a:b] for a, b in spans], 0):
        return starts
    return tuple(start for start in starts if not any(a < start < b for a, b in spans))


def _at(head: str, starts: tuple[int, ...], body: Sequence[str], *, strong: bool) -> TableShape | None:
    if len(starts) < 2:
        return None
    starts = (0, *starts[1:])
    cut = fixed_cells(head, starts)
    if cut is None:
        return None
    titles = tuple(head[a:b].lower() for a, b in cut)
    rows = []
    misses = 0
    for text in body:
        if is_ruler(text):
            continue
        cells = fixed_cells(text, starts)
        if cells is None or len(text.split()) < 2:
            misses += 1
        elif tuple(text[a:b].lower() for a, b in cells) != titles:
            rows.append([text[a:b] for a, b in cells])
    if not rows or _titles_recur(titles, rows) or misses > (0.4 if strong else 0.3) * len(body):
        return None
    roles = assign_roles(titles, rows)
    if roles is None:
        return None
    values = _value_rules([row[roles.value] for row in rows]) if roles.unit is None else ValueRules()
    banks = bank_columns([head[a:b] for a, b in cut], roles.name)
    return TableShape("", starts, len(starts), roles, titles, False, values, banks)


def _titles_recur(titles: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
    """Whether a title stands in many cells of its own column: then it is a constant word, no title."""
    return any(
        title and sum(row[column].lower() == title for row in rows) > 0.3 * len(rows)
        for column, title in enumerate(titles)
    )
