"""Listings written in the shape the person's own listing had, and proven by reading them back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from asflown.app.needs import Store
from asflown.core.carry.dispositions import Left
from asflown.core.listing import Listing
from asflown.core.record import Key, Record, Setting
from asflown.errors import Damaged, Fault, InputError
from asflown.formats import listing


@dataclass(frozen=True)
class Written:
    """A listing's bytes, and which line of them writes which setting.

    Attributes
    ----------
    lines
        ``(1-based line, key)``.
    """

    data: bytes
    lines: tuple[tuple[int, Key], ...]


def shape_of(store: Store, record: Record) -> tuple[Listing, bytes]:
    """The record's own listing as it was read, and its untouched bytes.

    Raises
    ------
    Damaged
        When the record has no original.
    """
    if not record.originals:
        raise Damaged(
            f"record {record.id} has no original to take a shape from",
            next_step="check what is kept: asflown verify",
        )
    data = store.original(record.originals[0].sha256)
    return listing.read(data, shape=record.shape), data


def write_in_shape(shape: Listing, items: Sequence[Left], units: Mapping[Key, str | None]) -> Written:
    """Write settings in a shape, and read the result back: it must hold exactly these.

    Parameters
    ----------
    shape
        The listing whose shape is used.
    items
        Settings in writing order; those without a value are left out.
    units
        Unit text to print beside a value, in a shape that prints units.

    Raises
    ------
    InputError
        Naming each setting this shape cannot carry.
    """
    settings = tuple(
        Setting(item.key, item.value, unit=units.get(item.key)) for item in items if item.value is not None
    )
    data = listing.write(shape, settings)
    wanted = {setting.key: setting.value for setting in settings}
    first: tuple[Fault, ...] = ()
    for pin in _pins(shape):
        read = _read(data, pin) if settings else {}
        faults = tuple(_faults(wanted, read))
        if not faults:
            lines = sorted((setting.line or 0, setting.key) for setting in read.values())
            return Written(data, tuple(lines))
        first = first or faults
    raise InputError(
        f"a listing in this shape cannot carry {len(first)} of {len(wanted)} settings",
        faults=first[:20],
        next_step="take the as-found record again with the shape pinned: asflown found … --shape PATTERN",
    )


def _pins(shape: Listing) -> tuple[str | None, ...]:
    """Ways to read it again: as any listing, then with each learned line template pinned."""
    return (None, *(learned.pattern for learned in shape.shapes))


def _read(data: bytes, pin: str | None) -> dict[Key, Setting]:
    try:
        return {setting.key: setting for setting in listing.read(data, shape=pin).settings}
    except InputError:
        return {}


def _faults(wanted: Mapping[Key, str], read: Mapping[Key, Setting]) -> Iterable[Fault]:
    for key, value in wanted.items():
        if key not in read:
            yield Fault("does not read back", str(key))
        elif read[key].value != value:
            yield Fault(f"{value!r} reads back as {read[key].value!r}", str(key))
    for key in read:
        if key not in wanted:
            yield Fault("reads back though it was not written", str(key))
