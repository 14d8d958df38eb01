"""Plans as they are kept: undecided, and with the refit's decisions applied when one is read.

A plan of 1,500 settings fills most of a megabyte. So one document is kept when a plan is asked for, another
when a listing is written out from it, and none for a decision: decisions stand in the refit and in the
logbook, each with the digest of the plan it led to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from asflown.app import kept
from asflown.app.needs import Document, Store, Transaction
from asflown.app.question import decisions_digest
from asflown.core.carry.settle import Decision, settle
from asflown.core.plan import Plan, Sealed
from asflown.core.refit import Refit
from asflown.formats import documents

#: The name of the input that decisions make; it moves with every decision.
DECISIONS = "decisions"


def plan_ids(refit: Refit) -> tuple[str, ...]:
    """Where the plans of a refit are kept: provisional, final, and those that were written out."""
    return (
        kept.plan_id(refit, provisional=True),
        kept.plan_id(refit, provisional=False),
        written_id(refit),
    )


def written_id(refit: Refit) -> str:
    """Where the plans that listings were written out from are kept, decisions applied."""
    return f"{refit.id}-written"


def undecided(store: Store, refit: Refit) -> Plan | None:
    """The plan a refit stands on before any decision; ``None`` where there is none."""
    provisional = refit.final_digest is None
    if provisional and refit.provisional_digest is None:
        return None
    document = store.document("plan", kept.plan_id(refit, provisional=provisional))
    return None if document is None else documents.load(document.body, Plan)


def standing(store: Store, refit: Refit) -> Plan | None:
    """The plan a refit stands on with its decisions applied: the final one, else the provisional one."""
    plan = undecided(store, refit)
    return None if plan is None else decided(plan, refit.decisions)


def decided(plan: Plan, decisions: Sequence[Decision]) -> Plan:
    """An undecided plan with decisions applied, and sealed to them."""
    inputs = tuple(
        Sealed(DECISIONS, decisions_digest(decisions)) if item.name == DECISIONS else item
        for item in plan.inputs
    )
    return replace(settle(plan, decisions), inputs=inputs)


def keep_undecided(tx: Transaction, store: Store, refit: Refit, plan: Plan) -> Document:
    """Keep an undecided plan; the same one again is kept once."""
    id = kept.plan_id(refit, provisional=plan.is_provisional)
    plan = decided_nothing(plan)
    body = documents.dump(plan)
    latest = store.document("plan", id)
    return latest if latest is not None and latest.body == body else tx.put("plan", id, body)


def decided_nothing(plan: Plan) -> Plan:
    """An undecided plan, sealed to no decision."""
    inputs = tuple(
        Sealed(DECISIONS, decisions_digest(())) if item.name == DECISIONS else item for item in plan.inputs
    )
    return replace(plan, inputs=inputs)


def keep_written(tx: Transaction, refit: Refit, plan: Plan) -> Document:
    """Keep the whole plan a listing is written out from."""
    return tx.put("plan", written_id(refit), documents.dump(plan))
