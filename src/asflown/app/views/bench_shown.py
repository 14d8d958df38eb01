"""The bench: how far it is, what comes from this refit, and what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from asflown.app.bench.readings import Read
from asflown.app.cards import Cards, failed_cards
from asflown.app.views.card_sheet import values_table
from asflown.app.views.cards_shown import card_json, cards_json, cards_sheet, claim
from asflown.app.views.sheet import Sheet, Table, counted, listed
from asflown.core.cards import Card, CardState, Phase

#: What the checks of a card of this refit are called, one and several.
_CHECKS = {
    "port-moves": ("port move", "port moves"),
    "calibrations": ("calibration", "calibrations"),
    "safety-changes": ("conversion that can hurt", "conversions that can hurt"),
    "retired": ("function that is gone", "functions that are gone"),
    "decisions": ("decision", "decisions"),
}
_SAFETY = (
    "PROPELLERS OFF for everything on the bench; frame strapped down; people clear",
    "lithium packs: plugged only for the step that asks for it, one person at the plug, a damaged one goes"
    " outside",
    "local aviation and radio rules come first, and people qualified for the work",
)


def bench_sheet(cards: Cards) -> Sheet:
    """The bench cards with what was read, and what comes next."""
    bench = [found for found in cards.states if found.card.phase is Phase.BENCH]
    base = cards_sheet(cards)
    read = [values_table(found, named=True) for found in bench if found.readings]
    rows = [row for table in read for row in table.rows if row[3]]
    tables = [
        Table(
            ("no.#", "card", "checks of this refit#", "values read#", "result", "note"),
            tuple(_row(found) for found in bench),
        )
    ]
    if rows:
        tables.append(Table(read[0].columns, tuple(rows), title="Values read"))
    if cards.calibrated:
        tables.append(
            Table(
                ("calibration", "of", "when", "fit for use"),
                tuple(
                    (one.id, one.what, one.when.value, "yes" if one.is_fit else f"NO: {one.why}")
                    for one in cards.calibrated
                ),
                title="Calibrations kept in this refit",
            )
        )
    return Sheet(
        title="Bench",
        head=base.head,
        sentence=f"{_counts(bench)} {_checks(bench)}",
        warnings=(*_SAFETY, *_failed(cards), *_wrong(bench)),
        tables=tuple(tables),
        next_act=_next(cards, bench),
        foot=base.foot,
    )


def _counts(bench: Sequence[CardState]) -> str:
    words = ("pass", "fail", "not tested", "closed", "not stated")
    counts = {word: sum(found.word == word for found in bench) for word in words}
    said = ", ".join(f"{number} {word}" for word, number in counts.items() if number)
    return f"{counted(len(bench), 'bench card')}: {said}."


def _checks(bench: Sequence[CardState]) -> str:
    parts = [
        counted(len(found.card.items), *_CHECKS[found.card.id]) for found in bench if found.card.id in _CHECKS
    ]
    return f"This refit adds {listed(parts)}." if parts else "No refit adds any check of its own."


def _row(found: CardState) -> tuple[str, ...]:
    card = found.card
    boxes = len(card.all_measures)
    note = found.result.note if found.result else ""
    if found.closed_by is not None:
        note = f"closed by {found.closed_by}"
    elif found.waits_for is not None and found.result is None:
        note = f"{found.waits_for} comes first"
    return (
        str(card.number),
        f"{card.id}: {card.title}",
        str(len(card.items) or ""),
        f"{len(found.readings)} of {boxes}" if boxes else "",
        found.word,
        note,
    )


def _failed(cards: Cards) -> tuple[str, ...]:
    return tuple(
        f"card {card.number} {card.id} failed: what follows is closed. Put it right, or go back"
        for card in failed_cards(cards.states)[:1]
    )


def _wrong(bench: Sequence[CardState]) -> tuple[str, ...]:
    return tuple(
        f"card {found.card.id}: {row[0]} is {row[2]}, expected {row[3]}"
        for found in bench
        for row in values_table(found).rows
        if row[4].startswith("NOT")
    )


def _next(cards: Cards, bench: Sequence[CardState]) -> tuple[str, ...]:
    failed = failed_cards(cards.states)
    if failed:
        card = failed[0].id
        return (
            f"put it right, and say what it was: asflown bench fixed {card} WHAT --note TEXT"
            " (settings, wiring, mounting, calibration, transmitter, image, nothing)",
            f"go back: asflown back {cards.aircraft}",
        )
    free = next((found.card for found in bench if found.word == "not stated"), None)
    if free is None:
        return cards_sheet(cards).next_act
    return _do(cards, free)


def _do(cards: Cards, card: Card) -> tuple[str, ...]:
    acts = [f"card {card.number}: asflown bench {cards.aircraft} --card {card.id}"]
    if card.all_measures and cards.job is not None:
        name = card.all_measures[0].what
        told = any(one.live or one.setting for one in card.all_measures)
        over = f"; or from the aircraft: asflown bench read {card.id} --link ADDRESS" if told else ""
        acts.append(f'its values: asflown bench read {card.id} "{name}=VALUE"{over}')
    if cards.job is not None:
        acts.append(f"then note it: asflown cards mark {card.id} pass (or fail, not-tested) --note TEXT")
    return tuple(acts)


def bench_json(cards: Cards) -> dict[str, Any]:
    """The same as JSON."""
    bench = [found for found in cards.states if found.card.phase is Phase.BENCH]
    base = cards_json(cards)
    return {
        "aircraft": cards.aircraft,
        "refit": base["refit"],
        "statement": claim(cards),
        "checks": {found.card.id: len(found.card.items) for found in bench if found.card.id in _CHECKS},
        "cards": [card_json(found) for found in bench],
        "calibrations": [
            {"id": one.id, "what": one.what, "when": one.when.value, "fit_for_use": one.is_fit}
            for one in cards.calibrated
        ],
        "next": list(_next(cards, bench)),
    }


def read_sheet(made: Read) -> Sheet:
    """What was read for one card, and how it stands against what is expected."""
    found = next(one for one in made.cards.states if one.card.id == made.card.id)
    names = {one.what for one in made.readings}
    table = values_table(found)
    rows = tuple(row for row in table.rows if row[0] in names)
    wrong = [row for row in rows if row[4].startswith("NOT")]
    says = (
        f"{counted(len(wrong), 'value')} not as expected: see why before you go on."
        if wrong
        else f"{counted(len(rows), 'value')} noted."
    )
    return Sheet(
        title=f"Card {found.card.number}: {found.card.title}",
        head=bench_sheet(made.cards).head,
        sentence=says,
        warnings=tuple(f"{row[0]} is {row[2]}, expected {row[3]}" for row in wrong),
        tables=(replace(table, rows=rows, title="Values read"),),
        next_act=(
            (f"asflown cards mark {found.card.id} fail --note TEXT",)
            if wrong
            else (f"asflown cards mark {found.card.id} pass (or fail, not-tested) --note TEXT",)
        ),
    )


def read_json(made: Read) -> dict[str, Any]:
    """The same as JSON."""
    found = next(one for one in made.cards.states if one.card.id == made.card.id)
    names = {one.what for one in made.readings}
    body = card_json(found)
    return {
        "aircraft": made.cards.aircraft,
        "card": found.card.id,
        "read": [one for one in body["measures"] if one["what"] in names],
    }


def fixed_sheet(cards: Cards, again: Sequence[str], *, read_back: bool) -> Sheet:
    """What is done again after something was put right."""
    base = bench_sheet(cards)
    notes = [f"Done again: {listed(again)}."]
    acts = list(base.next_act)
    if read_back:
        notes.append("What is on the aircraft is not proven any more: the settings are read back first.")
        acts.insert(0, f"read them back: asflown readback LISTING --aircraft {cards.aircraft}")
    return replace(base, notes=tuple(notes), next_act=tuple(acts))


def fixed_json(cards: Cards, again: Sequence[str], *, read_back: bool) -> dict[str, Any]:
    """The same as JSON."""
    return {**bench_json(cards), "again": list(again), "read_back": read_back}
