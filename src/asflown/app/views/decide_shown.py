"""Decide slips: what is open, one group, and what a decision did."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from asflown.app.carry_over import Made
from asflown.app.decide import AsBefore
from asflown.app.views.before_shown import lines_say, plan_says, typed_says
from asflown.app.views.carry_json import account_json, group_json, line_json
from asflown.app.views.carry_shown import groups_table, open_says
from asflown.app.views.sheet import Sheet, Table, account_line, counted, short
from asflown.app.views.words import found_of, name_of, question_of
from asflown.core.carry.dispositions import Option
from asflown.core.catalog import Consequence
from asflown.core.plan import Group


def open_sheet(made: Made, sentence: str = "") -> Sheet:
    """What is open, safety first, with the number asked and the estimated time."""
    plan = made.plan
    groups = plan.open_groups
    says = f"{open_says(groups)[:1].upper()}{open_says(groups)[1:]}." if groups else "Nothing is open."
    first = groups[0].id if groups else ""
    acts = (
        (
            f"asflown decide {plan.aircraft} '{first}' --choose OPTION --why REASON",
            f"look at one group: asflown decide {plan.aircraft} '{first}'",
        )
        if groups
        else (f"look at the plan: asflown plan {plan.aircraft}",)
    )
    return Sheet(
        title="To decide",
        head=_head(made),
        sentence=f"{sentence} {says}".strip(),
        account=account_line(plan.account),
        tables=(groups_table(groups),),
        notes=plan_says(plan),
        warnings=tuple(f"decision lapsed: {text}" for text in plan.lapsed),
        next_act=acts,
        foot=(f"record {made.record.id} {short(made.record.digest)}", f"plan {short(plan.digest)}"),
    )


def slip_sheet(made: Made, group: Group) -> Sheet:
    """One group: every line with what was found, why it is open, and each choice in words."""
    rows = tuple(
        (
            name_of(line),
            found_of(line, made.old),
            line.why + (f" (consequence: {line.consequence_why})" if line.consequence_why else ""),
            "; ".join((*typed_says(line), *(_way_says(option) for option in line.ways))),
        )
        for line in group.lines
    )
    notes = tuple(f"{name_of(line)}: {step}" for line in group.lines for step in line.steps)
    copied = tuple(
        f"{name_of(line)}: copied number for number, {line.copied}" for line in group.lines if line.copied
    )
    options = "|".join(group.option_ids) or "OPTION"
    return Sheet(
        title=f"Decide slip: {group.id}",
        head=(*_head(made), ("consequence", str(group.consequence))),
        sentence=f"{counted(len(group.lines), 'setting')}: {question_of(group.lines[0])}",
        tables=(Table(("setting", "as found", "why it is open", "choices"), rows),),
        notes=(*lines_say(group.lines), *notes, *copied),
        next_act=(
            f"asflown decide {made.plan.aircraft} '{group.id}' --choose {options} --why REASON",
            "settle some of them: add --only NAME or --except NAME",
        ),
        foot=(f"plan {short(made.plan.digest)}",),
    )


def _way_says(option: Option) -> str:
    return f"{option.id}: {option.label}{' (recommended)' if option.is_recommended else ''}"


def open_json(made: Made) -> dict[str, Any]:
    """What is open, as JSON."""
    plan = made.plan
    return {
        "aircraft": plan.aircraft,
        "refit": made.refit.id,
        "state": made.refit.state.value,
        "account": account_json(plan),
        "decisions_asked": len(plan.open_groups),
        "seconds": sum(group.seconds for group in plan.open_groups),
        "groups": [group_json(group) for group in plan.open_groups],
        "lines": [line_json(line) for group in plan.open_groups for line in group.lines],
        "lapsed": list(plan.lapsed),
        "digest": plan.digest,
    }


def _head(made: Made) -> tuple[tuple[str, str], ...]:
    plan = made.plan
    return (
        ("aircraft", plan.aircraft),
        ("refit", f"{made.refit.id}, {made.refit.state.value}"),
        ("release", f"{plan.from_release or 'not stated'} → {plan.to_release}"),
        ("date", made.at),
    )


def as_before_says(done: AsBefore) -> str:
    """What was just settled as before."""
    return f"{counted(len(done.settled), 'question')} settled as before: {', '.join(done.settled)}."


def as_before_sheet(done: AsBefore) -> Sheet:
    """What is open after it, each with why it was left."""
    sheet = open_sheet(done.made, as_before_says(done))
    left = tuple(f"left open: {one.group}: {one.why}" for one in done.left)
    return replace(sheet, notes=(*left, *sheet.notes))


def as_before_json(done: AsBefore) -> dict[str, Any]:
    """What is open after it, what was settled, and why the rest was left."""
    left = [{"group": one.group, "why": one.why} for one in done.left]
    return {**open_json(done.made), "settled": list(done.settled), "left_open": left}


def adopted_says(made: Made) -> str:
    """What the act of adopting factory values just settled, counted from the lines."""
    act = made.refit.decisions[-1].at, made.refit.decisions[-1].reason
    lines = [
        line
        for line in made.plan.lines
        if line.settled is not None
        and line.settled.option == "factory"
        and (line.settled.at, line.settled.reason) == act
    ]
    risky = sum(line.consequence is Consequence.SAFETY for line in lines)
    text = f"{counted(len(lines), 'factory value')} adopted"
    return f"{text}, {risky} of them {'touches' if risky == 1 else 'touch'} safety." if risky else f"{text}."
