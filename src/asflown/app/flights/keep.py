"""Keep the evidence of a flight with its aircraft, and say so in the logbook."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown import __version__
from asflown.app import kept
from asflown.app.flights.measure import Measurement
from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core.study.kept import FlightEvidence, LogNamed
from asflown.errors import UsageError
from asflown.formats import documents

if TYPE_CHECKING:
    from asflown.core.identified import Identified
    from asflown.formats.flightlog import LogSource

#: Kind of the documents, and of the logbook's entries.
KIND = "evidence"
#: Kind of a log's own bytes.
ORIGINAL = "flight log"
#: Logs up to this size are kept with their evidence, bytes; larger ones by their hash alone.
SMALL = 8 * 1024 * 1024


def keep(
    work: Workplace, aircraft: str, measured: Measurement, source: LogSource, *, whole: bool = False
) -> FlightEvidence:
    """Keep evidence: the same evidence of the same log is kept once.

    Parameters
    ----------
    source
        The log; read only where its bytes are kept.
    whole
        Keep the log's own bytes, however many.

    Raises
    ------
    UsageError
        When there is no such aircraft.
    """
    described = kept.aircraft(work.store, aircraft)
    opened = measured.opened
    flights = flights_of(work.store, aircraft)
    made = FlightEvidence(
        id=f"{aircraft}-f{len(flights) + 1}",
        aircraft=aircraft,
        at=work.clock.now(),
        log=LogNamed(opened.table.sha256, opened.size, opened.name.replace("\\", "/").rpartition("/")[2]),
        layout=opened.layout.fingerprint,
        layout_confirmed=opened.layout.is_confirmed,
        span=(measured.span.start, measured.span.end),
        conditions=measured.conditions.conditions,
        evidence=tuple(measured.study.evidence.values()),
        findings=measured.study.findings,
        release=measured.release or described.release,
        version=__version__,
        record=measured.record,
        identified=_identified(measured),
    )
    with_log = whole or opened.size <= SMALL
    made = replace(made, log=replace(made.log, is_kept=with_log))
    for before in flights:
        if replace(made, id=before.id, at=before.at, aside=before.aside) == before:
            return before
    with work.store.transaction() as tx:
        if with_log:
            with source.open() as stream:
                tx.keep(stream.read(), name=made.log.name, kind=ORIGINAL)
        document = tx.put(KIND, made.id, documents.dump(made), expect=0)
        tx.log(aircraft, KIND, _entry(made, document.sha256))
    return made


def _identified(measured: Measurement) -> tuple[Identified, ...]:
    """What was fitted of each axis."""
    axes = measured.results.get("axes", {})
    return tuple(one.identified for one in axes.values() if one.identified is not None)


def _entry(made: FlightEvidence, sha256: str) -> dict[str, object]:
    return {
        "id": made.id,
        "sha256": sha256,
        "log": made.log.sha256,
        "log_name": made.log.name,
        "log_kept": made.log.is_kept,
        "measured": made.measured,
        "not_measured": len(made.evidence) - made.measured,
        "not_stated": list(made.conditions.not_stated),
    }


def flights_of(store: Store, aircraft: str) -> tuple[FlightEvidence, ...]:
    """Every flight of an aircraft whose evidence is kept, oldest first."""
    made: list[FlightEvidence] = []
    while (document := store.document(KIND, f"{aircraft}-f{len(made) + 1}")) is not None:
        made.append(documents.load(document.body, FlightEvidence))
    return tuple(made)


def counted_flights(store: Store, aircraft: str) -> tuple[FlightEvidence, ...]:
    """The flights that count: those nobody set aside, oldest first."""
    return tuple(flight for flight in flights_of(store, aircraft) if not flight.aside)


def flight_meant(store: Store, id: str) -> FlightEvidence:
    """The evidence of a flight by its id.

    Raises
    ------
    UsageError
        When none is kept under it.
    """
    document = store.document(KIND, id)
    if document is None:
        raise UsageError(f"no flight {id!r} is kept", next_step="list them: asflown flight list AIRCRAFT")
    return documents.load(document.body, FlightEvidence)
