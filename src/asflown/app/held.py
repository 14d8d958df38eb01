"""Lines of a plan that a prediction holds up: as planned it would fly badly, so a person decides."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.app.planned import AS_PLANNED
from asflown.app.plans import decided
from asflown.app.sealed_flight import FLIGHT
from asflown.core.carry.dispositions import Cause, Disposition, Left, Line, Option
from asflown.core.catalog import Consequence
from asflown.core.plan import Plan
from asflown.core.record import Key
from asflown.core.refit import Refit
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.predict import Predicted
    from asflown.app.retune import Proposal
    from asflown.core.control import ControlStructure

#: Word of the way to take the retune's value.
RETUNED = "retuned"


def is_predicted(plan: Plan) -> bool:
    """Whether a plan rests on a baseline flight, so that decisions may change what is held."""
    return any(item.name.startswith(FLIGHT) for item in plan.inputs)


def held(store: Store, refit: Refit, plan: Plan) -> Plan:
    """An undecided plan with the rate loop's lines left to decide where the prediction is bad.

    What is predicted is the plan with the refit's decisions, but for those about lines held before. Nothing
    is held where nothing can be predicted: the flight after has the word then.
    """
    from asflown.app.predict import predict_plan

    if refit.device != "board" or not is_predicted(plan):
        return plan
    word = Cause.PREDICTED.name.lower()
    meant = decided(plan, [one for one in refit.decisions if not one.group.startswith(word)])
    made = predict_plan(store, refit, meant)
    if made is None or not made.concerns:
        return plan
    proposal = _proposal(store, refit, meant, made)
    roles = _roles(store, refit, made)
    catalog = catalog_of(store, refit.to_release)
    proposed = {} if proposal is None else {one.key: one.proposed for one in proposal.settings}
    says = "; ".join(one.says for one in made.concerns)
    as_meant = {line.id: line for line in meant.lines}
    lines = []
    for undecided in plan.lines:
        line = as_meant.get(undecided.id, undecided)
        keys = {item.key for item in line.new}
        role = next(
            (p.role for key in keys if catalog and (p := catalog.by_name.get(key.name)) and p.role), None
        )
        touched = bool(keys & proposed.keys()) or role in roles
        asked = touched and _may_be_held(line)
        lines.append(_asked(line, proposed, says, proposal) if asked else undecided)
    return replace(plan, lines=tuple(lines))


def _proposal(store: Store, refit: Refit, plan: Plan, made: Predicted) -> Proposal | None:
    from asflown.app.retune import retune_plan

    try:
        proposal = retune_plan(store, refit, plan, made.flight)
    except UsageError:
        return None
    return None if proposal.proposed.concerns else proposal


def _roles(store: Store, refit: Refit, made: Predicted) -> frozenset[str]:
    """Roles of the gains of the axes that are a concern."""
    from asflown.app import kept
    from asflown.core.control import BlockKind

    found = kept.release_with_document(store, refit.to_release)
    structures: dict[str, ControlStructure] = dict(found[0].control or {}) if found else {}
    return frozenset(
        role
        for one in made.concerns
        if one.axis in structures
        for block in structures[one.axis].blocks
        if block.kind is BlockKind.GAIN
        for role in block.parameters.values()
        if not role.startswith("mixer.")
    )


def _may_be_held(line: Line) -> bool:
    return not line.is_open and len(line.new) == 1 and line.new[0].value is not None


def _asked(line: Line, proposed: dict[Key, str], says: str, proposal: Proposal | None) -> Line:
    """The line as a question."""
    item = line.new[0]
    options = []
    if proposal is not None:
        value = proposed.get(item.key, item.value)
        options.append(_option(line, item, RETUNED, f"retuned: {value}", value, is_recommended=True))
    options.append(_option(line, item, AS_PLANNED, f"as planned: {item.value}", item.value))
    options.append(_option(line, item, "value", "set a value of your own", None))
    if proposal is None:
        what = "no retune was found that holds"
    elif item.key in proposed:
        what = f"retuned it is {proposed[item.key]}"
    else:
        what = "the retune leaves it as it is"
    return replace(
        line,
        disposition=Disposition.DECIDE,
        why=f"with {item.value} {says} ({what}); {line.why}",
        consequence=Consequence.SAFETY,
        consequence_why=f"predicted: {says}",
        cause=Cause.PREDICTED,
        cause_detail="",
        options=tuple(options),
        copied=None,
        settled=None,
        before=None,
        ways_before=(),
    )


def _option(
    line: Line, item: Left, word: str, label: str, value: str | None, *, is_recommended: bool = False
) -> Option:
    same = value == item.value
    changed = Disposition.CONVERT if line.old else Disposition.ADOPT
    kind = line.disposition if same else changed
    return Option(word, label, kind, (replace(item, value=value),), is_recommended=is_recommended)
