"""Flights whose evidence is kept, as sheets and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from asflown.app.views.carry_json import finding_json
from asflown.app.views.flight_json import LAYOUT, methods_json, nested
from asflown.app.views.flight_log import conditions_json, conditions_note
from asflown.app.views.flight_measured import sentence
from asflown.app.views.flight_tables import evidence_tables, seen_first
from asflown.app.views.flight_words import bytes_shown, found_says, seconds, span_shown
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.study.kept import FlightEvidence

if TYPE_CHECKING:
    from asflown.app.flights.redrawn import Redrawn


def flights_sheet(aircraft: str, flights: Sequence[FlightEvidence]) -> Sheet:
    """Every flight of an aircraft, oldest first."""
    rows = tuple(
        (
            flight.id,
            flight.conditions.day or flight.at[:10],
            flight.log.name,
            seconds(flight.span[1] - flight.span[0]),
            str(flight.measured),
            str(len(flight.evidence) - flight.measured),
            flight.release or "not stated",
            _counts(flight),
        )
        for flight in flights
    )
    return Sheet(
        title="Flights",
        head=(("aircraft", aircraft),),
        sentence=f"Evidence of {counted(len(rows), 'flight')} of {aircraft} is kept.",
        tables=(
            Table(
                ("flight", "day", "log", "s#", "measured#", "not#", "release", "counts"),
                rows,
                empty="none yet",
            ),
        ),
        next_act=((f"show one: asflown flight show {flights[-1].id}",) if flights else ())
        + (f"keep one: asflown flight measure FILE --aircraft {aircraft}",),
    )


def _counts(flight: FlightEvidence) -> str:
    return f"set aside: {flight.aside}" if flight.aside else "yes"


def flights_json(aircraft: str, flights: Sequence[FlightEvidence]) -> dict[str, Any]:
    """Every flight of an aircraft, as JSON, without its figures."""
    return {"aircraft": aircraft, "flights": [_facts(flight) for flight in flights]}


def _facts(flight: FlightEvidence) -> dict[str, Any]:
    return {
        "id": flight.id,
        "aircraft": flight.aircraft,
        "at": flight.at,
        "release": flight.release,
        "log": {
            "sha256": flight.log.sha256,
            "size": flight.log.size,
            "name": flight.log.name,
            "kept": flight.log.is_kept,
        },
        "layout": {"fingerprint": flight.layout, "confirmed": flight.layout_confirmed},
        "span": list(flight.span),
        "conditions": conditions_json(flight.conditions),
        "measured": flight.measured,
        "not_measured": len(flight.evidence) - flight.measured,
        "set_aside": flight.aside or None,
        "versions": {"asflown": flight.version, "layout": LAYOUT},
    }


def flight_sheet(flight: FlightEvidence) -> Sheet:
    """The evidence of one flight."""
    kept = "kept" if flight.log.is_kept else "not kept; its hash is"
    return Sheet(
        title="Evidence of a flight",
        head=(
            ("aircraft", flight.aircraft),
            ("flight", flight.id),
            ("date", flight.at),
            ("release", flight.release or "not stated"),
            ("log", f"{flight.log.name} ({bytes_shown(flight.log.size)}, {kept})"),
            ("used", span_shown(flight.span)),
        ),
        sentence=sentence(flight.evidence, flight.span[1] - flight.span[0]),
        tables=evidence_tables(flight.evidence),
        warnings=(
            *((f"Set aside: {flight.aside}. Nothing is judged or predicted by it.",) if flight.aside else ()),
            *(found_says(finding) for finding in flight.findings),
        ),
        notes=(*seen_first(flight.evidence), conditions_note(flight.conditions)),
        next_act=(f"see the others: asflown flight list {flight.aircraft}",),
        foot=(f"log SHA-256 {short(flight.log.sha256)}", f"layout {flight.layout}"),
    )


def flight_json(flight: FlightEvidence) -> dict[str, Any]:
    """The evidence of one flight, as JSON."""
    return {
        **_facts(flight),
        **nested(flight.evidence),
        "findings": [finding_json(finding) for finding in flight.findings],
        "methods": methods_json(flight.evidence),
    }


def not_drawn(made: Redrawn) -> tuple[str, ...]:
    """What cannot be drawn of a kept flight, and why."""
    again = f"measure the log again with --svg ({made.flight.log.name})"
    return (
        *(f"Not drawn, {axis}: {why}." for axis, why in made.reasons.items()),
        *(() if made.offsets else ("Not drawn, motors: no hover was measured.",)),
        f"Not drawn, spectra, Campbell diagram, pack: the evidence keeps their figures alone; {again}.",
    )
