"""The field sheet: cards, test card and way back for a phone without a store, and its entries taken in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app import kept, state
from asflown.app.back import BackReady, shown_back
from asflown.app.bench.readings import keep
from asflown.app.cards import Cards, cards_of, find_card, job_cards, mark, may_be_noted
from asflown.app.workplace import Workplace
from asflown.core.cards import Card
from asflown.core.field import CardEntry, FieldEntries, FlownEntry, note_of, print_of
from asflown.core.refit import Reading
from asflown.errors import AsflownError, NeedsPerson, UsageError

if TYPE_CHECKING:
    from asflown.app.judging.testcard import TestCard
    from asflown.app.needs import Store
    from asflown.core.refit import Refit


@dataclass(frozen=True)
class FieldSheet:
    """What goes to the field.

    Attributes
    ----------
    refit
        Whose cards these are.
    card, no_card
        The test card, or why there is none.
    back, no_back
        The way back, or why there is none.
    """

    refit: Refit
    cards: Cards
    card: TestCard | None
    no_card: str
    back: BackReady | None
    no_back: str


@dataclass(frozen=True)
class Taken:
    """What became of the entries of a field sheet.

    Attributes
    ----------
    taken, were_there
        Entries noted now, and those that had been taken before.
    refused
        Entries that could not be noted, each with the reason; they stand in the file still.
    flown
        Flights written down now.
    """

    entries: FieldEntries
    taken: tuple[CardEntry, ...]
    were_there: tuple[CardEntry, ...]
    refused: tuple[tuple[CardEntry, str], ...]
    flown: tuple[FlownEntry, ...]


def field_sheet(work: Workplace, aircraft: str) -> FieldSheet:
    """Everything that is wanted at the field; nothing is kept or entered.

    Raises
    ------
    NeedsPerson
        When the aircraft has no refit on which anything can be noted.
    """
    job = state.last_job(work, aircraft)
    refit = job.refit
    if not may_be_noted(refit):
        raise NeedsPerson(
            f"refit {refit.id} has ended ({refit.state.value}): there is nothing to take to the field",
            next_step=f"make a new plan: asflown plan {aircraft} --to RELEASE",
        )
    card, no_card = _test_card(work, aircraft, refit)
    back: BackReady | None = None
    no_back = ""
    try:
        back = shown_back(work, aircraft)
    except NeedsPerson as error:
        no_back = error.what
    return FieldSheet(refit, cards_of(work, aircraft), card, no_card, back, no_back)


def _test_card(work: Workplace, aircraft: str, refit: Refit) -> tuple[TestCard | None, str]:
    """The test card where its margins are sealed: looking at a sheet seals nothing."""
    from asflown.app.judging.margins import sealed
    from asflown.app.judging.testcard import make_card

    _, seal = sealed(work.store, refit)
    if seal is None:
        return None, f"the margins are not sealed yet: asflown testcard {aircraft}"
    try:
        return make_card(work, aircraft, stated=seal.stated), ""
    except NeedsPerson as error:
        return None, error.what


def take_entries(work: Workplace, data: bytes, name: str) -> Taken:
    """Take the entries of a field sheet into the logbook, each card that can be noted.

    What was taken before is known again. A card that says something else now than when it was filled in, or
    that is closed, is refused with the reason.

    Raises
    ------
    InputError
        When the file is no such file.
    UsageError
        When it is about an aircraft or a refit that is not here, or no longer the last one.
    """
    from asflown.formats import field_entries

    entries = field_entries.read(data, name)
    aircraft = kept.aircraft(work.store, entries.aircraft).id
    job = state.last_job(work, aircraft)
    if job.refit.id != entries.refit:
        raise UsageError(
            f"{name} is about refit {entries.refit}; the last one of {aircraft} is {job.refit.id}",
            next_step="note by hand what still holds: asflown cards mark CARD RESULT --note TEXT",
        )
    taken, there, refused = [], [], []
    for entry in entries.cards:
        note = note_of(entry, entries.name)
        if _was_taken(work.store, job.refit, entry, note):
            there.append(entry)
            continue
        try:
            card = find_card(job_cards(work, state.last_job(work, aircraft)), entry.card).card
            if print_of(card) != entry.print:
                raise NeedsPerson("the card says something else now than when it was filled in")
            mark(work, aircraft, card.id, entry.result, note)
            _read(work, aircraft, card, entry, entries.name)
        except (NeedsPerson, UsageError) as error:
            refused.append((entry, _why(error)))
        else:
            taken.append(entry)
    flown = _write_down(work, job.refit, entries)
    return Taken(entries, tuple(taken), tuple(there), tuple(refused), flown)


def _read(work: Workplace, aircraft: str, card: Card, entry: CardEntry, name: str) -> None:
    """Keep what was read in the card's own boxes; anything else stands in the note alone."""
    boxes = {measure.what for measure in card.all_measures}
    readings = [
        Reading(what, value, unit, False, entry.at or work.clock.now(), name or work.who)
        for what, value, unit in entry.values
        if what in boxes and value.strip()
    ]
    if readings:
        keep(work, aircraft, card.id, readings)


def _why(error: AsflownError) -> str:
    return f"{error.what}; next: {error.next_step}" if error.next_step else error.what


def _was_taken(store: Store, refit: Refit, entry: CardEntry, note: str) -> bool:
    return any(
        one.kind == "card"
        and one.body.get("refit") == refit.id
        and (one.body.get("card"), one.body.get("result"), one.body.get("note"))
        == (entry.card, entry.result, note)
        for one in store.book(refit.aircraft)
    )


def _write_down(work: Workplace, refit: Refit, entries: FieldEntries) -> tuple[FlownEntry, ...]:
    """Enter the flights that are not entered yet."""
    bodies = [(one, _flown_body(one)) for one in entries.flown]
    known = [
        flown
        for one in work.store.book(refit.aircraft)
        if one.kind == "field" and one.body.get("refit") == refit.id
        for flown in one.body.get("flown") or ()
    ]
    new = [(one, body) for one, body in bodies if body not in known]
    if new:
        with work.store.transaction() as tx:
            body = {"refit": refit.id, "name": entries.name, "flown": [body for _, body in new]}
            tx.log(refit.aircraft, "field", body)
    return tuple(one for one, _ in new)


def _flown_body(one: FlownEntry) -> dict[str, object]:
    return {"number": one.number, "log": one.log, "seconds": one.seconds, "note": one.note, "at": one.at}
