"""Cards: what a person checks by hand, and what a failed one closes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.refit import CardResult, Gate, GateName, Reading


class Phase(StrEnum):
    """When a card is done."""

    BEFORE_LOADING = "before loading"
    AFTER_LOADING = "after loading"
    BENCH = "bench"
    FLIGHT = "flight"


class Propellers(StrEnum):
    """Where the propellers are while a card is done."""

    OFF = "propellers off"
    ON = "propellers on"


@dataclass(frozen=True, slots=True)
class Range:
    """From ``low`` to ``high``, in the unit of what is measured."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Measure:
    """A value that is read and written into a box; ``unit`` is empty for a word.

    Attributes
    ----------
    live
        Signal of a link that says it (canonical name), or ``channels``: which receiver channels move.
    is_change
        How far it moves while it is read, not where it stands.
    expects
        What it should be, whoever reads it.
    expects_live
        The same where a link says it: signs are those of the standard there.
    setting, planned
        The setting on the aircraft that it is, and the value that was planned for it.
    """

    what: str
    unit: str = ""
    live: str = ""
    is_change: bool = False
    expects: Range | None = None
    expects_live: Range | None = None
    setting: str = ""
    planned: str | None = None


@dataclass(frozen=True, slots=True)
class Agree:
    """Two measures of a card that must agree within so much."""

    first: str
    second: str
    within: float


@dataclass(frozen=True, slots=True)
class Item:
    """One thing on a card with a box of its own.

    Attributes
    ----------
    lines
        Identifiers of the carry-over lines it comes from.
    expect
        What should be seen; empty where the card says it for all of them.
    measures
        Values read for it.
    """

    text: str
    lines: tuple[str, ...] = ()
    expect: str = ""
    measures: tuple[Measure, ...] = ()


@dataclass(frozen=True)
class Card:
    """One card.

    Attributes
    ----------
    id
        Word a person types: ``cards mark sticks pass``.
    safety
        The boxed sentences on top: how nobody gets hurt.
    expect
        What should be seen, one statement a line.
    measures
        Boxes for values that are read.
    go_on_only_if
        The one condition for going on.
    stop
        When to stop at once.
    is_powered
        Whether the pack is connected or the board moves anything.
    items
        What this refit adds, each with its own box.
    """

    id: str
    title: str
    phase: Phase
    aim: str
    set_up: tuple[str, ...]
    do: tuple[str, ...]
    expect: tuple[str, ...]
    go_on_only_if: str
    stop: tuple[str, ...] = ()
    safety: tuple[str, ...] = ()
    measures: tuple[Measure, ...] = ()
    propellers: Propellers = Propellers.OFF
    is_powered: bool = False
    items: tuple[Item, ...] = ()
    number: int = 0
    agree: tuple[Agree, ...] = ()

    @property
    def all_measures(self) -> tuple[Measure, ...]:
        """Its own boxes, and those of its items."""
        return (*self.measures, *(measure for item in self.items for measure in item.measures))


#: What a person may note on a card.
RESULTS = ("pass", "fail", "not tested")


@dataclass(frozen=True)
class CardState:
    """A card with what was noted on it.

    Attributes
    ----------
    closed_by
        The earlier card that failed; ``None`` where none did.
    waits_for
        The card that must be answered first; ``None`` when this one is free.
    readings
        What was read for it.
    """

    card: Card
    result: CardResult | None
    closed_by: str | None = None
    waits_for: str | None = None
    readings: tuple[Reading, ...] = ()

    @property
    def word(self) -> str:
        """What stands in its result box: the result, ``closed``, or ``not stated``."""
        if self.closed_by is not None:
            return "closed"
        return self.result.result if self.result else "not stated"


def numbered(cards: Iterable[Card]) -> tuple[Card, ...]:
    """The cards with numbers from 1 on."""
    return tuple(replace(card, number=number) for number, card in enumerate(cards, 1))


def card_states(
    cards: Sequence[Card],
    results: Mapping[str, CardResult],
    readings: Mapping[str, tuple[Reading, ...]] | None = None,
) -> tuple[CardState, ...]:
    """Lay results and readings beside cards: a failed card closes what follows.

    A powered bench card waits until the card ``propellers-off`` has passed; a flight card until every
    bench card was answered.
    """
    states: list[CardState] = []
    failed: str | None = None
    for card in cards:
        result = results.get(card.id)
        read = (readings or {}).get(card.id, ())
        states.append(CardState(card, result, failed, _waits_for(card, cards, results), read))
        if failed is None and result is not None and result.result == "fail":
            failed = card.id
    return tuple(states)


def _waits_for(card: Card, cards: Sequence[Card], results: Mapping[str, CardResult]) -> str | None:
    """The card that must be answered first, ``None`` when this one is free."""
    bench = [other for other in cards if other.phase is Phase.BENCH]
    if card.phase is Phase.FLIGHT:
        return next((other.id for other in bench if other.id not in results), None)
    if card.phase is not Phase.BENCH or not card.is_powered:
        return None
    props = next((other for other in bench if other.id == "propellers-off"), None)
    if props is None or (props.id in results and results[props.id].result == "pass"):
        return None
    return props.id


def is_bench_checked(states: Iterable[CardState]) -> bool:
    """Whether every bench card passed; *not tested* is no pass."""
    bench = [state for state in states if state.card.phase is Phase.BENCH]
    return bool(bench) and all(state.word == "pass" for state in bench)


def proven(states: Sequence[CardState], gates: Mapping[str, Gate]) -> str:
    """What a sign-off may claim, in words; never more than what was done."""
    bench = "bench-checked" if is_bench_checked(states) else "not bench-checked"
    trial = gates.get(GateName.TRIAL_FLIGHT)
    verdict = gates.get(GateName.VERDICT)
    hovered = any(state.card.id == "first-hover" and state.word == "pass" for state in states)
    if trial is not None and trial.answer == "passed":
        flown = "trial flown"
        flown += f", verdict: {verdict.statement}" if verdict is not None else ", no verdict"
    elif hovered:
        flown = "hovered half a minute, no trial flown"
    else:
        flown = "not flown"
    return f"settings proven; {bench}, {flown}"
