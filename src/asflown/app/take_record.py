"""Keep a record: what a settings listing says was on an aircraft at one moment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from asflown.app import kept
from asflown.app.known import catalog_of
from asflown.app.listing_lines import Repeats, aside, misread, read_listing
from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.carry.notice import repeats
from asflown.core.catalog import Catalog, Consequence
from asflown.core.differences import Differences, differences
from asflown.core.extent import judge_extent
from asflown.core.finding import Finding
from asflown.core.listing import Listing
from asflown.core.record import Extent, Moment, Original, Record
from asflown.errors import Fault, NeedsPerson, UsageError
from asflown.formats import documents

#: A listing of which fewer names than this share are known to its release may be the wrong file.
KNOWN_FROM = 0.5

#: The kind of an original that was read a second time to be sure.
SECOND = "second reading"


@dataclass(frozen=True)
class Request:
    """What a person asks to be kept.

    Attributes
    ----------
    data, name
        The listing's bytes and the name of the file.
    device
        ``board`` or a fitted device's name.
    release, board
        ``None``: the aircraft's own.
    taken
        When it was read off the aircraft; ``None``: now.
    set_aside
        Lines a person says are no settings: ``12``, ``12-15``, ``all``; commas between.
    repeated
        Which of repeated keys counts: ``last`` or ``first``; ``None``: nobody said, the last is taken
        and a plan waits until somebody does.
    against
        A second reading of the same aircraft, bytes and name.
    keep_anyway
        Why it is kept though the second reading differs.
    """

    data: bytes
    name: str
    aircraft: str
    device: str = "board"
    moment: Moment = Moment.AS_FOUND
    release: str | None = None
    board: str | None = None
    taken: str | None = None
    extent: Extent | None = None
    shape: str | None = None
    set_aside: str | None = None
    repeated: Repeats | None = None
    against: tuple[bytes, str] | None = None
    keep_anyway: str | None = None


@dataclass(frozen=True)
class Taken:
    """A record that was kept, and what should be known about it.

    Attributes
    ----------
    extent_why
        What the judgement full or changes-only rests on.
    second
        How the second reading differs, where there was one.
    """

    record: Record
    listing: Listing
    findings: tuple[Finding, ...]
    extent_why: str
    second: Differences | None = None


def take_record(work: Workplace, request: Request) -> Taken:
    """Read a listing and keep it: original and record together, or nothing.

    Raises
    ------
    InputError
        When the listing holds no setting or what was said of it does not fit.
    UsageError
        When the aircraft or its device is not known.
    NeedsPerson
        When a second reading differs and no reason to keep it anyway was given; nothing is kept.
    """
    aircraft = kept.aircraft(work.store, request.aircraft)
    _known_device(aircraft, request.device)
    draft, read, why = _draft(work, request, aircraft, request.data, request.name)
    second = _second_reading(work, request, aircraft, draft)
    with work.store.transaction() as tx:
        originals = [tx.keep(request.data, name=request.name, kind="listing")]
        remarks = list(_remarks(request, read, second))
        if request.against is not None:
            originals.append(tx.keep(request.against[0], name=request.against[1], kind=SECOND))
        sheet = tx.next_sheet(aircraft.id)
        record = replace(
            draft,
            id=f"{aircraft.id}-{sheet:03d}",
            originals=tuple(originals),
            remarks=tuple(remarks),
        )
        document = tx.put("record", record.id, documents.dump(record), expect=0)
        tx.log(aircraft.id, "record", _entry(record, document.sha256, sheet))
    work.store.remember(kept.CURRENT, aircraft.id)
    findings = (*findings_of(record, read), *_wrong_file(work.store, record))
    return Taken(record, read, findings, why, second)


def set_aside(work: Workplace, record_id: str, lines: str, what: str) -> Record:
    """Say of lines that were not understood that they are no settings; the record gets a revision.

    Raises
    ------
    InputError
        When a line is not one of those not understood.
    """
    record, document = kept.record_with_document(work.store, record_id)
    unread = aside(record.unread, lines, what)
    changed = replace(record, unread=unread)
    with work.store.transaction() as tx:
        put = tx.put("record", record.id, documents.dump(changed), expect=document.revision)
        numbers = [u.line for u, was in zip(unread, record.unread, strict=True) if u != was]
        body = {"what": "lines set aside", "record": record.id, "lines": numbers, "said": what}
        tx.log(record.aircraft, "correction", {**body, "sha256": put.sha256})
    return changed


def say_extent(work: Workplace, record_id: str, extent: Extent) -> Record:
    """Say whether a record's listing shows everything; the record gets a revision."""
    record, document = kept.record_with_document(work.store, record_id)
    changed = replace(record, extent=extent)
    with work.store.transaction() as tx:
        put = tx.put("record", record.id, documents.dump(changed), expect=document.revision)
        body = {"what": "extent said", "record": record.id, "was": record.extent, "is": extent}
        tx.log(record.aircraft, "correction", {**body, "sha256": put.sha256})
    return changed


