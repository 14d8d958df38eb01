"""A flight that was measured, as a sheet and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from asflown import __version__
from asflown.app.views.carry_json import finding_json
from asflown.app.views.flight_curves import curves_json
from asflown.app.views.flight_json import LAYOUT, methods_json, nested
from asflown.app.views.flight_log import (
    conditions_json,
    conditions_note,
    log_foot,
    log_head,
    log_json,
    segments_json,
    uses_json,
)
from asflown.app.views.flight_tables import evidence_tables, seen_first
from asflown.app.views.flight_words import found_says, seconds, span_shown
from asflown.app.views.sheet import Sheet, counted
from asflown.core.evidence import Evidence

if TYPE_CHECKING:
    from asflown.app.flights.measure import Measurement
    from asflown.core.study.kept import FlightEvidence

#: The fields beside the quantities: what each is, and its JSON type.
OTHER_FIELDS: Mapping[str, tuple[str, dict[str, Any]]] = {
    "log": ("the log: its hash, size, rows, rate, faults and layout", {"type": "object"}),
    "aircraft": ("whose flight it is, null where nobody said", {"type": ["string", "null"]}),
    "kept": ("where the evidence is kept, null where it is not", {"type": ["string", "null"]}),
    "span": ("the stretch of the log that was used, s", {"type": "array", "items": {"type": "number"}}),
    "conditions": ("what confounds a comparison, as far as it is stated", {"type": "object"}),
    "segments": ("what was flown when", {"type": "array"}),
    "uses": ("what the log is fit for, and why not", {"type": "array"}),
    "measured": ("how many quantities have a value", {"type": "integer"}),
    "not_measured": ("how many have a reason instead", {"type": "integer"}),
    "curves": ("responses, loops and steps behind the figures of the axes, by route", {"type": "object"}),
    "findings": ("what a person should know", {"type": "array"}),
    "statements": ("what was done with the log on the way", {"type": "object"}),
    "methods": ("how the quantities are computed, by key", {"type": "object"}),
    "versions": ("of asflown and of this layout", {"type": "object"}),
}


def measured_sheet(made: Measurement, kept: FlightEvidence | None = None) -> Sheet:
    """What was measured of a flight, with intervals; for the rest the reasons."""
    study, opened = made.study, made.opened
    evidence = tuple(study.evidence.values())
    head = [*log_head(opened), ("used", span_shown((made.span.start, made.span.end)))]
    if kept is not None:
        head = [("aircraft", kept.aircraft), ("flight", kept.id), *head]
    return Sheet(
        title="Evidence of a flight",
        head=tuple(head),
        sentence=sentence(evidence, made.span.length),
        tables=evidence_tables(evidence),
        warnings=tuple(found_says(finding) for finding in study.findings),
        notes=(
            *seen_first(evidence),
            *(text for texts in study.statements.values() for text in _sentences(texts)),
            conditions_note(made.conditions.conditions),
        ),
        next_act=_next(made, kept),
        foot=log_foot(opened),
    )


def sentence(evidence: Sequence[Evidence], length: float) -> str:
    """Where things stand."""
    measured = sum(one.value is not None for one in evidence)
    missing = len(evidence) - measured
    if not measured:
        return f"Nothing could be measured of {seconds(length)} s; the reasons stand below."
    spread = sum(one.has_spread for one in evidence)
    others = f", {measured - spread} counted or as logged" if measured > spread else ""
    text = (
        f"{counted(measured, 'figure')} measured of {seconds(length)} s: {spread} with 95 % interval{others}"
    )
    return f"{text}; {missing} not, with the reason." if missing else f"{text}."


def _sentences(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(f"{text[:1].upper()}{text[1:].rstrip('.')}." for text in texts)


def _next(made: Measurement, kept: FlightEvidence | None) -> tuple[str, ...]:
    name = made.opened.name
    if kept is not None:
        return (f"see the flights kept: asflown flight list {kept.aircraft}",)
    if not made.study.measured:
        return (f"see what the log lacks: asflown flight look {name}",)
    return (f"keep it with its aircraft: asflown flight measure {name} --aircraft NAME",)


def measured_json(made: Measurement, kept: FlightEvidence | None = None) -> dict[str, Any]:
    """What was measured of a flight (described in docs/reference/flight-json.md)."""
    study = made.study
    evidence = tuple(study.evidence.values())
    return {
        "log": log_json(made.opened, made.timebase, made.faults),
        "aircraft": None if kept is None else kept.aircraft,
        "kept": None if kept is None else kept.id,
        "span": [made.span.start, made.span.end],
        "conditions": conditions_json(made.conditions.conditions, made.conditions),
        "segments": segments_json(made.segments),
        "uses": uses_json(made.uses),
        "measured": study.measured,
        "not_measured": len(evidence) - study.measured,
        **nested(evidence),
        "curves": curves_json(made.results.get("axes")),
        "findings": [finding_json(finding) for finding in study.findings],
        "statements": {part: list(texts) for part, texts in study.statements.items()},
        "methods": methods_json(evidence),
        "versions": {"asflown": __version__, "layout": LAYOUT},
    }
