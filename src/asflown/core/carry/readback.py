"""As left against as planned, setting by setting."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from asflown.core.carry.dispositions import Disposition, Left
from asflown.core.catalog import Catalog, Consequence, ParameterDef, worst
from asflown.core.finding import Finding
from asflown.core.plan import Plan
from asflown.core.record import Extent, Key, Record
from asflown.core.values import same_value


class ReadKind(StrEnum):
    """How a setting read back stands to the plan."""

    SAME = "same"
    DIFFERS = "differs"
    MISSING = "missing"
    NOT_PLANNED = "not planned, differs from factory"
    REDO = "must be redone"
    NOT_STATED = "not stated"
    #: The device makes or changes it itself; not compared.
    DEVICE = "made by the device"

    @property
    def is_difference(self) -> bool:
        """Whether a setting of this kind is not as planned, or cannot be said to be."""
        return self in (ReadKind.DIFFERS, ReadKind.MISSING, ReadKind.NOT_PLANNED, ReadKind.NOT_STATED)


@dataclass(frozen=True, slots=True)
class ReadItem:
    """One setting of a read-back.

    Attributes
    ----------
    planned, read
        Values as text; ``None`` where not planned, or not shown.
    implied
        The value read is the factory value that a changes-only read-back leaves out.
    """

    key: Key
    kind: ReadKind
    planned: str | None
    read: str | None
    factory: str | None = None
    consequence: Consequence = Consequence.UNKNOWN
    implied: bool = False
    why: str = ""


@dataclass(frozen=True)
class ReadBack:
    """The comparison of a read-back with the plan.

    Attributes
    ----------
    items
        Every setting planned or read, in plan order.
    extent
        How the read-back was understood.
    """

    record: str
    extent: Extent
    items: tuple[ReadItem, ...]
    banks: tuple[tuple[str, str | None, str | None], ...] = ()
    findings: tuple[Finding, ...] = ()

    @cached_property
    def counts(self) -> Mapping[ReadKind, int]:
        """How many of each kind, zero included."""
        counts = dict.fromkeys(ReadKind, 0)
        for item in self.items:
            counts[item.kind] += 1
        return counts

    @cached_property
    def differing(self) -> tuple[ReadItem, ...]:
        """What is not as planned, safety first."""
        found = [item for item in self.items if item.kind.is_difference]
        return tuple(sorted(found, key=lambda item: item.consequence.rank))

    @property
    def redo(self) -> tuple[ReadItem, ...]:
        """What must be done again on the aircraft."""
        return tuple(item for item in self.items if item.kind is ReadKind.REDO)

    @property
    def is_as_planned(self) -> bool:
        """Whether every setting is as planned and every line of the read-back was understood."""
        return not self.differing and not self.banks and not any(f.blocks for f in self.findings)

    @property
    def consequence(self) -> Consequence:
        """The worst consequence among what differs; *none* when nothing does."""
        return worst(*(item.consequence for item in self.differing)) if self.differing else Consequence.NONE

    @cached_property
    def still_to_write(self) -> tuple[Left, ...]:
        """What a listing must set to come from what was read to what was planned.

        A setting nobody planned goes back to its factory value where that is stated.
        """
        wanted = []
        for item in self.differing:
            value = item.factory if item.kind is ReadKind.NOT_PLANNED else item.planned
            if value is not None:
                wanted.append(Left(item.key, value, item.factory))
        return tuple(wanted)


@dataclass(frozen=True)
class Wanted:
    """What one setting should be, for a comparison with a reading.

    Attributes
    ----------
    value
        ``None`` when the device makes it itself.
    """

    value: str | None
    factory: str | None = None
    redo: bool = False
    consequence: Consequence = Consequence.UNKNOWN


def compare_as_left(
    planned: Plan,
    record: Record,
    catalog: Catalog | None,
    active_banks: Mapping[str, str] | None = None,
) -> ReadBack:
    """Compare a read-back with the plan.

    Parameters
    ----------
    planned
        The plan that was written; no open line.
    record
        What was read. A full listing shows every setting, so an absent one is *missing*; a
        changes-only listing leaves settings at their factory value, so an absent one is taken as
        factory where that is stated and is *not stated* otherwise.
    catalog
        The new release's; gives precision and factory values.
    active_banks
        Which bank should be active per selector word, where that is known.
    """
    return compare_reading(wanted_of(planned), record, catalog, active_banks)


def wanted_of(plan: Plan) -> dict[Key, Wanted]:
    """What a plan wants each setting of the new release to be."""
    return {
        item.key: Wanted(item.value, item.factory, line.disposition is Disposition.REDO, line.consequence)
        for line in plan.lines
        for item in line.new
    }


def compare_reading(
    wanted: Mapping[Key, Wanted],
    record: Record,
    catalog: Catalog | None,
    active_banks: Mapping[str, str] | None = None,
) -> ReadBack:
    """Compare a reading with what each setting should be (see :func:`compare_as_left`)."""
    reading = _Reading(record, catalog, wanted)
    items = [_planned_item(key, want, reading) for key, want in wanted.items()]
    items += _unplanned(wanted, reading)
    banks = _banks(active_banks or {}, record)
    return ReadBack(record.id, record.extent, tuple(items), banks, tuple(_findings(record)))


class _Reading:
    """Look-ups in a reading; a section word that is a mere heading does not hide a setting.

    A setting in a bank that is itself wanted is never taken for one of another bank.
    """

    def __init__(self, record: Record, catalog: Catalog | None, wanted: Container[Key]) -> None:
        self.record = record
        self.catalog = catalog
        self.taken: set[Key] = set()
        self._by_part: dict[tuple[str, str | None], list[Key]] = {}
        for key in record.values:
            if key in wanted:
                continue
            self._by_part.setdefault((key.name, key.index), []).append(key)

    def take(self, key: Key) -> str | None:
        """The value read for a planned setting, marked as accounted for."""
        if key not in self.record.values:
            near = self._by_part.get((key.name, key.index), [])
            if len(near) != 1 or near[0] in self.taken:
                return None
            key = near[0]
        self.taken.add(key)
        return self.record.values[key]

    def definition(self, key: Key) -> ParameterDef | None:
        return self.catalog.by_name.get(key.name) if self.catalog else None

    def factory(self, key: Key) -> str | None:
        return self.catalog.factory_value(key) if self.catalog else None


def _planned_item(key: Key, want: Wanted, reading: _Reading) -> ReadItem:
    parameter = reading.definition(key)
    factory = want.factory if want.factory is not None else reading.factory(key)
    consequence = want.consequence
    if parameter and consequence is Consequence.UNKNOWN:
        consequence = parameter.consequence
    read, implied, why = reading.take(key), False, ""
    if want.redo:
        how = parameter.redo if parameter and parameter.redo else "must be made anew on the aircraft"
        return ReadItem(key, ReadKind.REDO, None, read, factory, consequence, why=how)
    if want.value is None or (parameter and (parameter.read_only or parameter.volatile)):
        return ReadItem(key, ReadKind.DEVICE, want.value, read, factory, consequence)
    if read is None:
        kind, read, implied, why = _absent(want.value, factory, reading, parameter)
    else:
        kind = ReadKind.SAME if same_value(want.value, read, parameter) else ReadKind.DIFFERS
    return ReadItem(key, kind, want.value, read, factory, consequence, implied, why)


def _absent(
    planned: str, factory: str | None, reading: _Reading, parameter: ParameterDef | None
) -> tuple[ReadKind, str | None, bool, str]:
    """What an absent setting means: depends on what kind of listing was read."""
    extent = reading.record.extent
    if extent is Extent.FULL:
        return ReadKind.MISSING, None, False, "a full read-back does not show it"
    if factory is None:
        why = "not shown, and its factory value is not stated"
        return ReadKind.NOT_STATED, None, False, why
    if not same_value(planned, factory, parameter):
        if extent is Extent.UNKNOWN:
            return ReadKind.MISSING, None, False, "not shown, though it differs from factory"
        return ReadKind.DIFFERS, factory, True, "not shown, so it stands at its factory value"
    if extent is Extent.UNKNOWN:
        why = "not shown; not stated whether the read-back shows every setting"
        return ReadKind.NOT_STATED, None, False, why
    return ReadKind.SAME, factory, True, ""


def _unplanned(wanted: Mapping[Key, Wanted], reading: _Reading) -> Iterable[ReadItem]:
    """Settings read that nobody planned."""
    for key, read in reading.record.values.items():
        if key in reading.taken:
            continue
        parameter = reading.definition(key)
        consequence = parameter.consequence if parameter else Consequence.UNKNOWN
        factory = reading.factory(key)
        if parameter and (parameter.read_only or parameter.volatile):
            kind, why = ReadKind.DEVICE, ""
        elif factory is None:
            kind, why = ReadKind.NOT_STATED, "not in the plan, and its factory value is not stated"
        elif same_value(read, factory, parameter):
            kind, why = ReadKind.SAME, "not in the plan; at its factory value"
        else:
            kind, why = ReadKind.NOT_PLANNED, "not in the plan, and not at its factory value"
        yield ReadItem(key, kind, None, read, factory, consequence, why=why)


def _banks(wanted: Mapping[str, str], record: Record) -> tuple[tuple[str, str | None, str | None], ...]:
    read = record.active_banks
    return tuple(
        (word, bank, read[word]) for word, bank in wanted.items() if word in read and read[word] != bank
    )


def _findings(record: Record) -> Iterable[Finding]:
    if record.open_lines:
        numbers = ", ".join(str(unread.line) for unread in record.open_lines[:8])
        yield Finding(
            "read-back",
            record.id,
            Consequence.UNKNOWN,
            f"{len(record.open_lines)} lines of the read-back were not understood (line {numbers})",
            ("say what they are when the read-back is taken", "take the read-back again"),
            blocks=True,
        )
    if record.extent is Extent.UNKNOWN:
        yield Finding(
            "read-back",
            record.id,
            Consequence.UNKNOWN,
            "not stated whether the read-back shows every setting or only changes from factory",
            ("say which it is: --extent full or --extent changes-only",),
        )
