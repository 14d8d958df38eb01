"""Take in what was handed over: all of it or nothing."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from asflown.app import kept
from asflown.app.handover import ABOUT, BOOK, DOCUMENTS, LAYOUT, ORIGINALS
from asflown.app.needs import Store, Transaction
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft
from asflown.core.logbook import KINDS, ChainFault, Entry, check_chain
from asflown.core.record import Record
from asflown.core.refit import Refit
from asflown.errors import Damaged, Fault, InputError, UsageError
from asflown.formats import bag, documents

#: About how many sheets one entry can stand for.
MOST_SHEETS = 20


@dataclass(frozen=True)
class Received:
    """What was taken in.

    Attributes
    ----------
    were_there
        Documents that were here already, the same.
    last_hash
        Hash of the last entry of the logbook that came with it.
    continued_from
        The entry of this store's logbook that the one that came went on from; 0 where it was new here.
    """

    aircraft: str
    documents: int
    originals: int
    entries: int
    were_there: int
    last_hash: str
    left_out: tuple[str, ...]
    continued_from: int = 0


def receive(work: Workplace, files: Mapping[str, bytes], name: str) -> Received:
    """Check a bag and take in what it holds; all of it or nothing.

    A logbook this store has already is continued when the one that came goes on from its last entry.

    Raises
    ------
    Damaged
        When the bag, its logbook or a document is not whole.
    UsageError
        When this store has the aircraft already and the two logbooks differ, or nothing new came.
    """
    payload = bag.check(files, name)
    about = _read_json(payload, ABOUT, name)
    _check_layout(about, name)
    aircraft = str(about.get("aircraft", ""))
    entries = [_read_entry(line, name) for line in _read_lines(payload, BOOK, name)]
    _check_chain(entries, aircraft, name)
    index = _read_lines(payload, DOCUMENTS, name)
    _check_documents(payload, index, name)
    with work.store.transaction() as tx:
        here = _common(work.store, aircraft, entries, name)
        originals = _keep_originals(tx, payload, name)
        were_there = _put_documents(work.store, tx, payload, index)
        _log(tx, aircraft, entries, here, about, payload)
    work.store.remember(kept.CURRENT, aircraft)
    return Received(
        aircraft,
        len(index),
        originals,
        len(entries),
        were_there,
        str(about.get("last_hash", "")),
        tuple(map(str, about.get("left_out", ()))),
        continued_from=here,
    )


def _common(store: Store, aircraft: str, came: list[Came], name: str) -> int:
    """How many entries of the logbook that came are here already: all that are here, or it is refused."""
    here = store.book(aircraft)
    if not here and store.document("aircraft", aircraft) is None:
        return 0
    what = f"this store has an aircraft {aircraft!r} already"
    elsewhere = f"take it into another store: asflown receive {name} --store FOLDER"
    if any(one.is_reduced for one in came):
        what += ", and a hand-over without what is private cannot continue its logbook"
        raise UsageError(what, where=name, next_step=elsewhere)
    for mine, one in zip(here, came, strict=False):
        if mine.hash != one.entry.hash:
            what += (
                f", and the logbooks differ from entry {mine.number} on (here: {_told(mine)}; there:"
                f" {_told(one.entry)}); two logbooks are not made into one"
            )
            raise UsageError(what, where=name, next_step=elsewhere)
    if len(came) <= len(here):
        what += f", with all {len(came)} entries of this hand-over: nothing new came"
        raise UsageError(what, where=name, next_step=f"look at it: asflown logbook {aircraft}")
    return len(here)


def _told(entry: Entry) -> str:
    return f"{entry.kind}, {entry.at}, {entry.who}"


def _put_documents(
    store: Store, tx: Transaction, payload: Mapping[str, bytes], index: list[dict[str, Any]]
) -> int:
    """Put every revision that is not here; where the two went different ways, the latest here stays so.

    Returns
    -------
    int
        How many were here already.
    """
    came: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for item in index:
        came.setdefault((str(item["kind"]), str(item["id"])), []).append(item)
    were_there = 0
    for (kind, id), items in came.items():
        here = [document.sha256 for document in store.revisions(kind, id)]
        if here and any(item.get("is_reduced") for item in items):
            were_there += len(items)  # what is here is whole
            continue
        hashes = [str(item.get("sha256")) for item in items]
        common = min(len(here), len(hashes))
        follows = here[:common] == hashes[:common]
        new = items[common:] if follows else [i for i in items if str(i.get("sha256")) not in here]
        latest = None if follows else store.document(kind, id)
        were_there += len(items) - len(new)
        for item in new:
            tx.put(kind, id, payload[_path_of(item)])
        if new and latest is not None:
            tx.put(kind, id, latest.body)
    return were_there


def _check_layout(about: Mapping[str, Any], name: str) -> None:
    if about.get("layout") != LAYOUT:
        raise InputError(
            f"is a hand-over of layout {about.get('layout')}; this asflown reads {LAYOUT}",
            where=name,
            next_step="use the asflown it was made with, or a newer one",
        )


def _read_json(payload: Mapping[str, bytes], path: str, name: str) -> dict[str, Any]:
    lines = _read_lines(payload, path, name)
    if len(lines) != 1:
        raise InputError(f"{path} does not hold one object", where=name, next_step="ask for it again")
    return lines[0]


def _read_lines(payload: Mapping[str, bytes], path: str, name: str) -> list[dict[str, Any]]:
    if path not in payload:
        raise InputError(
            f"is a bag, but not one of asflown: data/{path} is missing",
            where=name,
            next_step="give a folder or zip that asflown handover made",
        )
    try:
        lines = [json.loads(line) for line in payload[path].decode("utf-8").split("\n") if line]
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"data/{path} is no JSON: {error}", where=name, next_step="ask for it again"
        ) from error
    if not all(isinstance(line, dict) for line in lines):
        raise InputError(f"data/{path} does not hold objects", where=name, next_step="ask for it again")
    return lines


@dataclass(frozen=True)
class Came:
    """A logbook entry that came with a bag; a reduced one cannot be hashed anew."""

    entry: Entry
    is_reduced: bool


#: The fields of an entry, with the type each must have.
_FIELDS: Mapping[str, type] = {
    **dict.fromkeys(("book", "kind", "at", "who", "previous", "hash"), str),
    **dict.fromkeys(("number", "version"), int),
    "body": dict,
}


def _read_entry(line: dict[str, Any], name: str) -> Came:
    wrong = [field for field, type_ in _FIELDS.items() if not isinstance(line.get(field), type_)]
    if wrong:
        raise InputError(
            f"a logbook entry lacks {', '.join(wrong)}, or says something else there",
            where=name,
            next_step="ask for it again",
        )
    if line["version"] > KINDS.get(line["kind"], 0):
        raise InputError(
            f"logbook entry {line['number']} is of a kind this asflown does not know: {line['kind']} in"
            f" version {line['version']}",
            where=name,
            next_step="use a newer asflown",
        )
    return Came(Entry(**{field: line[field] for field in _FIELDS}), bool(line.get("is_reduced")))


def _check_chain(came: list[Came], aircraft: str, name: str) -> None:
    """Refuse a logbook whose chain does not hold."""
    faults = chain_faults(came, aircraft)
    if faults:
        raise Damaged(
            "the logbook that came with it does not hold",
            where=name,
            faults=tuple(Fault(fault.what, f"entry {fault.number}") for fault in faults[:50]),
            next_step="ask for it again; nothing was taken in",
        )


def read_entries(data: bytes, name: str) -> list[Came]:
    """The entries of a logbook that came with a hand-over, as it was kept (JSON, one a line)."""
    return [_read_entry(line, name) for line in _read_lines({BOOK: data}, BOOK, name)]


def chain_faults(came: list[Came], aircraft: str) -> list[ChainFault]:
    """Every link, and every hash that can be made anew; the book must be the aircraft's own."""
    reduced = {one.entry.number for one in came if one.is_reduced}
    faults = [
        fault for fault in check_chain(one.entry for one in came) if not _is_only_reduced(fault, reduced)
    ]
    faults += [
        ChainFault(one.entry.book, one.entry.number, f"is of the book {one.entry.book!r}")
        for one in came
        if one.entry.book != aircraft
    ]
    return faults


