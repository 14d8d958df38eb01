"""Bytes to lines: encoding, line ends, and which bytes each line came from."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from asflown.errors import InputError

#: Listings larger than this are refused (bytes).
LIMIT = 64 * 1024 * 1024
#: Listings with more lines than this are refused; real ones stay below twenty thousand.
LINE_LIMIT = 500_000

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_BREAK = re.compile(r"\r{0,3}\n|\r")
_BYTE_BREAK = re.compile(rb"\r{0,3}\n|\r")
#: Control characters that text of a terminal may hold: tab, line ends, form feed, backspace, bell, escape.
_TEXT_CONTROLS = frozenset((7, 8, 9, 10, 11, 12, 13, 14, 15, 26, 27))


@dataclass(slots=True)
class Line:
    """One line of the original: its text without the line end, and its bytes ``[start:end]``."""

    number: int
    text: str
    start: int
    end: int
    #: Whether terminal control was taken out of the text.
    noisy: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """A decoded original."""

    lines: list[Line]
    encoding: str
    newline: str
    #: Bytes of a byte order mark before the first line.
    bom: bytes
    ends_with_break: bool
    complaints: tuple[str, ...]


def decode(data: bytes) -> Text:
    """Decode an original into lines.

    Raises
    ------
    InputError
        Empty, binary, larger than `LIMIT` or longer than `LINE_LIMIT` lines.
    """
    if not data:
        raise InputError(
            "the listing is empty (0 bytes)", next_step="save the listing again and look at the file's size"
        )
    if len(data) > LIMIT:
        raise InputError(
            f"the listing has {len(data)} bytes, more than the limit of {LIMIT} (64 MB)",
            next_step="cut the file down to the settings listing",
        )
    encoding, bom = _encoding(data)
    body = data[len(bom) :]
    complaints: list[str] = []
    if encoding in ("utf-8", "utf-8-sig", "latin-1"):
        _refuse_binary(body)
        if b"\0" in body:
            complaints.append(
                f"{body.count(0)} NUL bytes stand in the text; they are left out of names and values"
            )
    lines, mixed = _lines(body, encoding, len(bom))
    if mixed:
        complaints.append(
            f"mixed encodings: {mixed} line(s) are not UTF-8 and were read as Latin-1 "
            f"(first: line {next(n for n, _ in _bad_lines(body))})"
        )
    newline, last = _newline(body, encoding)
    return Text(lines, encoding, newline, bom, last, tuple(complaints))


def _encoding(data: bytes) -> tuple[str, bytes]:
    for bom, name in _BOMS:
        if data.startswith(bom) and _decodes(data[len(bom) :], name):
            return name, bom
    head = data[:4096]
    if len(data) % 2 == 0 and head.count(0) * 5 > len(head) * 2:
        odd, even = head[1::2].count(0), head[0::2].count(0)
        name = "utf-16-le" if odd > even else "utf-16-be"
        if min(odd, even) * 20 <= max(odd, even) and _decodes(data, name):
            return name, b""
    if _decodes(data, "utf-8"):
        return "utf-8", b""
    if _mostly_utf8(data):
        return "utf-8", b""
    return "latin-1", b""


def _decodes(data: bytes, encoding: str) -> bool:
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


def _bad_lines(data: bytes) -> list[tuple[int, bytes]]:
    return [
        (number, line)
        for number, line in enumerate(_BYTE_BREAK.split(data), start=1)
        if not line.isascii() and not _decodes(line, "utf-8")
    ]


def _mostly_utf8(data: bytes) -> bool:
    """Whether well-formed UTF-8 lines with non-ASCII characters outnumber the ill-formed ones."""
    good = bad = 0
    for line in _BYTE_BREAK.split(data):
        if line.isascii():
            continue
        if _decodes(line, "utf-8"):
            good += 1
        else:
            bad += 1
    return good > bad


def _refuse_binary(data: bytes) -> None:
    head = data[:65536] + data[-65536:] if len(data) > 131072 else data
    odd = sum(head.count(code) for code in range(32) if code not in _TEXT_CONTROLS) + head.count(127)
    if odd * 20 > len(head) + 60:
        raise InputError(
            f"this is a binary file, no text: {odd} of {len(head)} bytes looked at are control bytes",
            next_step="give the listing as text, as the firmware's terminal printed it",
        )


def _lines(body: bytes, encoding: str, offset: int) -> tuple[list[Line], int]:
    if body.count(b"\n") + body.count(b"\r") > 2 * LINE_LIMIT:
        _too_many()
    if encoding.startswith("utf-8") and not _decodes(body, "utf-8"):
        return _mixed_lines(body, offset)
    codec = "utf-8" if encoding == "utf-8-sig" else encoding
    text = body.decode(codec)
    plain = codec == "latin-1" or (codec == "utf-8" and len(text) == len(body))
    lines: list[Line] = []
    start, place = offset, 0
    for stop, after in _breaks(text):
        size = after - place if plain else len(text[place:after].encode(codec))
        lines.append(Line(len(lines) + 1, text[place:stop], start, start + size))
        start, place = start + size, after
        if len(lines) > LINE_LIMIT:
            _too_many()
    return lines, 0


def _too_many() -> None:
    raise InputError(
        f"the listing has more than {LINE_LIMIT} lines", next_step="cut the file down to the settings listing"
    )


def _breaks(text: str) -> list[tuple[int, int]]:
    """Where each line's text stops and where the next begins.

    A lone carriage return ends a line, unless what stands before it is blank or a pager's word that the
    terminal overwrote: then it belongs to the line that follows.
    """
    found: list[tuple[int, int]] = []
    place = 0
    lone_counts = text.count("\n") < text.count("\r")
    for match in _BREAK.finditer(text):
        if match.group() == "\r" and not lone_counts and overwritten(text[place : match.start()]):
            continue
        found.append((match.start(), match.end()))
        place = match.end()
    if place < len(text):
        found.append((len(text), len(text)))
    return found


_PAGER = re.compile(
    r"^\W*(more|\(?end\)?|press (any|a|the|space|enter|return)\b.{0,40}|(hit|type) .{0,30}(continue|more)"
    r"|next page|lines? \d+-\d+.{0,30}|page \d+( (of|/) \d+)?|continue\?)\W*(\(?\d+ ?%\)?)?\W*$",
    re.IGNORECASE,
)
_ESCAPES = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)?|\x1b[PX^_][^\x1b]*(?:\x1b\\)?"
    r"|\x1b[ -/]*[0-~]|\x9b[0-?]*[ -/]*[@-~]"
)


def is_pager(text: str) -> bool:
    """Whether a line is a pager's word: page breaks, *more*, *press any key*."""
    if len(text) > 120:
        return False
    bare = text.strip()
    if not bare or bare.lower() in ("more", "end", "(end)"):
        return bare.lower() == "(end)"
    return _PAGER.match(bare) is not None


