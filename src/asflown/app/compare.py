"""Compare two records: what changed since the earlier one."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app import kept
from asflown.app.known import with_factory
from asflown.app.needs import Store
from asflown.core.catalog import Catalog
from asflown.core.differences import Differences, differences
from asflown.core.record import Moment, Record
from asflown.errors import UsageError


@dataclass(frozen=True)
class Compared:
    """Two records and how they differ.

    Attributes
    ----------
    catalog
        The catalog both were compared under; ``None`` where the releases differ or none is known.
    """

    first: Record
    second: Record
    differences: Differences
    catalog: Catalog | None


def compare(store: Store, first: str | None = None, second: str | None = None) -> Compared:
    """Compare two records.

    Parameters
    ----------
    first, second
        Record identifiers, or aircraft (then its newest record). One alone: the newest two records
        of that aircraft, or that record and the newest one. None: of the current aircraft.

    Raises
    ------
    UsageError
        When there are not two records to compare.
    """
    a, b = _pair(store, first, second)
    catalog = _catalog(store, a, b)
    return Compared(a, b, differences(a, b, catalog), catalog)


def _pair(store: Store, first: str | None, second: str | None) -> tuple[Record, Record]:
    if first is not None and second is not None:
        return record_meant(store, first), record_meant(store, second)
    if first is not None and store.document("record", first) is not None:
        record = kept.record(store, first)
        newest = kept.latest_record(store, record.aircraft, device=record.device)
        if newest is None or newest.id == record.id:
            raise UsageError(
                f"{record.id} is the newest record of {record.aircraft}", next_step="name two records"
            )
        return record, newest
    aircraft = kept.aircraft_meant(store, first)
    entries = kept.record_entries(
        store, aircraft, device="board", moments=(Moment.AS_FOUND, Moment.AS_LEFT, Moment.READING)
    )
    if len(entries) < 2:
        raise UsageError(
            f"{aircraft} has {len(entries)} record of its board; two are compared"
            if len(entries) == 1
            else f"{aircraft} has no record of its board",
            next_step=f"keep another: asflown found LISTING --aircraft {aircraft}",
        )
    ids = [str(entry.body["id"]) for entry in entries[-2:]]
    return kept.record(store, ids[0]), kept.record(store, ids[1])


def record_meant(store: Store, said: str) -> Record:
    """A record, or the newest one of an aircraft."""
    if store.document("record", said) is not None:
        return kept.record(store, said)
    if store.document("aircraft", said) is not None:
        newest = kept.latest_record(store, said)
        if newest is not None:
            return newest
        raise UsageError(
            f"there is no record of {said}", next_step=f"keep one: asflown found LISTING --aircraft {said}"
        )
    raise UsageError(
        f"{said!r} is neither a record nor an aircraft",
        next_step="list them: asflown records list; asflown aircraft list",
    )


def _catalog(store: Store, a: Record, b: Record) -> Catalog | None:
    if a.release is None or a.release != b.release:
        return None
    found = kept.release_with_document(store, a.release)
    catalog = found[0].catalog if found else None
    for factory in kept.factory_records(store, a.release):
        if factory.id not in (a.id, b.id):
            return with_factory(catalog, factory)
    return catalog
