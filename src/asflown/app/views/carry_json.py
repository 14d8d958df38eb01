"""The carry-over as JSON: what the sheet says, for programs."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from asflown.app.carry_over import Made
from asflown.app.views.before_shown import before_json, group_says
from asflown.app.views.carry_shown import next_acts
from asflown.app.views.predict_shown import beside_json
from asflown.app.views.sheet import account_line
from asflown.app.views.words import name_of, question_of
from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.finding import Finding
from asflown.core.plan import Group, Plan

if TYPE_CHECKING:
    from asflown.app.predict import Predicted


def carry_json(made: Made, foreseen: Predicted | None = None) -> dict[str, Any]:
    """The plan as JSON (described in docs/reference/json.md)."""
    plan = made.plan
    groups = plan.open_groups
    return {
        "aircraft": plan.aircraft,
        "device": made.refit.device,
        "purpose": plan.purpose.value,
        "from": plan.from_release,
        "to": plan.to_release,
        "refit": made.refit.id,
        "state": made.refit.state.value,
        "sheet": made.sheet,
        "record": made.record.id,
        "account": account_json(plan),
        "is_provisional": plan.is_provisional,
        "provisional_why": plan.provisional_why,
        "decisions_asked": len(groups),
        "decisions_made": len(made.refit.decisions),
        "seconds": sum(group.seconds for group in groups),
        "groups": [group_json(group) for group in groups],
        "lines": [line_json(line) for line in plan.lines],
        "findings": [finding_json(finding) for finding in plan.findings],
        "lapsed": list(plan.lapsed),
        "moved": [{"setting": m.name, "was": m.was, "now": m.now} for m in made.moved],
        "route": list(plan.route),
        "inputs": [{"name": item.name, "sha256": item.sha256} for item in plan.inputs],
        "digest": plan.digest,
        "predicted": beside_json(foreseen),
        "next": list(next_acts(made)),
    }


def account_json(plan: Plan) -> dict[str, Any]:
    """The account: found settings by what becomes of them, and new ones apart."""
    account = plan.account
    by: Counter[str] = Counter()
    for line in plan.lines:
        by[line.disposition.value] += len(line.old) or len(line.new) or 1
    return {
        "found": account.found,
        "kept": account.kept,
        "converted": account.converted,
        "gone": account.gone,
        "redo": account.redo,
        "to_decide": account.to_decide,
        "new": account.new,
        "new_to_decide": account.new_to_decide,
        "implied": account.implied,
        "adds_up": account.adds_up,
        "by_disposition": {kind.value: by[kind.value] for kind in Disposition},
        "text": account_line(account),
    }


def group_json(group: Group) -> dict[str, Any]:
    """One open group."""
    return {
        "id": group.id,
        "cause": group.lines[0].cause.value if group.lines[0].cause else None,
        "question": question_of(group.lines[0]),
        "consequence": group.consequence.value,
        "lines": [line.id for line in group.lines],
        "settings": [name_of(line) for line in group.lines],
        "options": list(group.option_ids),
        "as_before": group.is_as_before,
        "before": group_says(group) or None,
        "seconds": group.seconds,
    }


def line_json(line: Line) -> dict[str, Any]:
    """One line."""
    return {
        "id": line.id,
        "disposition": line.disposition.value,
        "old": [str(item.key) for item in line.old],
        "new": [str(item.key) for item in line.new],
        "as_found": [item.value for item in line.old],
        "to_be_left": [item.value for item in line.new],
        "factory": [item.factory for item in line.new],
        "implied": any(item.implied for item in line.old),
        "why": line.why,
        "basis": line.basis.value,
        "consequence": line.consequence.value,
        "consequence_why": line.consequence_why,
        "cause": line.cause.value if line.cause else None,
        "group": line.group or None,
        "options": [
            {
                "id": option.id,
                "label": option.label,
                "disposition": option.disposition.value,
                "new": [str(item.key) for item in option.new],
                "to_be_left": [item.value for item in option.new],
                "recommended": option.is_recommended,
            }
            for option in line.ways
        ],
        "candidates": [{"name": name, "confidence": round(value, 4)} for name, value in line.candidates],
        "steps": list(line.steps),
        "copied": line.copied,
        "before": before_json(line.before),
        "settled": None
        if line.settled is None
        else {
            "option": line.settled.option,
            "reason": line.settled.reason,
            "who": line.settled.who,
            "at": line.settled.at,
        },
    }


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "source": finding.source,
        "subject": finding.subject,
        "consequence": finding.consequence.value,
        "statement": finding.statement,
        "ways_out": list(finding.ways_out),
        "blocks": finding.blocks,
    }
