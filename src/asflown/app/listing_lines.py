"""Read a listing's bytes, and say of lines what they are."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Literal

from asflown.core.listing import Listing
from asflown.core.record import Unread
from asflown.errors import Fault, InputError, UsageError
from asflown.formats import listing

#: Which of repeated settings counts.
Repeats = Literal["last", "first"]


def look_at_listing(
    data: bytes,
    name: str,
    *,
    shape: str | None = None,
    repeated: Repeats = "last",
    ignore: Collection[int] = (),
) -> Listing:
    """Read a listing's bytes, to be looked at only; one without settings is a result too.

    Raises
    ------
    InputError
        Naming the file, when it is empty, binary, too large, or does not fit a pinned shape.
    """
    try:
        return listing.read(data, shape=shape, repeated=repeated, ignore=ignore)
    except InputError as error:
        if error.where is None:
            error.where = name
        raise


def read_listing(
    data: bytes,
    name: str,
    *,
    shape: str | None = None,
    repeated: Repeats = "last",
    ignore: Collection[int] = (),
) -> Listing:
    """Read a listing's bytes.

    Raises
    ------
    InputError
        When it cannot be read or holds no setting; says where.
    """
    read = look_at_listing(data, name, shape=shape, repeated=repeated, ignore=ignore)
    if not read.settings:
        lines = len(read.not_understood)
        raise InputError(
            f"no setting was recognised in {read.size} bytes ({lines} lines not understood)",
            where=name,
            next_step="look at what was learned: asflown listing show FILE; or pin the line's shape: --shape"
            " 'set {name} = {value}'",
        )
    return read


def aside(
    unread: tuple[Unread, ...], lines: str | None, said: str, *, name: str | None = None
) -> tuple[Unread, ...]:
    """Mark lines as set aside by a person."""
    if not lines:
        return unread
    wanted = _line_numbers(lines, {u.line for u in unread})
    unknown = sorted(wanted - {u.line for u in unread})
    if unknown:
        raise InputError(
            "lines said to be no settings were read as something else, or are not there",
            where=name,
            faults=tuple(Fault("is not one of the lines not understood", f"line {n}") for n in unknown[:20]),
            next_step="not understood: " + (", ".join(str(u.line) for u in unread[:20]) or "none"),
        )
    return tuple(replace(u, said=said) if u.line in wanted else u for u in unread)


def misread(read: Listing, lines: str | None) -> frozenset[int]:
    """Lines said to be no settings that were read as settings."""
    if not lines:
        return frozenset()
    wanted = _line_numbers(lines, {u.line for u in read.not_understood})
    return frozenset(wanted & {s.line for s in read.settings if s.line is not None})


def _line_numbers(text: str, every: set[int]) -> set[int]:
    if text.strip() == "all":
        return set(every)
    numbers: set[int] = set()
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        if not first.isdecimal() or (dash and not last.isdecimal()):
            raise UsageError(
                f"{part.strip()!r} is no line number", next_step="write lines like 3,7-9 or the word all"
            )
        low, high = int(first), int(last) if dash else int(first)
        if high - low > 1_000_000:
            raise UsageError(f"{part.strip()!r} is too many lines", next_step="write lines like 3,7-9")
        numbers.update(range(low, high + 1))
    return numbers
