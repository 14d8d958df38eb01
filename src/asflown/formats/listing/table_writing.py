"""Rows of tables whose columns stand at fixed places: laid out anew so that every cell fits."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from asflown.core.record import Key, Setting
from asflown.formats.listing.marks import Marks
from asflown.formats.listing.placing import Placed
from asflown.formats.listing.table import TableShape, is_ruler


class TableWriter:
    """Writes a table without delimiters, or with drawn ones."""

    def __init__(self, marks: Marks, placed: Placed) -> None:
        self.marks = marks
        self.placed = placed
        shape = next(shape for shape in marks.shapes if isinstance(shape, TableShape))
        self.shape: TableShape = shape
        self.rows: dict[int, list[str]] = {}
        self.keys = {}
        for number, found in marks.found.items():
            if marks.shapes[marks.shape_of[number]] is shape:
                bank = placed.banks.get(number)
                self.keys[Key(found.name, bank, found.index)] = number
        self.right = self._right_aligned()

    @staticmethod
    def fits(marks: Marks) -> bool:
        """Whether the listing is a table."""
        return any(isinstance(shape, TableShape) for shape in marks.shapes)

    def _cells(self, text: str) -> list[str] | None:
        spans = self.shape.cells(text)
        source = text.expandtabs(8) if not self.shape.delimiter else text
        return [source[a:b] for a, b in spans] if spans is not None else None

    def _right_aligned(self) -> list[bool]:
        right = []
        for column in range(self.shape.width):
            starts, ends = set(), set()
            for number in list(self.keys.values())[:300]:
                spans = self.shape.cells(self.marks.text(number))
                if spans is not None and spans[column][0] < spans[column][1]:
                    starts.add(spans[column][0])
                    ends.add(spans[column][1])
            right.append(len(ends) == 1 and len(starts) > 1)
        return right

    def lay_out(self, settings: Sequence[Setting]) -> None:
        """Make the cells of every row, then the widths all of them need."""
        for setting in settings:
            self.rows[id(setting)] = self._row(setting)
        drawn = self.shape.delimiter in ("|", "│", "┃", "║", "¦")
        self.padded = not self.shape.delimiter or (drawn and self._was_padded())
        widths = [0] * self.shape.width
        for cells in [*self.rows.values(), *self._title_rows()]:
            for column, cell in enumerate(cells):
                widths[column] = max(widths[column], len(cell))
        if not self.shape.delimiter:
            starts = [*self.shape.starts, 0]
            for column in range(self.shape.width - 1):
                widths[column] = max(widths[column] + 2, starts[column + 1] - starts[column])
        elif self.padded:
            for number in list(self.keys.values())[:300]:
                spans = self._raw(self.marks.text(number))
                widths = [max(a, b) for a, b in zip(widths, spans, strict=False)]
        self.widths = widths

    def _raw(self, text: str) -> list[int]:
        body = text.strip().strip(self.shape.delimiter) if self.shape.bordered else text
        return [max(0, len(cell) - 2) for cell in body.split(self.shape.delimiter)]

    def _was_padded(self) -> bool:
        texts = [self.marks.text(number) for number in list(self.keys.values())[:50]]
        mark = self.shape.delimiter
        return sum(f" {mark}" in text or f"{mark} " in text for text in texts) > 0.5 * len(texts)

    def _title_rows(self) -> list[list[str]]:
        from asflown.core.listing import PieceKind

        numbers = [n for n, kind in enumerate(self.marks.kinds) if kind is PieceKind.HEADER]
        return [cells for n in numbers if (cells := self._cells(self.marks.text(n))) is not None]

    def _row(self, setting: Setting) -> list[str]:
        roles = self.shape.roles
        key = setting.key
        number = self.keys.get(key)
        own = number is not None
        found = self.marks.found[number] if number is not None else None
        cells = [""] * self.shape.width
        if number is not None:
            cells = self._cells(self.marks.text(number)) or cells
        else:
            cells = self._constants(cells)
        if not own:
            name = key.name
            if key.index is not None and roles.index is None:
                name += "".join(f"[{part}]" for part in key.index.split(","))
            cells[roles.name] = self._quoted(name, roles.name)
            if roles.index is not None:
                cells[roles.index] = key.index or ""
            if roles.bank is not None:
                cells[roles.bank] = self._quoted(
                    (key.bank or "").rpartition(".")[2]
                    if self.placed.paths.get(key.bank or "")
                    else (key.bank or ""),
                    roles.bank,
                )
        if found is None or found.value != setting.value:
            shown = self._quoted(setting.value, roles.value, setting.unit if roles.unit is None else None)
            cells[roles.value] = shown
        if roles.unit is not None:
            cells[roles.unit] = setting.unit or ""
        return cells

    @cached_property
    def _first_rows(self) -> list[list[str]]:
        """The cells of the first rows of the listing as it was: the habits of the new rows."""
        texts = (self.marks.text(number) for number in list(self.keys.values())[:50])
        return [cells for text in texts if (cells := self._cells(text)) is not None]

    def _constants(self, cells: list[str]) -> list[str]:
        """Columns that hold the same in every row keep it in a new row."""
        rows = self._first_rows
        for column in range(len(cells)):
            kinds = {row[column] for row in rows}
            if len(kinds) == 1 and len(rows) > 1:
                cells[column] = next(iter(kinds))
        return cells

    def _quoted(self, text: str, column: int, unit: str | None = None) -> str:
        mark = self.shape.delimiter
        rows = self._first_rows
        always = bool(rows) and all(row[column][:1] == '"' for row in rows)
        shown = text
        if always or (mark and mark in text) or (mark and text[:1] == '"'):
            shown = '"' + (text.replace('"', '""') if mark in (",", ";", "\t") else text) + '"'
        wrap = self.shape.values.unit_wrap or ("", "")
        return f"{shown} {wrap[0]}{unit}{wrap[1]}" if unit else shown

    def lines(self, setting: Setting) -> list[str] | None:
        """The setting's row, ``None`` where it does not come back from it."""
        line = self._join(self.rows[id(setting)])
        found = self._shape_now().match(line)
        key = setting.key
        if found is None or "\n" in setting.value:
            return None
        same = (found.name, found.index, found.value) == (key.name, key.index, setting.value)
        return [line] if same else None

    def _shape_now(self) -> TableShape:
        if self.shape.delimiter:
            return self.shape
        from dataclasses import replace

        place, starts = 0, []
        for width in self.widths:
            starts.append(place)
            place += width
        return replace(self.shape, starts=tuple(starts))

    def _join(self, cells: Sequence[str]) -> str:
        if not self.padded:
            return self.shape.delimiter.join(cells)
        wide = [
            self._pad(cell, width, right)
            for cell, width, right in zip(cells, self.widths, self.right, strict=True)
        ]
        if not self.shape.delimiter:
            return "".join(wide).rstrip()
        mark = self.shape.delimiter
        line = f" {mark} ".join(wide)
        return f"{mark} {line} {mark}" if self.shape.bordered else line.rstrip()

    def _pad(self, cell: str, width: int, right: bool) -> str:
        if self.shape.delimiter:
            return cell.rjust(width) if right else cell.ljust(width)
        return (cell.rjust(width - 2) + "  ") if right and len(cell) <= width - 2 else cell.ljust(width)

    def drawn(self, text: str) -> str | None:
        """Titles and drawing at the widths of the rows; ``None`` for other lines."""
        if not self.padded:
            return None
        if is_ruler(text) and len(text.strip()) > 1:
            return self._ruler(text)
        cells = self._cells(text)
        if cells is not None and self.shape.titles and tuple(c.lower() for c in cells) == self.shape.titles:
            return self._join(cells)
        return None

    def _ruler(self, text: str) -> str:
        bare = text.strip()
        crossing = next((c for c in bare if c in "+|┼┬┴"), "")
        fill = next((c for c in bare if c in "-=─═_~"), "-")
        if self.shape.delimiter:
            if not crossing:
                return text
            first = bare[0] if bare[0] not in "-=─═" else ""
            last = bare[-1] if first else ""
            inner = [c for c in bare[1:-1] if c not in "-=─═:"] or [crossing]
            line = inner[0].join(fill * (width + 2) for width in self.widths)
            return first + line + last
        if " " not in bare:
            return text
        lengths = [*(width - 2 for width in self.widths[:-1]), max(self.widths[-1], 1)]
        return "  ".join(fill * max(1, length) for length in lengths)