def say_repeated(work: Workplace, record_id: str, which: Repeats) -> Record:
    """Say which of the repeated settings of a record's listing counts; the record gets a revision.

    Raises
    ------
    UsageError
        When nothing stands more than once in it.
    """
    record, document = kept.record_with_document(work.store, record_id)
    if not record.repeated:
        raise UsageError(
            f"nothing stands more than once in the listing of {record.id}",
            next_step=f"look at it: asflown records show {record.id}",
        )
    pick = 0 if which == "first" else -1
    chosen = {again.key: (again.values[pick], again.lines[pick]) for again in record.repeated}
    settings = tuple(
        replace(s, value=chosen[str(s.key)][0], line=chosen[str(s.key)][1]) if str(s.key) in chosen else s
        for s in record.settings
    )
    changed = replace(record, settings=settings, repeated_said=which)
    with work.store.transaction() as tx:
        put = tx.put("record", record.id, documents.dump(changed), expect=document.revision)
        body = {
            "what": "repeated settings said",
            "record": record.id,
            "counts": which,
            "keys": [again.key for again in record.repeated],
        }
        tx.log(record.aircraft, "correction", {**body, "sha256": put.sha256})
    return changed


def findings_of(record: Record, read: Listing) -> tuple[Finding, ...]:
    """What a person should know about a record that was just taken."""
    return tuple(_findings(record, read))


def _draft(
    work: Workplace, request: Request, aircraft: Aircraft, data: bytes, name: str
) -> tuple[Record, Listing, str]:
    """A record without identifier and originals, the listing it came from, and why it has its extent."""
    repeated = request.repeated or "last"
    read = read_listing(data, name, shape=request.shape, repeated=repeated)
    wrong = misread(read, request.set_aside)
    if wrong:  # a person says of lines read as settings that they are none
        read = read_listing(data, name, shape=request.shape, repeated=repeated, ignore=wrong)
    is_board = request.device == "board"
    release = request.release or _release_meant(work, request, aircraft)
    if request.moment is Moment.FACTORY and release is None:
        raise UsageError("a factory listing belongs to a release", next_step="name it: --release RELEASE")
    extent, why = _extent(work, request, read, release)
    record = Record(
        id="",
        aircraft=aircraft.id,
        device=request.device,
        moment=request.moment,
        release=release,
        board=request.board or (aircraft.board if is_board else None),
        taken=_time(request.taken) or work.clock.now(),
        settings=read.settings,
        extent=extent,
        active_banks=read.active_banks,
        unread=aside(read.not_understood, request.set_aside, "no setting", name=name),
        shape=request.shape,
        repeated=read.repeated,
        repeated_said=request.repeated,
    )
    return record, read, why


def _release_meant(work: Workplace, request: Request, aircraft: Aircraft) -> str | None:
    """The release when none was said: the aircraft's; of a factory listing the open refit's new one alone.

    A factory listing filed under the wrong release would be taken for that release's factory values.
    """
    if request.moment is Moment.FACTORY:
        found = kept.open_refit(work.store, aircraft.id, device=request.device)
        return found.refit.to_release if found is not None else None
    return aircraft.release if request.device == "board" else None


def _time(said: str | None) -> str | None:
    """A time as a person said it, in ISO 8601 with zone (this machine's where none is said)."""
    if said is None:
        return None
    from datetime import datetime

    try:
        return datetime.fromisoformat(said).astimezone().isoformat(timespec="seconds")
    except ValueError:
        raise UsageError(
            f"{said!r} is no time", next_step="write it like 2026-03-07T09:12 or 2026-03-07"
        ) from None


def _known_device(aircraft: Aircraft, device: str) -> None:
    if device != "board" and aircraft.device(device) is None:
        names = ", ".join(["board", *(d.name for d in aircraft.devices)])
        raise UsageError(
            f"{aircraft.id} has no device {device!r} (it has: {names})",
            next_step=f"add it to the aircraft first: asflown aircraft edit {aircraft.id} --set"
            f" device.{device}.kind=KIND",
        )


def _extent(work: Workplace, request: Request, read: Listing, release: str | None) -> tuple[Extent, str]:
    if request.extent is not None:
        return request.extent, "said by the person"
    if read.extent is not Extent.UNKNOWN:
        return read.extent, "the listing itself says so"
    if request.moment is Moment.FACTORY:
        return Extent.FULL, "a factory listing that shows settings shows every one"
    catalog = catalog_of(work.store, release)
    if catalog is None:
        return Extent.UNKNOWN, "the listing does not say, and no catalog is there to compare with"
    return judge_extent(read.settings, catalog)


