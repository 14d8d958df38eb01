"""The carry-over: one record and two releases in, one disposition for every setting out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from asflown.core.aircraft import Aircraft
from asflown.core.carry.adopt import lines_for_new
from asflown.core.carry.belonging import is_individual, rebelong
from asflown.core.carry.by_likeness import claimed_names, lines_by_likeness
from asflown.core.carry.by_name import lines_by_name
from asflown.core.carry.by_note import lines_by_note
from asflown.core.carry.chain import Route, trace
from asflown.core.carry.collide import collide
from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.carry.follow import follow_units
from asflown.core.carry.frame import Frame
from asflown.core.carry.match import Matcher, propose
from asflown.core.carry.notice import notice
from asflown.core.carry.offering import offer
from asflown.core.carry.precedent import Precedent
from asflown.core.carry.sides import new_side, old_side
from asflown.core.catalog import CatalogSource, ChangeNotes, Release
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key, Record


@dataclass(frozen=True)
class Question:
    """What a carry-over is made from.

    Attributes
    ----------
    record
        The as-found record; in a sister copy the proven aircraft's.
    old, new
        The releases; ``old`` is ``None`` where not stated.
    notes
        The chain of change notes from old to new, oldest first.
    factory
        The new release's factory listing captured from this aircraft's own board.
    target
        In a sister copy: the as-found record of the aircraft that receives the set-up.
    precedents
        What persons decided earlier between the same two releases; offered, never applied.
    """

    record: Record
    old: Release | None
    new: Release
    notes: tuple[ChangeNotes, ...] = ()
    purpose: Purpose = Purpose.REFIT
    aircraft: Aircraft | None = None
    factory: Record | None = None
    target: Record | None = None
    to_board: str | None = None
    precedents: tuple[Precedent, ...] = ()


def carry_over(question: Question, matcher: Matcher = propose) -> Plan:
    """Make the plan for the settings: exactly one disposition for each old setting and each new one.

    Parameters
    ----------
    question
        The inputs; see :class:`Question`.
    matcher
        Proposes successors for names that no note covers (the seam a better matcher fits in).

    Returns
    -------
    Plan
        Not yet sealed and with no decision applied. A line of safety, handling or unknown
        consequence that rests on an inference is left to decide.
    """
    frame = _frame(question)
    lines = _old_lines(frame, question.notes, matcher)
    lines = collide(rebelong(frame, lines, question.purpose))
    lines = follow_units(frame, lines)
    taken = {item.key for line in lines for item in line.new}
    kept = _own_values(frame, question, lines)
    lines = (*lines, *lines_for_new(frame, taken, claimed_names(lines), kept))
    lines = offer(frame, lines, question.precedents)
    why = provisional_reason(question)
    aircraft = question.aircraft.id if question.aircraft else question.record.aircraft
    plan = Plan(
        aircraft=aircraft,
        purpose=question.purpose,
        from_release=question.old.id if question.old else question.record.release,
        to_release=question.new.id,
        found=len(frame.old.found),
        lines=lines,
        is_provisional=why is not None,
        provisional_why=why,
        route=_route(question),
    )
    findings = notice(frame, question.record, question.new, question.aircraft, plan.lines, question.factory)
    return replace(plan, findings=findings)


def offered(question: Question, lines: Sequence[Line]) -> tuple[Line, ...]:
    """A plan's lines with what was decided before, as it stands now; see :func:`offer`."""
    return offer(_frame(question), lines, question.precedents)


def _frame(question: Question) -> Frame:
    old = old_side(question.record, question.old.catalog if question.old else None)
    new = new_side(question.new.catalog, question.factory)
    same = question.old is not None and question.old.id == question.new.id
    trusted = bool(question.notes) and all(notes.complete for notes in question.notes)
    return Frame(old, new, is_same_release=same, is_trusted=trusted)


def _route(question: Question) -> tuple[str, ...]:
    steps = [notes.from_release for notes in question.notes]
    return (*steps, question.new.id) if steps else (question.new.id,)


def _old_lines(frame: Frame, notes: Sequence[ChangeNotes], matcher: Matcher) -> tuple[Line, ...]:
    """A line for every found setting, in the order found."""
    routes = {name: route for route in trace(notes, frame.old.by_name) for name in route.old}
    lines: list[Line] = []
    lost: list[str] = []
    done: set[int] = set()
    for name in frame.old.by_name:
        route = routes.get(name)
        if route is not None and _moves(route):
            if id(route) not in done:
                done.add(id(route))
                lines += lines_by_note(frame, route)
        elif name in frame.new.names or not frame.new.is_known:
            lines += lines_by_name(frame, name)
        else:
            lost.append(name)
    if lost:
        taken = {item.key.name for line in lines for item in line.new}
        fresh = [key.name for key in frame.new.keys if key.name not in taken]
        lines += lines_by_likeness(frame, lost, fresh, matcher)
    place = {item.key: position for position, item in enumerate(frame.old.found)}
    return tuple(sorted(lines, key=lambda line: place[line.old[0].key]))


def _moves(route: Route) -> bool:
    """Whether the notes decide; a mere comment about a default leaves it to the name's own rules."""
    return not route.is_comment_only or route.has_meaning_note


def _own_values(frame: Frame, question: Question, lines: Iterable[Line]) -> dict[Key, str]:
    """What the receiving aircraft of a sister copy keeps of its own."""
    if question.purpose is not Purpose.SISTER or question.target is None:
        return {}
    own: dict[Key, str] = {}
    behind = [line for line in lines if line.disposition is Disposition.RETIRE]
    for line in behind:
        for item in line.old:
            if not is_individual(frame, line):
                continue
            place = frame.new.locate(item.key)
            value = question.target.values.get(item.key)
            if place is not None and value is not None:
                own[place] = value
    return own


def provisional_reason(question: Question) -> str | None:
    """Why the plan is provisional; ``None`` when it is final."""
    catalog = question.new.catalog
    if question.factory is not None:
        return None
    if catalog is None:
        return "nobody stated a catalog, and the new release's factory listing is not captured yet"
    if catalog.source is CatalogSource.STATED:
        return None
    return "the new release's names and factory values come from another board's listing"
