"""Writing a clean listing in the shape another one had: no prompts, no echo, no terminal control."""

from __future__ import annotations

import codecs
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from asflown.core.listing import Listing, PieceKind
from asflown.core.record import Setting
from asflown.errors import Fault, InputError
from asflown.formats.listing.json_writing import write_json
from asflown.formats.listing.marks import Marks
from asflown.formats.listing.placing import Placed
from asflown.formats.listing.proving import wrong_settings
from asflown.formats.listing.row_writing import RowWriter
from asflown.formats.listing.table import is_ruler
from asflown.formats.listing.table_writing import TableWriter

_BOMS = {
    "utf-8-sig": codecs.BOM_UTF8,
    "utf-16-le": codecs.BOM_UTF16_LE,
    "utf-16-be": codecs.BOM_UTF16_BE,
    "utf-32-le": codecs.BOM_UTF32_LE,
    "utf-32-be": codecs.BOM_UTF32_BE,
}


@dataclass(frozen=True)
class Manner:
    """How close to the original's own lines a listing is written.

    Attributes
    ----------
    own_lines
        Whether each setting takes its own line of the original, or a plain one's.
    surroundings
        Whether constant lines around the settings are kept.
    prompts
        Whether a typed command that selects a bank keeps its prompt.
    """

    own_lines: bool = True
    surroundings: bool = True
    prompts: bool = False


#: The closest first; a plainer one is used where the closest does not read back.
_MANNERS = (
    Manner(),
    Manner(surroundings=False),
    Manner(own_lines=False),
    Manner(False, False),
    Manner(prompts=True),
)
_ENDS = {"lf": "\n", "crlf": "\r\n", "cr": "\r"}


def write(listing: Listing, settings: Sequence[Setting]) -> bytes:
    r"""Write settings in the shape (separator, quoting, columns, banks, encoding, line ends) of a listing.

    Parameters
    ----------
    listing
        A listing that :func:`read` returned.
    settings
        What to write. Banks come in the order of their first setting, settings without a bank first;
        within a bank the order given is kept.

    Raises
    ------
    InputError
        Where the listing's shape cannot carry a name, value or bank; every such setting is named.

    Examples
    --------
    >>> from asflown.formats.listing import read
    >>> listing = read(b"> dump\nput gain = 40\nput limit = 55\n")
    >>> write(listing, listing.settings)
    b'put gain = 40\nput limit = 55\n'
    """
    if "json" in listing.writer:
        return _encode(write_json(listing, settings), listing)
    if "marks" not in listing.writer or not listing.writer["marks"].shapes:
        raise InputError(
            "this listing has no settings, so nothing tells how one is written",
            next_step="give a listing of the same firmware that has settings",
        )
    if listing.writer["marks"].more:
        raise InputError(
            f"this listing has a column for each bank; {len(settings)} setting(s) cannot be written so",
            next_step="give a listing of the same firmware that shows one bank after the other",
            faults=tuple(Fault(f"{setting.key!s}") for setting in settings),
        )
    first: list[Fault] = []
    for manner in _MANNERS:
        try:
            lines = _Writer(listing.writer["marks"], listing.writer["placed"], listing, manner).lines(
                settings
            )
        except InputError as error:
            if not first:
                raise
            first = first or list(error.faults)
            continue
        end = _ENDS.get(listing.newline, "\n")
        data = _encode(end.join(lines) + (end if lines else ""), listing)
        faults = wrong_settings(listing, settings, data)
        if not faults:
            return data
        first = first or faults
    raise InputError(
        f"{len(first)} setting(s) would not come back from a listing in this shape",
        next_step="pin the listing's shape with a pattern, or write these on the aircraft by hand",
        faults=tuple(first),
    )


def _encode(text: str, listing: Listing) -> bytes:
    codec = "utf-8" if listing.encoding == "utf-8-sig" else listing.encoding
    bom = _BOMS.get(listing.encoding, b"") if listing.writer["text"].bom else b""
    try:
        return bom + text.encode(codec)
    except UnicodeEncodeError as error:
        raise InputError(
            f"{error.object[error.start : error.end]!r} cannot be written in {listing.encoding}",
            next_step="take the character out of the value",
        ) from None