def _is_only_reduced(fault: ChainFault, reduced: set[int]) -> bool:
    return fault.number in reduced and fault.what == "was changed after it was written"


def _path_of(item: Mapping[str, Any]) -> str:
    return f"documents/{item.get('kind')}/{item.get('id')}/{item.get('revision')}.json"


def _check_documents(payload: Mapping[str, bytes], index: list[dict[str, Any]], name: str) -> None:
    from asflown.core.calibrate.kept import Calibration
    from asflown.core.catalog import Release
    from asflown.core.load.journal import Load
    from asflown.core.plan import Plan
    from asflown.core.study.kept import FlightEvidence

    types: Mapping[str, type] = {
        "aircraft": Aircraft,
        "record": Record,
        "release": Release,
        "refit": Refit,
        "plan": Plan,
        "load": Load,
        "calibration": Calibration,
        "evidence": FlightEvidence,
    }
    faults = []
    for item in index:
        body, kind = payload.get(_path_of(item)), types.get(str(item.get("kind")))
        if body is None or kind is None:
            faults.append(Fault("is named and missing, or of no known kind", _path_of(item)))
            continue
        documents.load(body, kind)
        if not item.get("is_reduced") and hashlib.sha256(body).hexdigest() != item.get("sha256"):
            faults.append(Fault("does not have the hash it was kept under", _path_of(item)))
    if faults:
        raise Damaged(
            "is not whole",
            where=name,
            faults=tuple(faults),
            next_step="ask for it again; nothing was taken in",
        )


