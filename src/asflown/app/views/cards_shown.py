"""The cards sheet, one card, and the gates."""

from __future__ import annotations

from typing import Any

from asflown.app import gates, state
from asflown.app.cards import Cards, failed_cards
from asflown.app.state import Job
from asflown.app.views.sheet import Sheet, Table, short
from asflown.core.bench.judged import Judged, judged
from asflown.core.cards import CardState
from asflown.core.refit import State


def cards_sheet(cards: Cards) -> Sheet:
    """Every card with its result; what a failed one closes."""
    failed = failed_cards(cards.states)
    counts = {word: sum(s.word == word for s in cards.states) for word in _WORDS}
    said = ", ".join(f"{number} {word}" for word, number in counts.items() if number)
    return Sheet(
        title="Cards",
        head=_head(cards.aircraft, cards.job, cards.at),
        sentence=f"{len(cards.states)} cards: {said}. {claim(cards)[:1].upper()}{claim(cards)[1:]}.",
        warnings=tuple(
            f"card {card.number} {card.id} failed: what follows is closed. Fix it and do it again, or go back"
            for card in failed[:1]
        ),
        tables=(
            Table(
                ("no.#", "card", "when", "propellers", "result", "note"),
                tuple(_row(s) for s in cards.states),
            ),
        ),
        next_act=_next(cards),
        foot=(f"record {short(cards.job.found.digest)}",) if cards.job else (),
    )


_WORDS = ("pass", "fail", "not tested", "closed", "not stated")


def claim(cards: Cards) -> str:
    """What a sign-off would say now: settings are proven by a read-back, not before."""
    if cards.job is not None and cards.job.refit.state in (State.READ_BACK, State.SIGNED):
        return cards.proven
    return cards.proven.replace("settings proven", "settings not proven", 1)


def _head(aircraft: str, job: Job | None, at: str) -> tuple[tuple[str, str], ...]:
    if job is None:
        return (("aircraft", aircraft), ("date", at), ("refit", "none: the standing cards alone"))
    refit = job.refit
    return (
        ("aircraft", f"{job.aircraft.title} ({aircraft})"),
        ("date", at),
        ("release", f"{refit.from_release or 'not stated'} → {refit.to_release}"),
        ("refit", f"{refit.id}, {refit.state.value}"),
    )


def _row(found: CardState) -> tuple[str, ...]:
    card = found.card
    note = found.result.note if found.result else ""
    if found.closed_by is not None:
        note = f"closed by {found.closed_by}"
    elif found.waits_for is not None and found.result is None:
        note = f"{found.waits_for} comes first"
    return (
        str(card.number),
        f"{card.id}: {card.title}",
        card.phase.value,
        card.propellers.value.removeprefix("propellers "),
        found.word,
        note,
    )


def _next(cards: Cards) -> tuple[str, ...]:
    failed = failed_cards(cards.states)
    if failed:
        card = failed[0].id
        return (
            f"put it right, and say what it was: asflown bench fixed {card} WHAT --note TEXT",
            f"go back: asflown back {cards.aircraft}",
        )
    free = next((s.card for s in cards.states if s.word == "not stated"), None)
    if free is None:
        return (gates.next_act(cards.job.refit),) if cards.job else ()
    return (
        f"card {free.number}: asflown cards {cards.aircraft} --card {free.id}",
        f"then note it: asflown cards mark {free.id} pass (or fail, not-tested) --note TEXT",
    )


def cards_json(cards: Cards) -> dict[str, Any]:
    """The cards as JSON."""
    return {
        "aircraft": cards.aircraft,
        "refit": cards.job.refit.id if cards.job else None,
        "statement": claim(cards),
        "cards": [card_json(found) for found in cards.states],
        "next": list(_next(cards)),
    }


def card_json(found: CardState) -> dict[str, Any]:
    """One card with what was noted on it."""
    card = found.card
    return {
        "number": card.number,
        "card": card.id,
        "title": card.title,
        "phase": card.phase.value,
        "propellers": card.propellers.value,
        "powered": card.is_powered,
        "safety": list(card.safety),
        "aim": card.aim,
        "set_up": list(card.set_up),
        "do": list(card.do),
        "expect": list(card.expect),
        "measures": [_measure_json(one) for one in judged(card, found.readings)],
        "items": [
            {
                "text": item.text,
                "expect": item.expect,
                "lines": list(item.lines),
                "measures": [measure.what for measure in item.measures],
            }
            for item in card.items
        ],
        "go_on_only_if": card.go_on_only_if,
        "stop": list(card.stop),
        "result": found.word,
        "note": found.result.note if found.result else "",
        "closed_by": found.closed_by,
        "waits_for": found.waits_for,
    }


def _measure_json(one: Judged) -> dict[str, Any]:
    reading = one.reading
    return {
        "what": one.measure.what,
        "unit": one.measure.unit,
        "setting": one.measure.setting or None,
        "expected": one.expected or None,
        "read": reading.value if reading else None,
        "over_link": reading.over_link if reading else None,
        "says": reading.says if reading else None,
        "as_expected": one.is_as_expected,
    }


def release_says(cards: Cards) -> str:
    """From which release to which, for the head of a card."""
    if cards.job is None:
        return "no refit"
    return f"{cards.job.refit.from_release or 'not stated'} → {cards.job.refit.to_release}"


def shown_cards(cards: Cards, said: str | None) -> tuple[CardState, ...]:
    """The cards to print: one, or all."""
    return (cards.find(said),) if said else cards.states


def gates_sheet(job: Job, at: str) -> Sheet:
    """Every gate with its answer; *not stated* where nobody said anything."""
    rows = state.gate_rows(job.refit)
    open_ = [name for name, said, _ in rows if said == gates.NOT_STATED]
    says = (
        f"{len(open_)} of {len(rows)} gates are not stated"
        if open_
        else f"all {len(rows)} gates are answered"
    )
    return Sheet(
        title="Gates",
        head=_head(job.refit.aircraft, job, at),
        sentence=f"{says[:1].upper()}{says[1:]}; one that nobody answered stands so on the sign-off.",
        tables=(Table(("gate", "answer", "statement"), rows),),
        next_act=(gates.next_act(job.refit),),
        foot=(f"record {short(job.found.digest)}",),
    )


def gates_json(job: Job) -> dict[str, Any]:
    """The gates as JSON."""
    return {
        "aircraft": job.refit.aircraft,
        "refit": job.refit.id,
        "state": job.refit.state.value,
        "gates": state.gate_json(job.refit),
    }
