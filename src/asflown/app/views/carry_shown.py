"""The carry-over sheet: what becomes of every setting, and what waits for a person."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from asflown.app import gates
from asflown.app.carry_over import Made
from asflown.app.views.before_shown import group_says, plan_says
from asflown.app.views.predict_shown import beside_table
from asflown.app.views.sheet import Sheet, Table, account_line, counted, listed, minutes, short
from asflown.app.views.words import found_of, left_of, marked, name_of, question_of
from asflown.core.carry.by_name import TAKEN_AS_UNCHANGED
from asflown.core.carry.dispositions import CONVERTED, Basis, Disposition, Line
from asflown.core.catalog import Consequence
from asflown.core.finding import Finding
from asflown.core.plan import Group, Plan, Purpose
from asflown.core.refit import State

if TYPE_CHECKING:
    from asflown.app.predict import Predicted


class Show(StrEnum):
    """Which folding of the sheet is open."""

    NEEDS_YOU = "needs-you"
    CHANGED = "changed"
    ALL = "all"


def carry_sheet(made: Made, show: Show | None = None, foreseen: Predicted | None = None) -> Sheet:
    """The sheet of a plan.

    Parameters
    ----------
    foreseen
        How the aircraft would fly with it; ``None`` where nothing can be predicted.
    show
        ``None``: *needs you* while something is open, else *changed*.

    Raises
    ------
    Damaged
        When the sum does not add up.
    """
    plan = made.plan
    account = account_line(plan.account)
    folding = show or (Show.NEEDS_YOU if plan.open_groups else Show.CHANGED)
    return Sheet(
        title="Carry-over, provisional" if plan.is_provisional else "Carry-over",
        head=_head(made),
        sentence=sentence(made),
        tables=(_table(made, folding), *(() if foreseen is None else (beside_table(foreseen),))),
        account=account,
        warnings=tuple(_warnings(made)),
        notes=tuple(_notes(made)),
        next_act=tuple(next_acts(made)),
        foot=(f"record {made.record.id} {short(made.record.digest)}", f"plan {short(plan.digest)}"),
    )


def sentence(made: Made) -> str:
    """Where things stand, in one sentence."""
    plan = made.plan
    if plan.blocking:
        return f"Blocked: {counted(len(plan.blocking), 'thing')} must be settled before anything is written."
    if plan.open_groups:
        first = f"Provisional, needs you: {_unchanged(plan)}" if plan.is_provisional else "Needs you: "
        return f"{first}{open_says(plan.open_groups)}; nothing is written before."
    if plan.is_provisional:
        return (
            f"Provisional, needs you: {_unchanged(plan)}the fresh factory listing of {plan.to_release} is to"
            " be captured; nothing is written before."
        )
    if made.refit.state is State.DECIDED:
        return "Every setting has its disposition; the listing can be written out."
    return f"The refit is {made.refit.state.value}."


def _unchanged(plan: Plan) -> str:
    """Which lines rest on nothing but that no note names them."""
    taken = [line for line in plan.lines if line.why == TAKEN_AS_UNCHANGED]
    if not taken:
        return ""
    names = listed((name_of(line) for line in taken), most=3)
    return f"{counted(len(taken), 'setting')} that no note names taken as unchanged ({names}); "


def open_says(groups: Sequence[Group]) -> str:
    """How much is open: ``9 decisions about 34 settings, about 6 min; 4 of them touch safety``."""
    lines = sum(len(group.lines) for group in groups)
    seconds = sum(group.seconds for group in groups)
    text = f"{counted(len(groups), 'decision')} about {counted(lines, 'setting')}, {minutes(seconds)}"
    parts = []
    safety = sum(group.consequence is Consequence.SAFETY for group in groups)
    unknown = sum(group.consequence is Consequence.UNKNOWN for group in groups)
    if safety:
        parts.append(f"{safety} of them {'touches' if safety == 1 else 'touch'} safety")
    if unknown:
        parts.append(f"of {unknown} nobody stated what it touches")
    return "; ".join([text, *parts])


def _head(made: Made) -> tuple[tuple[str, str], ...]:
    plan = made.plan
    rows = [
        (
            "aircraft",
            plan.aircraft if made.refit.device == "board" else f"{plan.aircraft}, {made.refit.device}",
        ),
        ("sheet", f"{made.sheet:03d}" if made.sheet else "not kept"),
        ("date", made.at),
        ("release", f"{plan.from_release or 'not stated'} → {plan.to_release}"),
        ("refit", f"{made.refit.id}, {made.refit.state.value}"),
    ]
    if len(plan.route) > 2:
        rows.append(("by way of", " → ".join(plan.route)))
    if plan.purpose is Purpose.NEW_BOARD:
        rows.append(("board", f"{made.record.board or 'not stated'} → {made.refit.to_board}"))
    if plan.purpose is Purpose.SISTER:
        rows.append(("copied from", f"{made.record.aircraft}, record {made.record.id}"))
    return tuple(rows)


def _warnings(made: Made) -> Iterable[str]:
    plan = made.plan
    if plan.is_provisional:
        yield f"provisional: {plan.provisional_why}. Nothing is written from it"
    for finding in plan.blocking:
        yield finding_says(finding)
    for text in plan.lapsed:
        yield f"decision lapsed: {text}"


def _notes(made: Made) -> Iterable[str]:
    plan = made.plan
    yield from plan_says(plan)
    yield from findings_say(finding for finding in plan.findings if not finding.blocks)
    copied = [line for line in plan.lines if line.copied]
    if copied:
        worst = sorted(copied, key=lambda line: line.consequence.rank)[:3]
        yield (
            f"Copying number for number would have gone wrong in {counted(len(copied), 'setting')}:"
            f" {'; '.join(f'{name_of(line)}: {line.copied}' for line in worst)}."
        )
    behind = sum(len(line.old) for line in plan.lines if _stays_behind(line))
    if behind:
        whose = made.record.aircraft
        words = "belongs to it and stays" if behind == 1 else "belong to it and stay"
        yield (
            f"{counted(behind, 'setting')} of {whose} {words} behind (counted as gone); where {plan.aircraft}"
            " has such a setting, it keeps its own value (counted as new)."
        )
    if made.moved:
        what = "the provisional plan" if made.replaced_provisional else "the plan before"
        lines = "; ".join(f"{line.name} ({line.was} → {line.now})" for line in made.moved[:3])
        more = f"; and {len(made.moved) - 3} more, in the logbook" if len(made.moved) > 3 else ""
        yield f"Moved since {what}: {counted(len(made.moved), 'line')}: {lines}{more}."


def findings_say(findings: Iterable[Finding]) -> Iterable[str]:
    """Findings in sentences; those with the same consequence and the same ways out stand together."""
    together: dict[tuple[Consequence, tuple[str, ...]], list[str]] = {}
    for finding in findings:
        together.setdefault((finding.consequence, finding.ways_out), []).append(finding.statement)
    for (consequence, ways_out), statements in together.items():
        text = "; ".join(statements[:8])
        more = f"; and {len(statements) - 8} more (--json shows all)" if len(statements) > 8 else ""
        ways = f" Ways out: {'; '.join(ways_out)}." if ways_out else ""
        yield f"{consequence}: {text}{more}.{ways}"


def finding_says(finding: Finding) -> str:
    """A finding with its consequence and ways out."""
    ways = f" Ways out: {'; '.join(finding.ways_out)}." if finding.ways_out else ""
    return f"{finding.consequence}: {finding.statement}.{ways}"


def next_acts(made: Made) -> Iterable[str]:
    """What to do next, best first."""
    plan, refit = made.plan, made.refit
    if plan.blocking:
        yield from plan.blocking[0].ways_out[:1]
    if plan.open_groups:
        yield f"settle what is open: asflown decide {plan.aircraft}"
    if plan.is_provisional:
        is_board = refit.device == "board"
        fitted, whose = ("", "board's") if is_board else (f" --device {refit.device}", "device's")
        yield (
            f"after the image is written, save the {whose} fresh factory"
            f" listing before anything else and keep it: asflown found FRESH.txt --aircraft {plan.aircraft}"
            f"{fitted} --factory --release {plan.to_release}; then plan again"
        )
    elif not plan.open_groups and not plan.blocking:
        yield gates.next_act(refit)
    if refit.state in (State.PLANNING, State.DECIDED):
        yield f"{_other_way(plan)}: asflown not-now {plan.aircraft} --why REASON"


def _other_way(plan: Plan) -> str:
    """What not doing it means."""
    if plan.purpose is Purpose.SISTER:
        return f"leave {plan.aircraft} as it is"
    if plan.purpose is Purpose.NEW_BOARD:
        return "leave the other board aside"
    return f"stay on {plan.from_release or 'the old release'}"


# --------------------------------------------------------------------------------- the table


def _table(made: Made, show: Show) -> Table:
    if show is Show.NEEDS_YOU:
        return groups_table(made.plan.open_groups, folded=_folded(made.plan, _is_open))
    wanted = _is_changed if show is Show.CHANGED else _is_any
    lines = [line for line in made.plan.lines if wanted(line)]
    rows = tuple(
        (
            marked(line.disposition),
            name_of(line),
            found_of(line, made.old),
            left_of(line, made.new),
            str(line.consequence),
            line.why,
        )
        for line in lines
    )
    return Table(
        ("what", "setting", "as found", "to be left", "consequence", "why"),
        rows,
        folded=_folded(made.plan, wanted),
        empty="nothing changes",
    )


def folds_of(made: Made) -> tuple[tuple[Show, str, int], ...]:
    """The foldings with what each shows, and how many settings that are."""
    counts = {
        Show.NEEDS_YOU: sum(map(_is_open, made.plan.lines)),
        Show.CHANGED: sum(map(_is_changed, made.plan.lines)),
        Show.ALL: len(made.plan.lines),
    }
    words = {Show.NEEDS_YOU: "needs you", Show.CHANGED: "changed", Show.ALL: "all"}
    return tuple((show, words[show], counts[show]) for show in Show)


def groups_table(groups: Sequence[Group], folded: tuple[str, ...] = ()) -> Table:
    """Open groups, safety first: what is asked, and the choices."""
    rows = tuple(
        (
            f"?\N{NO-BREAK SPACE}{group.id}\n  {group.consequence}, {counted(len(group.lines), 'line')}",
            listed((name_of(line) for line in group.lines), most=4),
            _asked(group),
            " | ".join(group.option_ids) or "line by line",
        )
        for group in groups
    )
    return Table(
        ("to decide", "settings", "what is asked", "choices"),
        rows,
        folded=folded,
        empty="nothing is open",
    )


def _asked(group: Group) -> str:
    before = group_says(group)
    return f"{question_of(group.lines[0])}\n  {before}" if before else question_of(group.lines[0])


def _is_open(line: Line) -> bool:
    return line.is_open


def _is_any(line: Line) -> bool:
    return True


def _stays_behind(line: Line) -> bool:
    """Whether it belongs to the aircraft a set-up is copied from."""
    return line.disposition is Disposition.RETIRE and line.basis is Basis.BELONGING


def _is_changed(line: Line) -> bool:
    return (
        not _stays_behind(line)
        and line.disposition is not Disposition.KEEP
        and not (line.disposition is Disposition.ADOPT and line.settled is None)
    )


def _folded(plan: Plan, shown: Any) -> tuple[str, ...]:
    hidden: Counter[str] = Counter()
    for line in plan.lines:
        if not shown(line):
            hidden[_word(line)] += len(line.old) or len(line.new) or 1
    if not hidden:
        return ()
    parts = ", ".join(f"{hidden[word]} {word}" for word in _WORDS if hidden[word])
    more = "--show changed, or --show all" if hidden.keys() - {"kept", "new"} else "--show all"
    return (f"folded: {parts} ({more})",)


_WORDS = ("to decide", "redo", "staying behind", "gone", "converted", "kept", "new")


def _word(line: Line) -> str:
    if line.is_open:
        return "to decide"
    if line.is_new_only:
        return "new"
    if _stays_behind(line):
        return "staying behind"
    if line.disposition in CONVERTED or line.disposition is Disposition.ADOPT:
        return "converted"
    return {Disposition.RETIRE: "gone", Disposition.REDO: "redo"}.get(line.disposition, "kept")


def needs_person(made: Made) -> bool:
    """Whether something is open, blocks, or is still to be captured (a provisional plan): exit code 2."""
    return bool(made.plan.open_groups or made.plan.blocking or made.plan.is_provisional)