class _Writer:
    """Lays out banks, and lets a row writer make each line."""

    def __init__(self, marks: Marks, placed: Placed, listing: Listing, manner: Manner) -> None:
        self.marks = marks
        self.manner = manner
        self.placed = placed
        self.listing = listing
        self.own_banks = any(found.bank for found in marks.found.values())
        self.out: list[str] = []
        self.open: list[int] = []

    def lines(self, settings: Sequence[Setting]) -> list[str]:
        groups: dict[str | None, list[Setting]] = {None: []}
        for setting in settings:
            groups.setdefault(None if self.own_banks else setting.key.bank, []).append(setting)
        rows = self._rows(settings)
        self.out.extend(self._around(self._top()))
        for bank, group in groups.items():
            if bank is not None:
                self._switch(bank)
            elif group:
                self.out.extend(self._around(self._after_header(-1, keep_fixed=False)))
            for setting in group:
                if bank is not None and self.marks.records and self.out:
                    self.out[-1] += " " + " ".join(rows[id(setting)])
                else:
                    self.out.extend(rows[id(setting)])
        self._close(0)
        self.out.extend(self._bottom())
        return self.out

    def _rows(self, settings: Sequence[Setting]) -> dict[int, list[str]]:
        writer = TableWriter(self.marks, self.placed) if TableWriter.fits(self.marks) else None
        if writer is not None:
            writer.lay_out(settings)
        plain = RowWriter(self.marks, self.placed, own_lines=self.manner.own_lines)
        rows: dict[int, list[str]] = {}
        faults: list[Fault] = []
        previous: Setting | None = None
        for setting in settings:
            lines = writer.lines(setting) if writer is not None else None
            if lines is None:
                lines = plain.lines(setting, previous)
            if lines is None:
                faults.append(
                    Fault(f"{setting.key!s} = {setting.value!r} cannot be written in this listing's shape")
                )
                continue
            rows[id(setting)] = lines
            previous = setting
        if faults:
            raise InputError(
                f"{len(faults)} setting(s) cannot be written in the shape {self.marks.shapes[0].pattern()!r}",
                next_step="change the value, or write it on the aircraft by hand",
                faults=tuple(faults),
            )
        self.table = writer
        return rows

    def _around(self, numbers: Iterable[int]) -> list[str]:
        texts = []
        for number in numbers:
            text = self.marks.text(number)
            shape_line = self.table.drawn(text) if self.table is not None else None
            texts.append(shape_line if shape_line is not None else text)
        return texts

    def _top(self) -> list[int]:
        first = min([*self.marks.found, *self.marks.headers], default=0)
        return [n for n in range(first) if self._kept(n)]

    def _kept(self, number: int) -> bool:
        kind = self.marks.kinds[number]
        if not self.manner.surroundings and kind is not PieceKind.HEADER:
            return False
        drawing = (
            kind is PieceKind.STRUCTURE
            and is_ruler(self.marks.text(number))
            and number not in self.marks.closers
        )
        return kind in (PieceKind.FIXED, PieceKind.HEADER) or drawing

    def _after_header(self, number: int, *, keep_fixed: bool = True) -> list[int]:
        """Titles and drawing between a header and the first row behind it."""
        if number < 0:
            return []
        kept = []
        for later in range(number + 1, len(self.marks.lines)):
            if later in self.marks.found or later in self.marks.headers:
                break
            if self._kept(later) and later not in self.marks.closers:
                kept.append(later)
        return kept

    def _switch(self, bank: str) -> None:
        path = self.placed.paths.get(bank)
        if path is None:
            self._new_bank(bank)
            return
        same = 0
        texts = [self.marks.headers[n].text for n in self.open if n >= 0]
        wanted = [self.marks.headers[n].text for n in path]
        while same < len(wanted) - 1 and same < len(texts) and texts[same] == wanted[same]:
            same += 1
        self._close(same)
        for number in path[same:]:
            self._space()
            self.out.append(self._header_text(number))
            self.out.extend(self._around(self._after_header(number)))
            self.open.append(number)

    def _header_text(self, number: int) -> str:
        text = self.marks.text(number)
        if self.marks.headers[number].style == "[…]" and "]" in text:
            text = text[: text.find("]") + 1]  # a remark behind it stays out, as other remarks do
        return self.marks.prompts.get(number, text) if self.manner.prompts else text

    def _space(self) -> None:
        """A blank line before a header where the original had them."""
        first = [n for n in sorted(self.marks.headers) if n > 0][-1:]
        blank = any(self.marks.kinds[n - 1] is PieceKind.BLANK for n in first)
        if blank and self.out and self.out[-1]:
            self.out.append("")

    def _new_bank(self, bank: str) -> None:
        """A header for a bank the original has not, in the shape of one that is alone in its path."""
        singles = [path[0] for path in self.placed.paths.values() if len(path) == 1]
        if not singles:
            raise InputError(
                f"the listing has no banks, so bank {bank!r} cannot be written in its shape",
                next_step="give a listing of the same firmware that has banks",
            )
        number = next((n for n in singles if self._alike(self.marks.headers[n].text, bank)), singles[-1])
        label, text = self.marks.headers[number].text, self.marks.text(number)
        self._close(0)
        self._space()
        if label in text:
            text = text.replace(label, bank)
        else:
            text = text.replace(label.split()[-1], bank.split()[-1])
        self.out.append(text)
        self.out.extend(self._around(self._after_header(number)))
        self.open.append(number)

    @staticmethod
    def _alike(label: str, bank: str) -> bool:
        return label.split()[:-1] == bank.split()[:-1]

    def _close(self, depth: int) -> None:
        while len(self.open) > depth:
            number = self.open.pop()
            end = self._closer(number)
            if end is not None:
                self.out.append(self.marks.text(end))

    def _closer(self, number: int) -> int | None:
        depth = 0
        for later in range(number + 1, len(self.marks.lines)):
            if later in self.marks.headers:
                depth += 1
            elif later in self.marks.closers:
                if depth == 0 or self.marks.headers[number].style != "{":
                    return later
                depth -= 1
            if depth and self.marks.headers[number].style != "{":
                return None
        return None

    def _bottom(self) -> list[str]:
        last = max(
            [*self.marks.found, *(n for n in self.marks.headers if n not in self.placed.statements)],
            default=-1,
        )
        return [
            self._around([n])[0]
            for n in range(last + 1, len(self.marks.lines))
            if n in self.placed.statements or (self._kept(n) and n not in self.marks.closers)
        ]
