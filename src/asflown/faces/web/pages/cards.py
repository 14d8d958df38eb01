"""Bench and test cards, the gates, and the sign-off."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Way
from asflown.faces.web.pages import bench, over_link
from asflown.faces.web.pages.beside import others

if TYPE_CHECKING:
    from asflown.app.maintenance import Maintenance

_RESULTS = (Way("pass", "pass"), Way("fail", "fail"), Way("not-tested", "not tested"))
_ANSWERS = (
    Way("passed", "passed"),
    Way("failed", "failed"),
    Way("impossible", "impossible"),
    Way("skipped", "skipped"),
)


def look(asked: Asked) -> Page:
    """Every card with its result."""
    from asflown.app.cards import cards_of
    from asflown.app.views.cards_shown import cards_json, cards_sheet
    from asflown.faces.report.kinds import cards_printed

    found = cards_of(asked.work, asked["aircraft"])
    names = {
        f"{one.card.id}: {one.card.title}": at("aircraft", found.aircraft, "card", one.card.id)
        for one in found.states
    }
    return Page(
        cards_sheet(found),
        lambda: cards_json(found),
        printed=lambda: cards_printed(found, found.states, found.at),
        names=names,
        others=others(found.aircraft),
        whose=found.aircraft,
    )


def one(asked: Asked) -> Page:
    """One card, and where its result is noted."""
    from asflown.app.cards import cards_of, may_be_noted
    from asflown.app.views.card_sheet import card_sheet
    from asflown.app.views.cards_shown import card_json
    from asflown.faces.report.kinds import cards_printed

    cards = cards_of(asked.work, asked["aircraft"])
    found = cards.find(asked["card"])
    fields = (
        Field("result", "Result", "ways", "", _RESULTS, needed=True),
        Field("note", "Note", "area", hint="values read, and what was seen"),
    )
    act = Act("mark", "Note the result", fields)
    return Page(
        card_sheet(cards, found),
        lambda: card_json(found),
        printed=lambda: cards_printed(cards, (found,), cards.at),
        acts=(act, *bench.acts(asked, found)) if cards.job and may_be_noted(cards.job.refit) else (),
        others=others(cards.aircraft),
        whose=cards.aircraft,
    )


def mark(asked: Asked) -> Go:
    """Note a card's result, the values read for it, or what was put right."""
    from asflown.app import cards as job

    sent = asked.sent
    assert sent is not None
    others_by_act = {"read": bench.read, "live": over_link.read_card, "fixed": bench.fixed}
    if sent.act in others_by_act:
        return others_by_act[sent.act](asked, sent)
    if sent.text("result") not in {way.value for way in _RESULTS}:
        raise UsageError("no result was chosen", next_step="choose pass, fail or not tested")
    job.mark(asked.work, asked["aircraft"], asked["card"], sent.text("result"), sent.text("note"))
    return Go(at("aircraft", asked["aircraft"], "cards"), f"Noted: {asked['card']}, {sent.text('result')}.")


def gates(asked: Asked) -> Page:
    """What must be looked at on the way, and where it is answered."""
    from asflown.app import cards as job
    from asflown.app import state
    from asflown.app.views.cards_shown import gates_json, gates_sheet

    found = state.last_job(asked.work, asked["aircraft"])
    by_hand = job.gates_by_hand(found.refit)
    first = next((name for name, is_answered in by_hand if not is_answered), "")
    fields = (
        Field("gate", "Gate", "choice", first, tuple(Way(name, name) for name, _ in by_hand)),
        Field("answer", "Answer", "ways", "", _ANSWERS, needed=True),
        Field("why", "The fact or the reason", needed=True),
    )
    answering = Act("answer", "Answer the gate", fields, title="Answer a gate")
    return Page(
        gates_sheet(found, asked.work.clock.now()),
        lambda: gates_json(found),
        acts=(answering,) if job.may_be_noted(found.refit) else (),
        others=others(found.refit.aircraft),
        whose=found.refit.aircraft,
    )


def answer(asked: Asked) -> Go:
    """Answer a gate."""
    from asflown.app import cards as job

    sent = asked.sent
    assert sent is not None
    gate = sent.text("gate")
    job.answer_gate(asked.work, asked["aircraft"], gate, sent.text("answer"), sent.text("why"))
    return Go(at("aircraft", asked["aircraft"], "gates"), f"Noted: {gate}, {sent.text('answer')}.")


def sign(asked: Asked) -> Page:
    """What a sign-off would say now, and where it is signed."""
    from asflown.app.cards import cards_of
    from asflown.app.maintenance import is_signed, last_sign_off
    from asflown.app.views.cards_shown import cards_sheet
    from asflown.app.views.signed import before_signing

    cards = cards_of(asked.work, asked["aircraft"])
    fields = (
        Field("name", "Name", value=asked.work.who, needed=True),
        Field("role", "Role", needed=True, hint="e.g. maintainer"),
        Field("remark", "Remark", "area"),
    )
    sheet = before_signing(cards)
    is_open = cards.job is not None and not cards.job.refit.state.is_closed
    if not is_open and is_signed(asked.work.store, cards.aircraft):
        return _entry(last_sign_off(asked.work.store, cards.aircraft))
    return Page(
        replace(sheet, tables=(*sheet.tables, *cards_sheet(cards).tables)),
        acts=(Act("sign", "Sign it off", fields),) if is_open else (),
        others=others(cards.aircraft),
        whose=cards.aircraft,
    )


def _entry(made: Maintenance) -> Page:
    """The last sign-off as a maintenance entry."""
    from asflown.app.views.maintenance_shown import maintenance_json, maintenance_sheet
    from asflown.faces.report.kinds import maintenance_printed

    return Page(
        maintenance_sheet(made),
        lambda: maintenance_json(made),
        printed=lambda: maintenance_printed(made),
        others=others(made.aircraft.id),
        whose=made.aircraft.id,
    )


def put_name(asked: Asked) -> Go:
    """Sign a refit off."""
    from asflown.app import sign as job

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    signature = job.Signature(sent.text("name"), sent.text("role"), sent.text("remark"))
    job.sign(asked.work, aircraft, signature)
    return Go(at("aircraft", aircraft, "sign"), "Signed off.")
