"""What ``asflown listing show`` shows: what was learned from a listing, and what was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from asflown.core.listing import Listing
from asflown.core.record import Extent

_NEWLINES = {"lf": "LF", "crlf": "CR LF", "cr": "CR", "mixed": "mixed", "none": "none"}
_EXTENTS = {
    Extent.FULL: "full: the listing says it shows every setting",
    Extent.CHANGES_ONLY: "changes-only: the listing says it shows what differs from factory",
    Extent.UNKNOWN: "unknown: the listing does not say whether it is full or changes-only",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the head block: a word and what is known."""

    word: str
    fact: str


@dataclass(frozen=True)
class ListingShown:
    """A listing as a face shows it.

    Attributes
    ----------
    sentence
        Where things stand, in one sentence.
    rows
        What was learned.
    settings
        ``(line, bank, name with index, value, unit)`` of each setting, texts.
    not_understood
        ``(line, text, said)`` of each line nobody understood.
    complaints
        What a person should know.
    next_act
        The next step in words.
    """

    sentence: str
    rows: tuple[Row, ...]
    settings: tuple[tuple[str, str, str, str, str], ...]
    not_understood: tuple[tuple[str, str, str], ...]
    complaints: tuple[str, ...]
    next_act: str
    body: dict[str, Any]

    def to_json(self) -> dict[str, Any]:
        """The body of ``--json``."""
        return self.body


def show_listing(listing: Listing) -> ListingShown:
    """Turn a listing into rows, sentences and the ``--json`` body."""
    still_open = [line for line in listing.not_understood if line.said is None]
    return ListingShown(
        sentence=_sentence(listing, len(still_open)),
        rows=tuple(_rows(listing)),
        settings=tuple(
            (
                str(s.line) if s.line is not None else "",
                s.key.bank or "",
                s.key.name if s.key.index is None else f"{s.key.name}[{s.key.index}]",
                s.value,
                s.unit or "",
            )
            for s in listing.settings
        ),
        not_understood=tuple((str(u.line), u.text, u.said or "open") for u in listing.not_understood),
        complaints=listing.complaints,
        next_act=_next_act(listing, [line.line for line in still_open]),
        body=_body(listing),
    )


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _sentence(listing: Listing, still_open: int) -> str:
    read = _count(len(listing.settings), "setting was read", "settings were read")
    if not still_open:
        return f"{read}; every line is accounted for."
    return f"{read}; {_count(still_open, 'line was', 'lines were')} not understood."


def _rows(listing: Listing) -> list[Row]:
    rows = [Row("Built as", listing.family)]
    rows += [
        Row("Shape", f"{shape.pattern}  ({_count(shape.lines, 'line', 'lines')}): {shape.says}")
        for shape in listing.shapes
    ]
    rows.append(Row("Settings", str(len(listing.settings))))
    banks = list(dict.fromkeys(s.key.bank for s in listing.settings if s.key.bank is not None))
    if banks:
        more = f" and {len(banks) - 8} more" if len(banks) > 8 else ""
        rows.append(Row("Banks", f"{len(banks)}: {', '.join(banks[:8])}{more}"))
    rows += [Row("Active", f"{word} {choice}") for word, choice in listing.active_banks.items()]
    rows.append(Row("Extent", _EXTENTS[listing.extent]))
    rows.append(
        Row("Text", f"{listing.encoding}, line ends {_NEWLINES[listing.newline]}, {listing.size} bytes")
    )
    rows.append(Row("Without loss", "yes, the pieces joined give the file" if listing.lossless else "no"))
    rows += [
        Row("Repeated", f"{r.key}: lines {', '.join(map(str, r.lines))}: {', '.join(r.values)}")
        for r in listing.repeated
    ]
    return rows


def _next_act(listing: Listing, still_open: list[int]) -> str:
    if still_open:
        some = ", ".join(map(str, still_open[:6])) + (" …" if len(still_open) > 6 else "")
        return f"say that these lines are no settings, or pin the shape with --shape: {some}"
    if not listing.settings:
        return "pin the shape with --shape, e.g. --shape 'put {name} = {value}'"
    return "keep it as a record: asflown found FILE"


def _index(text: str | None) -> int | str | None:
    return int(text) if text is not None and text.isascii() and text.isdecimal() else text


def _body(listing: Listing) -> dict[str, Any]:
    return {
        "settings": [
            {
                "name": s.key.name,
                "bank": s.key.bank,
                "index": _index(s.key.index),
                "value": s.value,
                "line": s.line,
                "unit": s.unit,
            }
            for s in listing.settings
        ],
        "not_understood": [{"line": u.line, "text": u.text, "said": u.said} for u in listing.not_understood],
        "shapes": [
            {"pattern": s.pattern, "lines": s.lines, "example": s.example, "says": s.says}
            for s in listing.shapes
        ],
        "family": listing.family,
        "encoding": listing.encoding,
        "newline": listing.newline,
        "lossless": listing.lossless,
        "size": listing.size,
        "extent": str(listing.extent),
        "active_banks": dict(listing.active_banks),
        "repeated": [
            {"key": r.key, "lines": list(r.lines), "values": list(r.values)} for r in listing.repeated
        ],
        "complaints": list(listing.complaints),
    }
