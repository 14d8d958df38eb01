"""The cards of one refit: the standing ones, and those its own changes add."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from asflown.core import standing_cards as standing
from asflown.core.bench import made_cards, refit_items
from asflown.core.bench.moves import Move
from asflown.core.bench.stale import Stale
from asflown.core.cards import Card, Measure, Range, numbered
from asflown.core.catalog import Catalog
from asflown.core.finding import Finding
from asflown.core.plan import Plan
from asflown.core.statements.said import Amount
from asflown.core.statements.statements import Statement
from asflown.core.statements.topics import Family
from asflown.core.statements.words import sentence

#: s and share by which a stop watch in a hand may be off (common practice, no source).
_HAND, _SHARE = 0.5, 0.1
#: V that a warning may come beside the planned pack voltage, as a share (common practice, no source).
_WARNING = 0.02
#: Which standing card sees what the settings say of a family.
_SEEN_ON = {
    "transmitter-off": Family.RADIO_LOST,
    "arming-switch": Family.ARMING,
    "meter": Family.BATTERY,
}


@dataclass(frozen=True)
class BenchFacts:
    """What a refit's cards are made from beside its plan.

    Attributes
    ----------
    moves
        What sits elsewhere than before.
    stale
        Calibrations that no longer hold though no line says so.
    statements
        What the planned settings say about losing the radio, arming and the battery.
    ports
        What does not go together on the board.
    """

    moves: tuple[Move, ...] = ()
    stale: tuple[Stale, ...] = ()
    statements: tuple[Statement, ...] = ()
    ports: tuple[Finding, ...] = ()


NO_FACTS = BenchFacts()


def cards_for(
    plan: Plan | None = None,
    new: Catalog | None = None,
    old: Catalog | None = None,
    *,
    was_provisional: bool = False,
    facts: BenchFacts = NO_FACTS,
) -> tuple[Card, ...]:
    """Every card of a refit, in working order and numbered.

    Parameters
    ----------
    plan
        The settled plan; ``None`` for the standing cards alone.
    new, old
        The releases' catalogs: say how a calibration is made, and units.
    was_provisional
        Whether the first plan was provisional: then the fresh factory listing has a card.
    facts
        What moved, what no longer holds, and what the planned settings say.
    """
    cards = [standing.BASELINE]
    if was_provisional or (plan is not None and plan.is_provisional):
        cards.append(standing.FACTORY_LISTING)
    cards.append(standing.PROPELLERS_OFF)
    if plan is not None:
        cards += _before_standing(plan, new, old, facts)
    cards += [_as_planned(card, facts.statements) for card in standing.BENCH[1:]]
    if plan is not None:
        cards += _after_standing(plan, new, old)
    return numbered([*cards, standing.FIRST_HOVER])


def _before_standing(
    plan: Plan, new: Catalog | None, old: Catalog | None, facts: BenchFacts
) -> Iterator[Card]:
    """Wires and calibrations come first: the standing checks rest on them."""
    wires = refit_items.moved(facts.moves, facts.ports)
    if wires:
        yield made_cards.port_moves(wires)
    again = (*refit_items.redone(plan, new, old), *refit_items.stale(facts.stale))
    if again:
        yield made_cards.calibrations(again)


def _after_standing(plan: Plan, new: Catalog | None, old: Catalog | None) -> Iterator[Card]:
    for items, make in (
        (refit_items.changed(plan, new, old), made_cards.changes),
        (refit_items.retired(plan, old), made_cards.retired),
        (refit_items.decided(plan, new), made_cards.decisions),
    ):
        if items:
            yield make(items)


def _as_planned(card: Card, statements: Sequence[Statement]) -> Card:
    """A standing card with what the planned settings say of what is seen on it."""
    family = _SEEN_ON.get(card.id)
    said = [one for one in statements if one.topic.family is family and one.is_stated]
    if not said:
        return card
    spans = {"time to link lost": _delay(said), "warning at (pack)": _warning(said)}
    measures = tuple(_with(measure, spans.get(measure.what)) for measure in card.measures)
    lines = tuple(f"As planned: {sentence(one)}." for one in said)
    return replace(card, set_up=(*card.set_up, *lines), measures=measures)


def _with(measure: Measure, span: Range | None) -> Measure:
    return measure if span is None else replace(measure, expects=span)


def _delay(said: Sequence[Statement]) -> Range | None:
    value = _amount(said, "radio_loss.delay")
    return (
        None if value is None else Range(max(0.0, value * (1 - _SHARE) - _HAND), value * (1 + _SHARE) + _HAND)
    )


def _warning(said: Sequence[Statement]) -> Range | None:
    value = _amount(said, "pack.warning_voltage")
    return None if value is None else Range(value * (1 - _WARNING), value * (1 + _WARNING))


def _amount(said: Sequence[Statement], role: str) -> float | None:
    for one in said:
        if one.topic.role == role and isinstance(one.said, Amount):
            return float(one.said.value)
    return None
