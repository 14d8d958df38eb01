"""Listings written as JSON, or with one JSON object a line."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict

from asflown.core.listing import Listing, Piece, PieceKind, Shape
from asflown.core.record import Key, Setting
from asflown.formats.listing.json_text import NotJson, Scalar, Step, scan
from asflown.formats.listing.roles import NAMES, VALUES
from asflown.formats.listing.text import Text

_NAME_KEYS = ("name", "parameter", "param", "key", "setting", "id")


def read_json(data: bytes, text: Text) -> Listing | None:
    """Read a listing that is one JSON text, ``None`` where it is none."""
    body = _body(text)
    if body is None:
        return None
    joined, first, last = body
    try:
        scalars = scan(joined)
    except (NotJson, RecursionError):
        return None
    starts = [0]
    for line in text.lines[first : last + 1]:
        starts.append(starts[-1] + len(line.text) + 1)
    settings, used = _settings(scalars, starts, first)
    if not settings:
        return None
    pieces = _pieces(text, {s.line for s in settings if s.line}, first, last)
    from asflown.formats.listing.reading import is_lossless

    shape = Shape(
        '{"{name}": {value}}', len(settings), joined[:120].strip(), "JSON: nested objects are banks"
    )
    return Listing(
        settings=tuple(settings),
        pieces=pieces,
        not_understood=(),
        shapes=(shape,),
        family="json",
        encoding=text.encoding,
        newline=text.newline,
        lossless=is_lossless(data, pieces),
        size=len(data),
        writer={"json": joined, "scalars": tuple(scalars), "used": used, "text": text},
    )


def _body(text: Text) -> tuple[str, int, int] | None:
    """The JSON text among the lines: from the first that opens a container to the last that closes one."""
    filled = [n for n, line in enumerate(text.lines) if line.text.strip()]
    if not filled:
        return None
    first = next((n for n in filled[:20] if text.lines[n].text.lstrip()[:1] in "{["), None)
    last = next((n for n in reversed(filled[-20:]) if text.lines[n].text.rstrip()[-1:] in "}]"), None)
    if first is None or last is None or last < first:
        return None
    around = [text.lines[n].text for n in filled if n < first or n > last]
    inside = sum(first <= n <= last for n in filled)
    if any(len(line) > 200 for line in around) or len(around) > max(3, inside):
        return None
    if around and inside == 1 and "{" not in text.lines[first].text:
        return None
    return "\n".join(line.text for line in text.lines[first : last + 1]), first, last


def _pieces(text: Text, lines: set[int], first: int, last: int) -> tuple[Piece, ...]:
    pieces = [Piece(PieceKind.STRUCTURE, 0, len(text.bom), 1)] if text.bom else []
    for number, line in enumerate(text.lines):
        kind = PieceKind.STRUCTURE
        if line.number in lines:
            kind = PieceKind.SETTING
        elif not line.text.strip():
            kind = PieceKind.BLANK
        elif number < first or number > last:
            kind = PieceKind.NOISE
        pieces.append(Piece(kind, line.start, line.end, line.number))
    return tuple(pieces)


def _settings(scalars: list[Scalar], starts: list[int], first: int) -> tuple[list[Setting], dict[int, Key]]:
    tables = _tables(scalars)
    settings: list[Setting] = []
    used: dict[int, Key] = {}
    names: dict[tuple[Step, ...], str] = {}
    units: dict[tuple[Step, ...], str] = {}
    for scalar in scalars:
        keys = tables.get(scalar.path[:-2])
        if keys is not None and len(scalar.path) >= 2:
            if scalar.path[-1] == keys[0]:
                names[scalar.path[:-1]] = scalar.text
            elif scalar.path[-1] in ("unit", "units"):
                units[scalar.path[:-1]] = scalar.text
    for number, scalar in enumerate(scalars):
        line = first + bisect_right(starts, scalar.start)
        keys = tables.get(scalar.path[:-2]) if len(scalar.path) >= 2 else None
        if keys is not None and isinstance(scalar.path[-2], int):
            row = scalar.path[:-1]
            if scalar.path[-1] == keys[1] and row in names:
                key = Key(names[row], _bank(scalar.path[:-2]))
                settings.append(Setting(key, scalar.text, line, units.get(row)))
                used[number] = key
            continue
        key_or_none = key_of(scalar.path)
        if key_or_none is not None:
            settings.append(Setting(key_or_none, scalar.text, line))
            used[number] = key_or_none
    return settings, used


def key_of(path: tuple[Step, ...]) -> Key | None:
    """The key of a scalar by its path."""
    if not path:
        return None
    tail = len(path)
    while tail > 0 and isinstance(path[tail - 1], int):
        tail -= 1
    if tail == 0:
        return Key(str(path[-1]), _bank(path[:-1]))
    index = ",".join(str(step) for step in path[tail:]) or None
    return Key(str(path[tail - 1]), _bank(path[: tail - 1]), index)


def _bank(path: tuple[Step, ...]) -> str | None:
    return ".".join(str(step) for step in path) or None


def _tables(scalars: list[Scalar]) -> dict[tuple[Step, ...], tuple[str, str]]:
    """Arrays of objects that each hold a name and a value: their path, and the two keys."""
    rows: dict[tuple[Step, ...], dict[Step, set[str]]] = defaultdict(lambda: defaultdict(set))
    for scalar in scalars:
        if len(scalar.path) >= 2 and isinstance(scalar.path[-2], int) and isinstance(scalar.path[-1], str):
            rows[scalar.path[:-2]][scalar.path[-2]].add(scalar.path[-1])
    found = {}
    for path, objects in rows.items():
        common = set.intersection(*objects.values())
        name = next((k for k in common if k.lower() in _NAME_KEYS[:1]), None)
        name = name or next((k for wanted in _NAME_KEYS for k in sorted(common) if k.lower() == wanted), None)
        name = name or next((k for k in sorted(common) if k.lower() in NAMES), None)
        value = next((k for k in sorted(common) if k.lower() in ("value", "val")), None)
        value = value or next((k for k in sorted(common) if k.lower() in VALUES and k != name), None)
        if name is not None and value is not None:
            found[path] = (name, value)
    return found
