"""Reading a listing: bytes in, settings and pieces out, nothing lost."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Literal

from asflown.core.listing import Listing, Piece, PieceKind, Shape
from asflown.core.record import Extent, Key, Repeated, Setting, Unread
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import load_toml
from asflown.formats.listing.extent import extent_hint
from asflown.formats.listing.json_listing import read_json
from asflown.formats.listing.leading import put_back, take_off
from asflown.formats.listing.marks import Marks
from asflown.formats.listing.noise import clean
from asflown.formats.listing.pattern import PinnedShape, closest, compile_patterns
from asflown.formats.listing.placing import Placed, place
from asflown.formats.listing.splitting import split_lines
from asflown.formats.listing.table import TableShape
from asflown.formats.listing.text import Text, decode
from asflown.formats.listing.understanding import understand

Repeats = Literal["last", "first", "refuse"]


def read(
    data: bytes, *, shape: str | None = None, repeated: Repeats = "last", ignore: Collection[int] = ()
) -> Listing:
    r"""Read a settings listing without loss, learning its shape from the listing itself.

    Parameters
    ----------
    data
        The bytes as they were saved.
    shape
        Pattern(s) to pin the shape with, one a line, e.g. ``put {name} = {value}``.
    repeated
        Which line wins where a key stands more than once.
    ignore
        Line numbers (from 1) a person declared to be no setting.

    Raises
    ------
    InputError
        Empty, binary or too large; a pattern that is wrong or fits no line; a repeated key with
        ``repeated="refuse"``.

    Examples
    --------
    >>> listing = read(b"put gain = 40\nput tilt_limit = 55 deg\n")
    >>> [(s.key.name, s.value, s.unit) for s in listing.settings]
    [('gain', '40', None), ('tilt_limit', '55', 'deg')]
    """
    pinned = compile_patterns(shape) if shape is not None else ()
    text = decode(data)
    clean(text.lines)
    if not pinned and not ignore:
        listing = read_json(data, text)
        if listing is not None:
            return _settled(listing.settings, listing, repeated)
    _take_off_leads(text, pinned)
    split = split_lines(text) if not pinned else None
    if split is not None:
        text = replace(text, lines=split.lines)
    marks = Marks(
        text.lines,
        [None] * len(text.lines),
        ignored=frozenset(ignore),
        ends_with_break=text.ends_with_break or text.newline == "none",
        records=split.records if split is not None else frozenset(),
        split=split is not None,
    )
    understand(marks, pinned)
    _refuse_no_match(marks, pinned, shape)
    return _listing(data, text, marks, repeated, shape)


def _take_off_leads(text: Text, pinned: tuple[PinnedShape, ...]) -> None:
    """Take off times and the like in front of every line; not where a pinned shape asks for them."""
    before = take_off(text.lines)
    if before and pinned and not any(shape.match(line.text) for line, _ in before[:200] for shape in pinned):
        put_back(before)


def _refuse_no_match(marks: Marks, pinned: tuple[PinnedShape, ...], shape: str | None) -> None:
    if not pinned or marks.found:
        return
    texts = [(line.number, line.text) for line in marks.lines if line.text.strip()]
    near = closest(pinned[0], texts) if texts else (1, "")
    raise InputError(
        f"the shape {shape!r} fits no line; the nearest is line {near[0]}: {near[1].strip()[:120]!r}",
        where="--shape",
        next_step="write the pattern after that line, with {name} and {value} in their places",
    )


def _listing(data: bytes, text: Text, marks: Marks, repeated: Repeats, shape: str | None) -> Listing:
    placed = place(marks)
    settings = tuple(s for number in sorted(marks.found) for s in _settings(marks, number, placed))
    unread = tuple(
        Unread(line.number, line.text.strip(), "no setting" if line.number in marks.ignored else None)
        for line, kind in zip(marks.lines, marks.kinds, strict=True)
        if kind is PieceKind.NOT_UNDERSTOOD
    )
    pieces = _pieces(text, marks)
    complaints = (*text.complaints, *_complaints(text, marks))
    listing = Listing(
        settings=(),
        pieces=pieces,
        not_understood=unread,
        shapes=_shapes(marks),
        family=_family(marks),
        encoding=text.encoding,
        newline=text.newline,
        lossless=is_lossless(data, pieces),
        size=len(data),
        extent=_extent(marks),
        active_banks=placed.active,
        complaints=complaints,
        writer={"marks": marks, "placed": placed, "text": text, "pinned": shape},
    )
    return _settled(settings, listing, repeated)


def _settings(marks: Marks, number: int, placed: Placed) -> list[Setting]:
    """The setting of a line, or those of a row with a column for each bank."""
    first = _setting(marks, number, placed)
    if number not in marks.more:
        return [first]
    own = marks.found[number].bank or ""
    before = (first.key.bank or "").removesuffix(own)
    more = [
        Setting(Key(found.name, f"{before}{found.bank}", found.index), found.value, first.line, found.unit)
        for found in marks.more[number]
    ]
    return [first, *more]


def _setting(marks: Marks, number: int, placed: Placed) -> Setting:
    found = marks.found[number]
    value = found.value
    more = placed.continued.get(number)
    if more:
        value = "\n".join([value.rstrip("\\").rstrip() if value.endswith("\\") else value, *more]).strip("\n")
    return Setting(
        Key(found.name, placed.banks.get(number), found.index), value, marks.lines[number].number, found.unit
    )


def _settled(settings: tuple[Setting, ...], listing: Listing, repeated: Repeats) -> Listing:
    """One setting a key; keys that stand more than once are reported, or refused."""
    firsts: dict[Key, Setting] = {}
    groups: dict[Key, list[Setting]] = {}
    for setting in settings:
        first = firsts.setdefault(setting.key, setting)
        if first is not setting:
            groups.setdefault(setting.key, [first]).append(setting)
    if not groups:
        return replace(listing, settings=settings)
    twice = tuple(
        Repeated(str(key), tuple(s.line or 0 for s in group), tuple(s.value for s in group))
        for key, group in groups.items()
    )
    if twice and repeated == "refuse":
        raise InputError(
            f"{len(twice)} key(s) stand more than once",
            next_step="take one of the lines out, or say which wins: last or first",
            faults=tuple(
                Fault(
                    f"{item.key} stands {len(item.lines)} times: {', '.join(item.values)}",
                    f"line {item.lines[0]}",
                )
                for item in twice
            ),
        )
    pick = 0 if repeated == "first" else -1
    losers = {id(setting) for group in groups.values() for setting in group if setting is not group[pick]}
    kept = tuple(setting for setting in settings if id(setting) not in losers)
    return replace(listing, settings=kept, repeated=twice)


def _pieces(text: Text, marks: Marks) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    size = len(text.bom)
    if size:
        pieces.append(Piece(PieceKind.STRUCTURE, 0, size, 1))
    for line, kind in zip(marks.lines, marks.kinds, strict=True):
        pieces.append(Piece(kind or PieceKind.NOT_UNDERSTOOD, line.start, line.end, line.number))
    return tuple(pieces)


def is_lossless(data: bytes, pieces: tuple[Piece, ...]) -> bool:
    """Whether the pieces follow each other without gap or overlap and give the original bytes when joined."""
    place = 0
    for piece in pieces:
        if piece.start != place or piece.end < piece.start:
            return False
        place = piece.end
    if place != len(data):
        return False
    for first in range(0, len(pieces), 4096):  # in runs, so that a large listing is not held twice
        run = pieces[first : first + 4096]
        if b"".join(data[p.start : p.end] for p in run) != data[run[0].start : run[-1].end]:
            return False
    return True


def _shapes(marks: Marks) -> tuple[Shape, ...]:
    found = []
    for number, shape in enumerate(marks.shapes):
        lines = [n for n, which in marks.shape_of.items() if which == number]
        if lines:
            first = min(lines)
            found.append(Shape(shape.pattern(), len(lines), marks.text(first).strip()[:200], shape.says()))
    styles: dict[str, list[int]] = {}
    for number, header in marks.headers.items():
        styles.setdefault(header.style, []).append(number)
    for lines in styles.values():
        first = min(lines)
        text, label = marks.text(first).strip(), marks.headers[first].text
        pattern = text.replace(label, "{bank}", 1) if label in text else text
        found.append(
            Shape(pattern, len(lines), text[:200], "a header: the settings after it stand in that bank")
        )
    return tuple(found)


def _family(marks: Marks) -> str:
    if any(isinstance(shape, TableShape) for shape in marks.shapes):
        table = next(shape for shape in marks.shapes if isinstance(shape, TableShape))
        return "csv" if table.delimiter in (",", ";") else "table"
    bracketed = sum(header.style == "[…]" for header in marks.headers.values())
    main = marks.shapes[0] if marks.shapes else None
    mark = getattr(getattr(main, "separator", None), "mark", "")
    if bracketed and mark in ("=", ":"):
        return "toml" if _is_toml(marks) else "ini"
    return "lines"


def _is_toml(marks: Marks) -> bool:
    try:
        load_toml("\n".join(line.text for line in marks.lines).encode("utf-8", "replace"), "listing")
    except InputError:
        return False
    return True


def _complaints(text: Text, marks: Marks) -> list[str]:
    said = []
    if marks.lines and not text.ends_with_break and text.newline != "none":
        last = len(marks.lines) - 1
        what = f"line {last + 1} has no line end: the listing may be cut there"
        if marks.kinds[last] is PieceKind.NOT_UNDERSTOOD:
            what = f"line {last + 1} is cut: it has no line end and is no whole setting"
        if marks.kinds[last] in (PieceKind.SETTING, PieceKind.NOT_UNDERSTOOD):
            said.append(what)
    if not marks.found:
        said.append("no settings were found")
    return said


def _extent(marks: Marks) -> Extent:
    told = (PieceKind.COMMENT, PieceKind.NOISE, PieceKind.NOT_UNDERSTOOD, PieceKind.FIXED, PieceKind.BANK)
    return extent_hint(
        [line.text for line, kind in zip(marks.lines, marks.kinds, strict=True) if kind in told][:2000]
    )