def overwritten(text: str) -> bool:
    """Whether text before a lone carriage return was meant to be overwritten."""
    if len(text) > 400:
        return False
    bare = without_escapes(text)
    segments = re.split(r"[\r\x08]+", bare)
    return all(not part.strip() or is_pager(part) for part in segments)


def without_escapes(text: str) -> str:
    """Text without terminal control sequences (ECMA-48 CSI and OSC; from memory)."""
    return _ESCAPES.sub("", text) if "\x1b" in text or "\x9b" in text else text


def _mixed_lines(body: bytes, offset: int) -> tuple[list[Line], int]:
    lines: list[Line] = []
    mixed = 0
    place = 0
    stops = [(m.start(), m.end()) for m in _BYTE_BREAK.finditer(body)]
    if not stops or stops[-1][1] < len(body):
        stops.append((len(body), len(body)))
    for stop, after in stops:
        raw = body[place:stop]
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            text = raw.decode("latin-1")
            mixed += 1
        lines.append(Line(len(lines) + 1, text, offset + place, offset + after))
        place = after
    if len(lines) > LINE_LIMIT:
        _too_many()
    return lines, mixed


def _newline(body: bytes, encoding: str) -> tuple[str, bool]:
    if encoding.startswith(("utf-16", "utf-32")):
        text = body.decode(encoding)
        body = text.encode("utf-8", "surrogatepass")
    pairs = body.count(b"\r\n")
    line_feeds = body.count(b"\n") - pairs
    returns = len(re.findall(rb"\r(?![\r\n])", body))
    ends = body.endswith((b"\n", b"\r"))
    kinds = {"crlf": pairs, "lf": line_feeds, "cr": returns}
    total = sum(kinds.values())
    if not total:
        return "none", False
    best = max(kinds, key=lambda kind: kinds[kind])
    if kinds["cr"] and best != "cr" and kinds["cr"] * 10 < total:
        total -= kinds["cr"]
    return (best if kinds[best] == total else "mixed"), ends
