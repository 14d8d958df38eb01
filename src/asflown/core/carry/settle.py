"""Decisions: made by a person about open lines, applied to a plan, never silently lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Left, Line, Option, Settled, line_id
from asflown.core.catalog import Consequence
from asflown.core.record import Key

if TYPE_CHECKING:
    from asflown.core.plan import Plan


@dataclass(frozen=True)
class Decision:
    """What a person chose for one group, or for some lines of it.

    Attributes
    ----------
    group
        The group it was made in.
    option
        Option word; ``value`` when values were typed.
    lines
        Line identifiers with the fingerprint each had: a decision about other facts does not apply.
    values
        Typed value by line identifier (option ``value``) or new name (option ``rename``).
    """

    group: str
    option: str
    lines: Mapping[str, str]
    reason: str
    who: str
    at: str
    values: Mapping[str, str] = field(default_factory=dict)


def settle(plan: Plan, decisions: Sequence[Decision]) -> Plan:
    """Apply decisions to a plan; later ones win over earlier ones about the same line.

    Returns
    -------
    Plan
        The plan with the settled lines, and in ``lapsed`` one sentence for each decided line that
        is no longer there or whose facts moved.
    """
    chosen: dict[str, tuple[Decision, str]] = {}
    for decision in decisions:
        for identifier, fingerprint in decision.lines.items():
            chosen[identifier] = (decision, fingerprint)
    lines: list[Line] = []
    lapsed: list[str] = []
    for line in plan.lines:
        if line.id not in chosen:
            lines.append(line)
            continue
        decision, fingerprint = chosen.pop(line.id)
        settled, why_not = _settled(line, decision, fingerprint)
        lines.append(settled)
        if why_not:
            lapsed.append(why_not)
    lapsed += [
        f"line {identifier} ({decision.group}: {decision.option}) is no longer in the plan"
        for identifier, (decision, _) in chosen.items()
    ]
    balanced, clashes = _balanced(plan.lines, lines)
    return replace(plan, lines=balanced, lapsed=tuple(lapsed + clashes))


def _balanced(before: Sequence[Line], after: Sequence[Line]) -> tuple[tuple[Line, ...], list[str]]:
    """Keep every new setting in exactly one line after decisions moved some.

    A place that a decision filled needs no line of its own; a place that a decision left empty gets
    one at its factory value; a second setting decided into a filled place is opened again.
    """
    taken: dict[Key, Line] = {}
    kept: list[Line] = []
    clashes: list[str] = []
    for was, line in sorted(zip(before, after, strict=True), key=lambda pair: pair[1].is_open):
        rival = next((taken[item.key] for item in line.new if line.old and item.key in taken), None)
        if rival is not None and line.settled is not None:
            clashes.append(
                f"{line.old[0].key}: its place is already filled by {rival.old[0].key}; decide again"
            )
            line = was
        if line.old:
            taken.update({item.key: line for item in line.new if item.key not in taken})
        kept.append(line)
    order = {line.id: position for position, line in enumerate(before)}
    old_lines = sorted((line for line in kept if line.old), key=lambda line: order[line.id])
    new_lines = []
    for line in (line for line in after if not line.old):
        holder = next((taken[item.key] for item in line.new if item.key in taken), None)
        if holder is None:
            new_lines.append(line)
        elif line.settled is not None:
            clashes.append(f"{line.new[0].key}: decided, but {holder.old[0].key} goes into it now")
    covered = set(taken) | {item.key for line in new_lines for item in line.new}
    left_empty = [item for line in before for item in line.new if line.old and item.key not in covered]
    return (*old_lines, *new_lines, *(_at_factory(item) for item in left_empty)), clashes


def _at_factory(item: Left) -> Line:
    """A new setting that a decision left without a value of the old aircraft."""
    return Line(
        id=line_id([], [item.key]),
        disposition=Disposition.ADOPT,
        old=(),
        new=(replace(item, value=item.factory),),
        why="no found setting goes into it by decision; factory value",
        basis=Basis.DECISION,
        consequence=Consequence.UNKNOWN,
    )


def _settled(line: Line, decision: Decision, fingerprint: str) -> tuple[Line, str | None]:
    name = ", ".join(str(item.key) for item in (line.old or line.new)) or line.id
    if not line.is_open:
        return line, f"{name}: decided as {decision.option}, but nothing is open there any more"
    if line.fingerprint != fingerprint:
        if line.cause is Cause.PREDICTED and not decision.group.startswith(Cause.PREDICTED.name.lower()):
            # asked because of what was decided, which is one of its ways: the decision stands until answered
            return line, None
        return line, f"{name}: what the decision '{decision.option}' rested on has moved; decide again"
    option = chosen_option(line, decision)
    if option is None:
        return line, f"{name}: the choice '{decision.option}' is not offered any more"
    mark = Settled(decision.option, decision.reason, decision.who, decision.at)
    return (
        replace(
            line,
            disposition=option.disposition,
            new=option.new,
            why=f"{option.label}; decided: {decision.reason}",
            basis=Basis.DECISION,
            settled=mark,
        ),
        None,
    )


def chosen_option(line: Line, decision: Decision) -> Option | None:
    """The option a decision picks on a line, with a typed value filled in; ``None`` when not offered."""
    option = next((o for o in line.ways if o.id == decision.option), None)
    typed = decision.values.get(line.id)
    if decision.option != "value":
        return option
    if typed is None or option is None:
        return None
    new = tuple(Left(item.key, typed, item.factory) for item in option.new)
    kind = Disposition.ADOPT if line.is_new_only else value_disposition(line, option)
    return replace(option, new=new, disposition=kind, label=f"set to {typed}")


def value_disposition(line: Line, option: Option) -> Disposition:
    """What a line with a typed value becomes: keep, rename or convert."""
    if option.disposition in (Disposition.SPLIT, Disposition.MERGE):
        return option.disposition
    found = line.old[0]
    return (
        Disposition.KEEP
        if all(item.key == found.key and item.value == found.value for item in option.new)
        else Disposition.CONVERT
    )