def _keep_originals(tx: Transaction, payload: Mapping[str, bytes], name: str) -> int:
    lines = _read_lines(payload, ORIGINALS, name)
    for line in lines:
        data = payload.get(f"originals/{line.get('sha256')}")
        if data is None:
            raise Damaged(
                f"the original {line.get('name')} is named and missing",
                where=name,
                next_step="ask for it again",
            )
        if tx.keep(data, name=str(line.get("name")), kind=str(line.get("kind"))).sha256 != line.get("sha256"):
            raise Damaged(
                f"the original {line.get('name')} does not have the hash it was kept under",
                where=name,
                next_step="ask for it again; nothing was taken in",
            )
    return len(lines)


def _log(
    tx: Transaction,
    aircraft: str,
    came: list[Came],
    here: int,
    about: Mapping[str, Any],
    payload: Mapping[str, bytes],
) -> None:
    """Take the logbook in: entry by entry when it is whole, else as an original with what is needed here."""
    is_whole = about.get("with_private") is True and not any(one.is_reduced for one in came)
    body: dict[str, Any] = {
        "id": aircraft,
        "entries": len(came),
        "last_hash": about.get("last_hash"),
        "with_private": about.get("with_private"),
        "left_out": len(about.get("left_out", ())),
    }
    if here:
        body["continued_from"] = here
    if is_whole:
        for one in came[here:]:
            tx.append(one.entry)
    else:
        body["logbook"] = tx.keep(payload[BOOK], name=f"{aircraft}-logbook.jsonl", kind="logbook").sha256
    for _ in range(_last_sheet(came) - _last_sheet(came[:here])):
        tx.next_sheet(aircraft)
    tx.log(aircraft, "received", body)
    if not is_whole:
        for one in came:
            if one.entry.kind == "record":
                facts = {key: value for key, value in one.entry.body.items() if key != "sha256"}
                tx.log(aircraft, "record", {**facts, "received": one.entry.hash})


def _last_sheet(came: list[Came]) -> int:
    """The highest sheet number the entries name; a number no logbook of that length reaches is refused."""
    sheets = [one.entry.body.get("sheet") for one in came]
    last = max((sheet for sheet in sheets if isinstance(sheet, int)), default=0)
    if last > MOST_SHEETS * (len(came) + 1):
        raise InputError(f"a logbook of {len(came)} entries names sheet {last}", next_step="ask for it again")
    return last
