"""Values read at the bench: typed by a person, or told by the aircraft; and what was put right."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.app import cards, state
from asflown.app.cards import Cards
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.bench.fixes import Fix, asks_read_back, opened
from asflown.core.bench.judged import judged
from asflown.core.cards import Card, Measure
from asflown.core.refit import GateName, Reading, Refit, State
from asflown.errors import NeedsPerson, UsageError

#: The longest value that is kept.
_LONGEST = 200


@dataclass(frozen=True)
class Read:
    """What was read for a card, with the cards as they stand now."""

    cards: Cards
    card: Card
    readings: tuple[Reading, ...]


def note_values(work: Workplace, aircraft: str, said: str, pairs: Sequence[str]) -> Read:
    """Note values that a person read: ``WHAT=VALUE``, where WHAT begins like a box of the card.

    Raises
    ------
    UsageError
        When the card has no such box, several begin so, or no value is given.
    NeedsPerson
        When no refit is there on which it can be noted.
    """
    if not pairs:
        raise UsageError("no value is given", next_step='write it like "shown=15.92"')
    _, card = _card(work, aircraft, said)
    readings = []
    for pair in pairs:
        name, sign, value = pair.partition("=")
        if not sign or not value.strip():
            raise UsageError(f"{pair!r} is no value", next_step='write it like "shown=15.92"')
        measure = find_measure(card, name)
        typed = _bare(value.strip()[:_LONGEST], measure.unit)
        readings.append(Reading(measure.what, typed, measure.unit, False, work.clock.now(), work.who))
    return keep(work, aircraft, card.id, readings)


def _bare(value: str, unit: str) -> str:
    """A value without its unit, where that was typed too."""
    if unit and value.endswith(unit):
        return value[: -len(unit)].strip() or value
    return value


def keep(work: Workplace, aircraft: str, card: str, readings: Sequence[Reading]) -> Read:
    """Keep readings of a card: the last of each box stands, the logbook has every one."""
    job, found = _card(work, aircraft, card)
    kept = {one.what: one for one in job.refit.readings.get(found.id, ())}
    kept |= {one.what: one for one in readings}
    order = [measure.what for measure in found.all_measures]
    standing = tuple(
        sorted(kept.values(), key=lambda one: order.index(one.what) if one.what in order else -1)
    )
    refit = replace(job.refit, readings={**job.refit.readings, found.id: standing})
    with work.store.transaction() as tx:
        state.put(tx, job, refit)
        body = {
            "refit": refit.id,
            "card": found.id,
            "what": "read",
            "readings": [[one.what, one.value, one.unit, one.says, one.over_link] for one in readings],
            "not_as_expected": [
                one.measure.what for one in judged(found, readings) if one.is_as_expected is False
            ],
        }
        tx.log(refit.aircraft, "bench", body)
    return Read(cards.cards_of(work, aircraft), found, tuple(readings))


def fixed(work: Workplace, aircraft: str, said: str, fix: Fix, note: str) -> tuple[Cards, tuple[str, ...]]:
    """Note what was put right after a card failed, and open again every card that it touches.

    Returns
    -------
    tuple
        The cards, and the words of those that are done again.

    Raises
    ------
    NeedsPerson
        When that card has not failed.
    UsageError
        When nothing is said of what was done.
    """
    if not note.strip():
        raise UsageError("say what was put right", next_step="add --note TEXT")
    job, card = _card(work, aircraft, said)
    result = job.refit.cards.get(card.id)
    if result is None or result.result != "fail":
        raise NeedsPerson(
            f"card {card.id!r} has not failed: there is nothing to put right on it",
            next_step=f"note what was seen: asflown cards mark {card.id} fail --note TEXT",
        )
    every = [one.card for one in cards.job_cards(work, job)]
    again = opened(fix, card.id, every, job.refit.cards)
    refit = _opened_again(_unproven(job.refit, fix), again)
    with work.store.transaction() as tx:
        state.put(tx, job, refit)
        body = {
            "refit": refit.id,
            "card": card.id,
            "what": "put right",
            "fix": fix.value,
            "note": note.strip(),
            "again": list(again),
            "read_back": asks_read_back(fix),
        }
        tx.log(refit.aircraft, "bench", body)
    return cards.cards_of(work, aircraft), again


def _unproven(refit: Refit, fix: Fix) -> Refit:
    """What was read back no longer says what is on the aircraft, once settings or the image were put right.

    Raises
    ------
    NeedsPerson
        When the refit was signed off: it was signed for the settings as they were read back.
    """
    if not asks_read_back(fix) or refit.state is not State.READ_BACK:
        if asks_read_back(fix) and refit.state is State.SIGNED:
            raise NeedsPerson(
                f"refit {refit.id} was signed off for the settings as they were read back",
                next_step=f"go back: asflown back {refit.aircraft}; or record what is on it and plan anew:"
                f" asflown found LISTING --aircraft {refit.aircraft}",
            )
        return refit
    gone = GateName.READ_BACK.value
    moved = state.become(refit, State.WRITTEN_OUT)
    return replace(moved, gates={name: one for name, one in moved.gates.items() if name != gone})


def _opened_again(refit: Refit, again: Sequence[str]) -> Refit:
    """Without what was noted and read on these cards; the logbook has it."""
    gone = set(again)
    return replace(
        refit,
        cards={name: one for name, one in refit.cards.items() if name not in gone},
        readings={name: one for name, one in refit.readings.items() if name not in gone},
        gates={name: one for name, one in refit.gates.items() if name != GateName.BENCH_CARDS.value},
    )


def find_measure(card: Card, said: str) -> Measure:
    """The box of a card that is meant: by its whole name, or by how it begins.

    Raises
    ------
    UsageError
        When there is none, or several begin so.
    """
    wanted = _folded(said)
    every = card.all_measures
    exact = [one for one in every if _folded(one.what) == wanted]
    near = exact or [one for one in every if wanted and _folded(one.what).startswith(wanted)]
    if len({one.what for one in near}) == 1:
        return near[0]
    names = "; ".join(dict.fromkeys(one.what for one in every)) or "none"
    what = f"several boxes of card {card.id} begin with" if near else f"card {card.id} has no box"
    raise UsageError(f"{what} {said.strip()!r}", next_step=f"its boxes: {names}")


def _folded(text: str) -> str:
    return re.sub(r"[^\w]+", " ", text.casefold()).strip()


def meant_card(work: Workplace, aircraft: str, said: str) -> Card:
    """The card that is meant, of a refit on which values can be noted.

    Raises
    ------
    UsageError, NeedsPerson
        When there is no such card, or no such refit.
    """
    return _card(work, aircraft, said)[1]


def _card(work: Workplace, aircraft: str, said: str) -> tuple[Job, Card]:
    job = cards.markable(work, aircraft)
    return job, cards.find_card(cards.job_cards(work, job), said).card
