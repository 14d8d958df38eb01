"""Set a flight aside, so that nothing is judged or predicted by it, or let it count again."""

from __future__ import annotations

from dataclasses import replace

from asflown.app.flights.keep import KIND, flight_meant
from asflown.app.workplace import Workplace
from asflown.core.study.kept import FlightEvidence
from asflown.errors import UsageError
from asflown.formats import documents


def set_aside(work: Workplace, flight: str, why: str) -> FlightEvidence:
    """Set a flight aside; its evidence gets a revision, and the logbook the reason.

    Raises
    ------
    UsageError
        When there is no such flight, no reason, or it is set aside already.
    """
    found = flight_meant(work.store, flight)
    if found.aside:
        raise UsageError(
            f"{found.id} is set aside already: {found.aside}",
            next_step=f"let it count again: asflown flight count {found.id} --why TEXT",
        )
    return _said(work, found, _reason(why), "set aside", is_aside=True)


def count_again(work: Workplace, flight: str, why: str) -> FlightEvidence:
    """Let a flight that was set aside count again.

    Raises
    ------
    UsageError
        When there is no such flight, no reason, or it was not set aside.
    """
    found = flight_meant(work.store, flight)
    if not found.aside:
        raise UsageError(f"{found.id} is not set aside: it counts")
    return _said(work, found, _reason(why), "counts again", is_aside=False)


def _reason(why: str) -> str:
    if not why.strip():
        raise UsageError(
            "no reason was given", next_step="say why: a loose propeller, rain, a wrong column, …"
        )
    return why.strip()


def _said(work: Workplace, found: FlightEvidence, why: str, what: str, *, is_aside: bool) -> FlightEvidence:
    document = work.store.document(KIND, found.id)
    assert document is not None
    changed = replace(found, aside=why if is_aside else "")
    with work.store.transaction() as tx:
        put = tx.put(KIND, found.id, documents.dump(changed), expect=document.revision)
        body = {"what": what, "id": found.id, "said": why, "sha256": put.sha256}
        tx.log(found.aircraft, "flight", body)
    return changed
