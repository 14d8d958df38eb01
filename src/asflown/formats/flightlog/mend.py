"""A block in which some line is odd, line by line: what is no row taken out, short and long rows evened."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.formats.flightlog.dialect import COMMENTS
from asflown.formats.flightlog.sniff import Sniffed
from asflown.formats.flightlog.tally import Tally

if TYPE_CHECKING:
    import numpy.typing as npt

_LONGEST = 1024 * 1024
_STATED = re.compile(rb"^\s*[A-Za-z_][^=:]{0,60}[:=]\s*\S")


@dataclass
class Mended:
    """A block of rows that all have the right number of cells.

    Attributes
    ----------
    numbers
        (rows,) line of each row, from 0.
    lines
        Lines the block had.
    """

    block: bytes
    numbers: npt.NDArray[np.int64]
    lines: int
    has_quotes: bool


class _Mender:
    """The rows of a block, as they are decided line by line."""

    def __init__(self, sniffed: Sniffed, tally: Tally) -> None:
        dialect = sniffed.dialect
        self.separator = dialect.separator.encode()
        self.width = dialect.width
        self.tally = tally
        self.style = sniffed.short_is_style
        self.heads = {_key(head.encode()) for head in sniffed.heads}
        self.header = _key(sniffed.heads[0].encode()) if sniffed.heads else b""
        self.glued = sniffed.heads[0].strip().encode() if sniffed.heads and dialect.width > 1 else b""
        self.preamble = {_key(line.encode()) for line in sniffed.preamble}
        self.stated = {key.encode() for key in sniffed.stated or {}}
        self.comments = tuple(mark.encode() for mark in COMMENTS)
        if dialect.separator != ";":
            self.comments += (b";",)

    def row(self, line: bytes, number: int) -> bytes | None:
        """The line as a row of the right width, ``None`` where it is none."""
        if len(line) > _LONGEST:
            self.tally.add("overlong lines", number)
            return None
        if self._is_left_out(line, number):
            return None
        if self.glued and self.glued in line:  # the logger was restarted within a row
            self.tally.add("repeated header", number)
            line = line[: line.find(self.glued)]
            return self._short(self._cells(line), number)
        if line.count(b'"') % 2:
            self.tally.add("stray quotes", number)
            line = line.replace(b'"', b"")
        cells = self._cells(line)
        if len(cells) == self.width:
            return line
        if len(cells) > self.width:
            return self._long(cells, number)
        return self._short(cells, number)

    def _is_left_out(self, line: bytes, number: int) -> bool:
        stripped = line.strip()
        kind = ""
        if not stripped:
            kind = "blank lines"
        elif (key := _key(line)) in self.heads:
            kind = "repeated header" if key == self.header else "repeated preamble"
        elif stripped.startswith(self.comments):
            kind = "comment lines"
        elif key in self.preamble or self._is_stated(stripped):
            kind = "repeated preamble"
        if kind:
            self.tally.add(kind, number)
        return bool(kind)

    def _is_stated(self, line: bytes) -> bool:
        """A ``key: value`` line with a key of the preamble, written again by a restarted logger."""
        match = _STATED.match(line) if self.stated else None
        return bool(match) and re.split(rb"\s*[:=]", line, maxsplit=1)[0].strip() in self.stated

    def _cells(self, line: bytes) -> list[bytes]:
        if b'"' not in line:
            return line.split(self.separator)
        parts: list[bytes] = []
        held: list[bytes] = []
        quotes = 0
        for part in line.split(self.separator):
            held.append(part)
            quotes += part.count(b'"')
            if quotes % 2 == 0:
                parts.append(self.separator.join(held))
                held, quotes = [], 0
        return parts + held

    def _long(self, cells: list[bytes], number: int) -> bytes:
        if any(cell.strip() for cell in cells[self.width :]):
            self.tally.add("long rows", number)
        return self.separator.join(cells[: self.width])

    def _short(self, cells: list[bytes], number: int) -> bytes | None:
        if self.style:
            self.tally.add("short rows padded", number)
        else:
            cells = cells[:-1]
            if not any(cell.strip() for cell in cells):
                self.tally.add("broken rows", number)
                return None
            self.tally.add("short rows", number)
        return self.separator.join(cells) + self.separator * (self.width - len(cells))


def mend(block: bytes, sniffed: Sniffed, tally: Tally, *, is_last: bool) -> Mended:
    """Even out the lines of a block."""
    zeros = block.count(0)
    if zeros:
        tally.add("zero bytes", block[: block.find(0)].count(b"\n"), zeros)
        block = block.replace(b"\0", b"")
    if b"\r" in block:
        block = block.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    mender = _Mender(sniffed, tally)
    lines = block.split(b"\n")
    is_cut = is_last and bool(lines[-1].strip()) and _is_cut(lines[-1], mender)
    if is_cut:
        tally.add("cut last line", len(lines) - 1)
        lines[-1] = b""
    if not lines[-1].strip():
        lines.pop()
    kept: list[bytes] = []
    places: list[int] = []
    for number, line in enumerate(lines):
        if not line:
            tally.add("blank lines", number)
            continue
        row = _plain(line, mender) or mender.row(line, number)
        if row is not None:
            kept.append(row)
            places.append(number)
    made = b"\n".join(kept)
    if kept:
        made += b"\n"
    return Mended(made, np.array(places, np.int64), len(lines) + is_cut, b'"' in made)


def _plain(line: bytes, mender: _Mender) -> bytes | None:
    """The line itself where nothing can be odd about it: begins as a number does and has the right width."""
    if mender.glued and mender.glued in line:
        return None
    if line[:1] in _DIGITS and line.count(mender.separator) == mender.width - 1 and b'"' not in line:
        return line if len(line) <= _LONGEST else None
    return None


_DIGITS = frozenset(bytes([letter]) for letter in b"0123456789-+.")


def _is_cut(line: bytes, mender: _Mender) -> bool:
    return len(mender._cells(line)) < mender.width and not mender.style


def _key(line: bytes) -> bytes:
    """A line as it is compared: without blanks around cells, quotes and byte order mark."""
    return b"".join(line.replace(b'"', b"").replace(b"\xef\xbb\xbf", b"").split())
