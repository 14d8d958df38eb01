"""What a refit's cards are made from beside its plan."""

from __future__ import annotations

from asflown.app import kept
from asflown.app.needs import Store
from asflown.app.planned import of_plan
from asflown.app.state import Job
from asflown.core import roles
from asflown.core.aircraft import Aircraft
from asflown.core.bench.moves import retasked, rewired
from asflown.core.bench.refit_cards import NO_FACTS, BenchFacts
from asflown.core.bench.stale import stale, turned
from asflown.core.plan import Plan
from asflown.core.ports.check import SOURCE
from asflown.core.statements.statements import of_one, statements
from asflown.formats import documents


def facts_of(store: Store, job: Job, plan: Plan | None) -> BenchFacts:
    """What moved, what no longer holds, and what the planned settings say.

    Nothing is told of settings where a release has no catalog that says what they mean.
    """
    if plan is None:
        return NO_FACTS
    moves = rewired(_before(store, job), job.aircraft)
    ports = tuple(finding for finding in plan.findings if finding.source == SOURCE)
    old = job.old.catalog if job.old else None
    if job.new is None:
        return BenchFacts(moves, stale(plan, {}, None), (), ports)
    source = kept.record(store, job.refit.source) if job.refit.source else job.found
    planned = of_plan(plan, job.new, source).values
    banks = tuple(roles.active_banks(source, job.new))
    said = of_one(statements(planned, job.new, plan.to_release, banks=banks))
    if old is None:
        return BenchFacts(moves, stale(plan, {}, job.new), said, ports)
    found = job.found.values
    return BenchFacts(
        (*moves, *retasked(found, old, planned, job.new)),
        stale(plan, turned(found, old, planned, job.new), job.new),
        said,
        ports,
    )


def _before(store: Store, job: Job) -> Aircraft:
    """The aircraft as it was described when the refit began."""
    begun = store.revisions("refit", job.refit.id)[0].at
    held = [one for one in store.revisions("aircraft", job.refit.aircraft) if one.at <= begun]
    return documents.load(held[-1].body, Aircraft) if held else job.aircraft
