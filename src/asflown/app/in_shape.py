"""Listings written in the shape the person's own listing had, and proven by reading them back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from asflown.app.needs import Store
from asflown.core.carry.dispositions import Left
from asflown.core.catalog import Release
from asflown.core.listing import Listing
from asflown.core.record import Key, Record, Setting
from asflown.errors import Damaged, Fault, InputError
from asflown.formats import listing

#: Sets no line aside; said to the reader so that lines are meant, and a ``[2]`` among them is no JSON.
NO_LINE = (0,)

#: About how many lines of a model are read beside a short listing.
MODEL = 60


@dataclass(frozen=True)
class OwnShape:
    """The shape of a person's own listing.

    Attributes
    ----------
    listing
        The record's listing as it was read.
    original
        Its untouched bytes.
    pinned
        The pattern a person pinned it with.
    name
        What it was learned from, in words.
    """

    listing: Listing
    original: bytes
    pinned: str | None = None
    name: str = "the as-found listing"

    @cached_property
    def model(self) -> str | None:
        """Its lines under other names, to read a short listing beside; ``None`` where it has no lines."""
        if self.listing.family == "json":
            return None
        try:
            data = listing.write(self.listing, _others(self.listing.settings))
            return data.decode(self.listing.encoding).lstrip("\ufeff")
        except (InputError, UnicodeDecodeError, LookupError):
            return None


@dataclass(frozen=True)
class Written:
    """A listing's bytes, and which line of them writes which setting.

    Attributes
    ----------
    lines
        ``(1-based line, key)``.
    shape
        Whose shape it has.
    """

    data: bytes
    lines: tuple[tuple[int, Key], ...]
    shape: OwnShape


def shape_of(store: Store, record: Record) -> OwnShape:
    """The shape of a record's own listing.

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
    return OwnShape(listing.read(data, shape=record.shape), data, record.shape)


def shapes_of(store: Store, record: Record, release: Release | None) -> Iterator[OwnShape]:
    """The record's own shape, then those of factory listings of a release, which show every bank.

    A changes-only listing in which no bank differs tells nothing about how a bank is written.
    """
    yield shape_of(store, record)
    if release is None:
        return
    for original in release.originals:
        if original.kind == "factory listing":
            data = store.original(original.sha256)
            yield OwnShape(listing.read(data), data, name=f"the factory listing of {release.id}")


def write_in_any(
    shapes: Iterable[OwnShape], items: Sequence[Left], units: Mapping[Key, str | None]
) -> Written:
    """Write settings in the first shape that can carry them (see :func:`write_in_shape`).

    Raises
    ------
    InputError
        What the first shape cannot carry.
    """
    first: InputError | None = None
    for shape in shapes:
        try:
            return write_in_shape(shape, items, units)
        except InputError as error:
            first = first or error
    assert first is not None
    raise first


def write_in_shape(shape: OwnShape, items: Sequence[Left], units: Mapping[Key, str | None]) -> Written:
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
    data = listing.write(shape.listing, settings)
    wanted = {setting.key: setting.value for setting in settings}
    first: tuple[Fault, ...] = ()
    for read in _readings(shape, data) if settings else ({},):
        faults = tuple(_faults(wanted, read))
        if not faults:
            lines = sorted((setting.line or 0, setting.key) for setting in read.values())
            return Written(data, tuple(lines), shape)
        first = first or faults
    raise InputError(
        f"a listing in this shape cannot carry {len(first)} of {len(wanted)} settings",
        faults=first[:20],
        next_step="take the as-found record again with the shape pinned: asflown found … --shape PATTERN",
    )


def read_like(shape: OwnShape, data: bytes) -> tuple[Setting, ...]:
    """The settings of a listing that was written in a shape, however few lines it has.

    A shape is learned from many lines. A short listing is therefore read together with lines of its
    model, which stand behind it (so that they cannot lend it a bank) and under other names (so that no
    setting stands twice).
    """
    text = _joined(shape, data)
    if text is None:
        return listing.read(data, shape=shape.pinned).settings
    joined, count = text
    read = listing.read(joined, shape=shape.pinned, ignore=NO_LINE)
    return tuple(setting for setting in read.settings if setting.line is not None and setting.line <= count)


def _joined(shape: OwnShape, data: bytes) -> tuple[bytes, int] | None:
    """Both listings, the written one first, and how many lines that one has; ``None`` for no lines."""
    behind = shape.model
    if behind is None:
        return None
    try:
        front = data.decode(shape.listing.encoding).lstrip("\ufeff")
    except (UnicodeDecodeError, LookupError):
        return None
    end = {"crlf": "\r\n", "cr": "\r"}.get(shape.listing.newline, "\n")
    if not front.endswith(end):
        front += end
    return (front + behind).encode(), front.count(end)


def _others(settings: Sequence[Setting]) -> tuple[Setting, ...]:
    """Settings like these under other names; of many only some from each bank."""
    step = max(1, len(settings) // MODEL)
    banks: dict[str | None, list[Setting]] = {}
    for setting in settings:
        banks.setdefault(setting.key.bank, []).append(setting)
    picked = [row for rows in banks.values() for row in (rows if len(rows) <= 8 else rows[::step] or rows)]
    return tuple(replace(row, key=replace(row.key, name=f"{row.key.name}q")) for row in picked)


def _readings(shape: OwnShape, data: bytes) -> Iterator[dict[Key, Setting]]:
    """Ways to read it again: beside its model, as any listing, with each learned line template pinned."""
    pins = [None, *(learned.pattern for learned in shape.listing.shapes if "{name}" in learned.pattern)]
    yield _by_key(partial(read_like, shape, data))
    for pin in pins:
        yield _by_key(partial(_settings, data, pin))


def _settings(data: bytes, pin: str | None) -> tuple[Setting, ...]:
    return listing.read(data, shape=pin).settings


def _by_key(read: Callable[[], Iterable[Setting]]) -> dict[Key, Setting]:
    try:
        return {setting.key: setting for setting in read()}
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
