"""The sign-off sheet."""

from __future__ import annotations

from typing import Any

from asflown.app import state
from asflown.app.cards import Cards
from asflown.app.sign import NO_CERTIFICATE, Signed
from asflown.app.views.cards_shown import claim
from asflown.app.views.carry_json import account_json
from asflown.app.views.sheet import Sheet, Table, account_line, counted, short


def signed_sheet(signed: Signed) -> Sheet:
    """What was signed, with every gate; one nobody answered is *not stated*."""
    refit, plan = signed.job.refit, signed.plan
    remark = (("remark", signed.signature.remark),) if signed.signature.remark else ()
    return Sheet(
        title="Sign-off",
        head=(
            ("aircraft", f"{signed.job.aircraft.title} ({refit.aircraft})"),
            ("sheet", f"{signed.sheet:03d}"),
            ("date", signed.at),
            ("release", f"{plan.from_release or 'not stated'} → {plan.to_release}"),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("as found", f"{signed.job.found.id}, taken {signed.job.found.taken}"),
            ("as left", f"{signed.as_left.id}, taken {signed.as_left.taken}"),
            ("signed by", f"{signed.signature.name}, {signed.signature.role}"),
            *remark,
        ),
        sentence=signed.proven[:1].upper() + signed.proven[1:] + ".",
        account=account_line(plan.account),
        warnings=tuple(_warnings(signed)),
        tables=(
            Table(("gate", "answer", "statement"), state.gate_rows(refit), title="Gates"),
            Table(
                ("card", "result", "note"),
                tuple(
                    (f"{s.card.number} {s.card.title}", s.word, s.result.note if s.result else "")
                    for s in signed.cards
                ),
                title="Cards",
            ),
        ),
        notes=(
            f"{counted(len(refit.decisions), 'decision')} made in this refit; each is in the logbook.",
            NO_CERTIFICATE,
        ),
        next_act=(
            f"hand the record over: asflown handover {refit.aircraft}",
            f"go back all the same: asflown back {refit.aircraft}",
        ),
        foot=(
            f"as found {short(signed.job.found.digest)}",
            f"as left {short(signed.as_left.digest)}",
            f"plan {short(plan.digest)}",
        ),
    )


def before_signing(cards: Cards) -> Sheet:
    """What a sign-off would claim now."""
    job = cards.job
    head = [("aircraft", cards.aircraft), ("date", cards.at)]
    if job is None:
        return Sheet("Sign-off", tuple(head), "There is no refit to sign off.")
    refit = job.refit
    head += [
        ("release", f"{refit.from_release or 'not stated'} → {refit.to_release}"),
        ("refit", f"{refit.id}, {refit.state.value}"),
    ]
    says = "It is closed" if refit.state.is_closed else f"Signed now it would say: {claim(cards)}"
    return Sheet(
        "Sign-off",
        tuple(head),
        f"{says}.",
        tables=(Table(("gate", "answer", "statement"), state.gate_rows(refit), title="Gates"),),
        notes=(NO_CERTIFICATE,),
    )


def _warnings(signed: Signed) -> tuple[str, ...]:
    if not signed.redo:
        return ()
    names = ", ".join(signed.redo[:6]) + (" …" if len(signed.redo) > 6 else "")
    return (f"not stated whether these were done again on the aircraft: {names}",)


def signed_json(signed: Signed) -> dict[str, Any]:
    """A sign-off as JSON."""
    refit = signed.job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "sheet": signed.sheet,
        "at": signed.at,
        "from": signed.plan.from_release,
        "to": signed.plan.to_release,
        "name": signed.signature.name,
        "role": signed.signature.role,
        "remark": signed.signature.remark,
        "statement": signed.proven,
        "account": account_json(signed.plan),
        "as_found": signed.job.found.id,
        "as_left": signed.as_left.id,
        "redo_not_stated": list(signed.redo),
        "gates": state.gate_json(refit),
        "cards": [
            {"card": s.card.id, "result": s.word, "note": s.result.note if s.result else ""}
            for s in signed.cards
        ],
        "certificate": NO_CERTIFICATE,
        "plan": signed.plan.digest,
    }