def _second_reading(
    work: Workplace, request: Request, aircraft: Aircraft, first: Record
) -> Differences | None:
    """Compare with a second reading; what changes by itself is left out."""
    if request.against is None:
        return None
    data, name = request.against
    again, _, _ = _draft(work, replace(request, set_aside=None), aircraft, data, name)
    first, again = replace(first, id=request.name), replace(again, id=name)
    catalog = catalog_of(work.store, first.release)
    found = differences(first, again, catalog)
    items = tuple(item for item in found.items if not _changes_by_itself(catalog, item.key.name))
    found = replace(found, items=items)
    if found.is_same or (request.keep_anyway and request.keep_anyway.strip()):
        return found
    raise NeedsPerson(
        f"the second reading differs in {_counted(len(found.items) + len(found.banks), 'place', 'places')};"
        " the record is not kept",
        where=request.name,
        faults=tuple(
            Fault(f"{item.first or 'not shown'} first, {item.second or 'not shown'} second", str(item.key))
            for item in found.items[:20]
        ),
        next_step="read the aircraft a third time; or keep it with the reason: --keep-anyway REASON",
    )


def _changes_by_itself(catalog: Catalog | None, name: str) -> bool:
    parameter = catalog.by_name.get(name) if catalog else None
    return parameter is not None and parameter.volatile


def _remarks(request: Request, read: Listing, second: Differences | None) -> Iterator[str]:
    yield from read.complaints
    if read.repeated:
        said = f"the {request.repeated} one counts, as said" if request.repeated else "the last one is taken"
        number = len(read.repeated)
        stand = "1 setting stands" if number == 1 else f"{number} settings stand"
        yield f"{stand} more than once in the listing; {said}"
    if second is not None and second.is_same:
        yield f"a second reading agrees in all {second.same} settings"
    elif second is not None:
        differing = _counted(len(second.items), "setting", "settings")
        yield f"a second reading differs in {differing}; kept because: {request.keep_anyway}"


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _findings(record: Record, read: Listing) -> Iterator[Finding]:
    if record.open_lines:
        shown = ", ".join(str(u.line) for u in record.open_lines[:8])
        yield Finding(
            "listing",
            record.id,
            Consequence.UNKNOWN,
            f"{_counted(len(record.open_lines), 'line was', 'lines were')} not understood (line {shown})",
            (
                f"say that they are no settings: asflown records set-aside {record.id} --lines all",
                "pin the line's shape: asflown found … --shape PATTERN",
            ),
            blocks=True,
        )
    if record.extent is Extent.UNKNOWN:
        yield Finding(
            "listing",
            record.id,
            Consequence.UNKNOWN,
            "not stated whether the listing shows every setting or only changes from factory",
            (f"say which: asflown records say-extent {record.id} full (or changes-only)",),
            blocks=True,
        )
    yield from repeats(record)
    for complaint in read.complaints:
        yield Finding("listing", record.id, Consequence.UNKNOWN, complaint)


def _wrong_file(store: Store, record: Record) -> Iterator[Finding]:
    """Signs that it is another aircraft's listing, or none of this release at all."""
    if record.moment is not Moment.FACTORY:
        same = kept.records_of_listing(store, record.originals[0].sha256)
        other = next((id for id in same if kept.record(store, id).aircraft != record.aircraft), None)
        if other is not None:
            yield Finding(
                "listing",
                record.id,
                Consequence.UNKNOWN,
                f"it is byte for byte the listing of {other}, another aircraft's record",
                (f"if it is the wrong file, read {record.aircraft} again",),
            )
    catalog = catalog_of(store, record.release, but=record.id)
    names = {setting.key.name for setting in record.settings}
    known = len(names & set(catalog.by_name)) if catalog else len(names)
    if catalog is not None and known < len(names) * KNOWN_FROM:
        yield Finding(
            "listing",
            record.id,
            Consequence.UNKNOWN,
            f"{len(names) - known} of {len(names)} names are not in the catalog of {record.release}",
            ("if it is the wrong file, or read under another release, take the record again",),
        )


def _entry(record: Record, sha256: str, sheet: int) -> dict[str, object]:
    return {
        "id": record.id,
        "sheet": sheet,
        "device": record.device,
        "moment": record.moment.value,
        "release": record.release,
        "board": record.board,
        "taken": record.taken,
        "extent": record.extent.value,
        "settings": len(record.settings),
        "not_understood": len(record.unread),
        "open_lines": len(record.open_lines),
        "repeated": [[again.key, list(again.lines)] for again in record.repeated],
        "repeated_said": record.repeated_said,
        "originals": [original.sha256 for original in record.originals],
        "digest": record.digest,
        "sha256": sha256,
        "remarks": list(record.remarks),
    }


def second_reading_of(record: Record) -> Original | None:
    """The second reading a record was compared with, ``None`` where there was none."""
    return next((original for original in record.originals if original.kind == SECOND), None)
