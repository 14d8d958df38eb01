"""What differs between two records, setting by setting, at the precision the device stores."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from asflown.core.catalog import Catalog, Consequence, ParameterDef
from asflown.core.finding import Finding
from asflown.core.record import Extent, Key, Record
from asflown.core.values import same_value


class DifferenceKind(StrEnum):
    """How a setting differs between two records."""

    CHANGED = "changed"
    ONLY_FIRST = "only in the first"
    ONLY_SECOND = "only in the second"
    #: One record does not show it, and its factory value there is not stated.
    NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Difference:
    """One setting that differs.

    Attributes
    ----------
    first, second
        The values as printed; ``None`` where a record does not have the setting or does not show it.
    first_implied, second_implied
        The value is the factory value that a changes-only listing leaves out.
    """

    key: Key
    kind: DifferenceKind
    first: str | None
    second: str | None
    consequence: Consequence = Consequence.UNKNOWN
    consequence_why: str | None = None
    group: str | None = None
    unit: str | None = None
    first_implied: bool = False
    second_implied: bool = False


@dataclass(frozen=True)
class Differences:
    """What differs between two records.

    Attributes
    ----------
    first, second
        Identifiers of the records.
    same
        Settings both have with the same stored value.
    items
        The settings that differ, safety first, then in listing order.
    banks
        ``(selector, first, second)`` where another bank is active.
    findings
        What makes the comparison less than plain: another aircraft, release or board, lines not
        understood, a listing that may not show everything.
    """

    first: str
    second: str
    same: int
    items: tuple[Difference, ...] = ()
    banks: tuple[tuple[str, str | None, str | None], ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def is_same(self) -> bool:
        """Whether every setting and every active bank is the same, and nothing is left unknown."""
        return not self.items and not self.banks

    @cached_property
    def counts(self) -> Mapping[DifferenceKind, int]:
        """How many of each kind, zero included."""
        return {kind: sum(item.kind is kind for item in self.items) for kind in DifferenceKind}


def differences(first: Record, second: Record, catalog: Catalog | None = None) -> Differences:
    """Compare two records of one release, setting by setting.

    Parameters
    ----------
    first, second
        The earlier and the later record.
    catalog
        Catalog of the release both were taken under: gives precision, consequence, and the factory
        values that a changes-only listing leaves out. ``None``: values are compared as numbers where
        both are numbers, as text otherwise.

    Returns
    -------
    Differences
        Never claims sameness for a setting that one of the records does not show.
    """
    same = 0
    items: list[Difference] = []
    for key in dict.fromkeys([*second.values, *first.values]):
        parameter = catalog.by_name.get(key.name) if catalog else None
        difference = _one(key, first, second, catalog, parameter)
        if difference is None:
            same += 1
        else:
            items.append(difference)
    items.sort(key=lambda item: item.consequence.rank)
    return Differences(
        first.id, second.id, same, tuple(items), _banks(first, second), tuple(_findings(first, second))
    )


def shown_or_factory(record: Record, key: Key, catalog: Catalog | None) -> tuple[str | None, bool]:
    """The value a record gives a setting, and whether it is only implied.

    Returns
    -------
    tuple of (str or None, bool)
        The value shown; or the factory value where a changes-only record leaves the setting out; or
        ``(None, False)`` when a full record does not have it, ``(None, True)`` when nobody can tell.
    """
    value = record.values.get(key)
    if value is not None:
        return value, False
    if record.extent is Extent.FULL:
        return None, False
    if record.extent is Extent.UNKNOWN or catalog is None:
        return None, True
    return catalog.factory_value(key), True


def _one(
    key: Key, first: Record, second: Record, catalog: Catalog | None, parameter: ParameterDef | None
) -> Difference | None:
    a, a_implied = shown_or_factory(first, key, catalog)
    b, b_implied = shown_or_factory(second, key, catalog)
    if a is not None and b is not None:
        if same_value(a, b, parameter):
            return None
        kind = DifferenceKind.CHANGED
    elif a_implied or b_implied:
        kind = DifferenceKind.NOT_STATED
    else:
        kind = DifferenceKind.ONLY_SECOND if a is None else DifferenceKind.ONLY_FIRST
    return Difference(
        key,
        kind,
        a,
        b,
        consequence=parameter.consequence if parameter else Consequence.UNKNOWN,
        consequence_why=parameter.consequence_why if parameter else None,
        group=parameter.group if parameter else None,
        unit=parameter.unit if parameter else None,
        first_implied=a_implied,
        second_implied=b_implied,
    )


def _banks(first: Record, second: Record) -> tuple[tuple[str, str | None, str | None], ...]:
    words = dict.fromkeys([*first.active_banks, *second.active_banks])
    pairs = ((word, first.active_banks.get(word), second.active_banks.get(word)) for word in words)
    return tuple(pair for pair in pairs if pair[1] != pair[2])


def _findings(first: Record, second: Record) -> Iterable[Finding]:
    pairs = (
        ("aircraft", first.aircraft, second.aircraft),
        ("device", first.device, second.device),
        ("release", first.release or "not stated", second.release or "not stated"),
        ("board", first.board or "not stated", second.board or "not stated"),
    )
    for word, a, b in pairs:
        if a != b:
            yield Finding("comparison", word, Consequence.UNKNOWN, f"{word}: {a} before, {b} after")
    for record in (first, second):
        yield from _doubts(record)


def _doubts(record: Record) -> Iterable[Finding]:
    if record.open_lines:
        yield Finding(
            "comparison",
            record.id,
            Consequence.UNKNOWN,
            f"{record.id}: {len(record.open_lines)} lines were not understood and are not compared",
            ("say what they are, then compare again",),
        )
    if record.extent is Extent.UNKNOWN:
        yield Finding(
            "comparison",
            record.id,
            Consequence.UNKNOWN,
            f"{record.id}: not stated whether it shows every setting or only changes from factory",
            ("say which it is when the record is taken",),
        )
