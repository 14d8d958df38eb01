"""Change notes made of what persons decided for one aircraft, for others to read, check and add."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asflown.app import kept, plans
from asflown.app.private import Private, private_of
from asflown.app.question import gather
from asflown.app.workplace import Workplace
from asflown.core.carry.dispositions import Cause, Disposition, Line, Settled
from asflown.core.carry.meaning import Kinship, Meaning, compare_meaning
from asflown.core.catalog import (
    Catalog,
    ChangeNote,
    ChangeNotes,
    Consequence,
    ConversionSpec,
    NoteKind,
    ParameterDef,
)
from asflown.core.conversion import convert
from asflown.core.refit import Refit
from asflown.core.values import same_value
from asflown.errors import Fault, UsageError

#: Options that say something about one aircraft's value, nothing about the releases.
ABOUT_VALUE = frozenset({"keep", "factory", "nearest", "value"})

#: Causes under which "leave it behind" says that nothing takes a setting's place.
ABOUT_NAMES = frozenset({Cause.SUCCESSOR, Cause.VANISHED})


@dataclass(frozen=True)
class LeftOut:
    """A decision that makes no change note, and why."""

    setting: str
    why: str


@dataclass(frozen=True)
class NotesMade:
    """Change notes of one refit's decisions.

    Attributes
    ----------
    data
        The file (TOML).
    left_out
        Decisions that say nothing about the releases, and those whose note would lead elsewhere.
    """

    aircraft: str
    refit: str
    notes: ChangeNotes
    data: bytes
    left_out: tuple[LeftOut, ...]


def notes_from_decisions(
    work: Workplace, aircraft: str, refit: str | None = None, *, with_private: bool = False
) -> NotesMade:
    """What persons decided about names and meanings in a refit, as change notes.

    Parameters
    ----------
    refit
        Which one; ``None``: the last in which something was decided.
    with_private
        With names of people and private values in the reasons; else they are left out of the texts.

    Raises
    ------
    UsageError
        When there is no such refit, or nothing decided in it is about the releases.
    """
    meant = _refit(work, aircraft, refit)
    plan = plans.standing(work.store, meant)
    question = gather(work.store, meant, with_precedents=False).question
    record = kept.record(work.store, meant.found)
    private = None if with_private else private_of(work.store, meant.aircraft, [record])
    sides = _Sides(question.old.catalog if question.old else None, question.new.catalog)
    settled = [line for line in plan.lines if line.settled is not None] if plan else []
    made: dict[str, ChangeNote] = {}
    left: dict[str, LeftOut] = {}
    for line in settled:
        _add(sides, line, _Teller(meant.aircraft, private), made, left)
    if not made:
        raise UsageError(
            f"nothing decided in {meant.id} is about the releases: it makes no change note",
            faults=tuple(Fault(one.why, one.setting) for one in left.values()),
            next_step=f"see what was decided: asflown logbook {aircraft}",
        )
    assert meant.from_release is not None
    notes = ChangeNotes(meant.from_release, meant.to_release, tuple(made.values()))
    return NotesMade(meant.aircraft, meant.id, notes, _written(notes, meant, left), tuple(left.values()))


def _refit(work: Workplace, aircraft: str, id: str | None) -> Refit:
    """The refit meant, with decisions and both releases stated."""
    every = [found.refit for found in kept.refits(work.store, kept.aircraft(work.store, aircraft).id)]
    fitting = [one for one in every if (one.id == id if id is not None else one.decisions)]
    known = ", ".join(one.id for one in every) or "none"
    if not fitting:
        what = (
            f"{aircraft} has no refit {id!r}" if id is not None else f"nothing was decided for {aircraft} yet"
        )
        raise UsageError(what, next_step=f"its refits: {known}")
    if fitting[-1].from_release is None:
        raise UsageError(
            f"the old release of {fitting[-1].id} is not stated: its decisions make no change notes",
            next_step="state it with the record: asflown found LISTING --release RELEASE",
        )
    return fitting[-1]


@dataclass(frozen=True)
class _Sides:
    """The definitions on both sides."""

    old: Catalog | None
    new: Catalog | None

    def before(self, name: str) -> ParameterDef:
        return (self.old.by_name.get(name) if self.old else None) or ParameterDef(name)

    def after(self, name: str) -> ParameterDef:
        return (self.new.by_name.get(name) if self.new else None) or ParameterDef(name)

    def is_untouched(self, line: Line) -> bool:
        """Whether nobody had changed what was found."""
        item = line.old[0]
        factory = self.old.factory_value(item.key) if self.old else None
        return factory is not None and same_value(item.value, factory, self.before(item.key.name))


@dataclass(frozen=True)
class _Teller:
    """Puts a decision's reason and origin into words, without what is private."""

    aircraft: str
    private: Private | None

    def why(self, settled: Settled) -> str:
        text = f"{settled.reason} (decided for {self.aircraft} on {settled.at[:10]} by {settled.who})"
        return self.private.without(text) if self.private is not None else text


def _add(
    sides: _Sides, line: Line, teller: _Teller, made: dict[str, ChangeNote], left: dict[str, LeftOut]
) -> None:
    """Add what one settled line says to the notes, or to what is left out."""
    assert line.settled is not None
    name = ", ".join(dict.fromkeys(item.key.name for item in (line.old or line.new)))
    found = _note(sides, line, teller.why(line.settled))
    if isinstance(found, str):
        left.setdefault(name, LeftOut(name, found))
        return
    there = made.get(name)
    if there is not None and (there.kind, there.new, there.conversion) != (
        found.kind,
        found.new,
        found.conversion,
    ):
        del made[name]
        left[name] = LeftOut(name, "its banks or places were decided in different ways")
    elif name not in left:
        made[name] = found


def _note(sides: _Sides, line: Line, why: str) -> ChangeNote | str:
    """The change note a settled line makes, or why it makes none."""
    assert line.settled is not None
    if len(line.old) != 1 or len(line.new) > 1:
        return "it is about a new setting, or about several at once"
    consequence = None if line.consequence is Consequence.UNKNOWN else line.consequence
    old = line.old[0].key.name
    if line.disposition is Disposition.RETIRE:
        if line.cause in ABOUT_NAMES and not sides.is_untouched(line):
            return ChangeNote(NoteKind.RETIRE, (old,), why=why, consequence=consequence)
        if line.cause is Cause.VANISHED_UNTOUCHED or line.cause in ABOUT_NAMES:
            return "it was left behind as nobody had changed it here; that says nothing about one that was"
        return "it was left behind on this aircraft, though the new release may have a place for it"
    if line.settled.option in ABOUT_VALUE or not line.new:
        return "what was decided is this aircraft's value"
    new = line.new[0].key.name
    spec = _spec(compare_meaning(sides.before(old), sides.after(new), trusted=True), sides, old, new)
    if spec is None or not _leads_there(sides, line, spec):
        return "no note would lead to the value that was decided"
    if spec.is_copy and old == new:
        return "the name stays, and a note has no words for how this value came about"
    kind = NoteKind.RENAME if spec.is_copy else NoteKind.CONVERT
    return ChangeNote(kind, (old,), (new,), spec, why, consequence)


def _spec(meaning: Meaning, sides: _Sides, old: str, new: str) -> ConversionSpec | None:
    """The conversion that two definitions state; ``None`` where a note has no words for it."""
    if meaning.kinship is Kinship.SCALED:
        units = sides.before(old).unit, sides.after(new).unit
        if units[0] and units[1] and units[0] != units[1]:
            return ConversionSpec(unit_from=units[0], unit_to=units[1])
        return ConversionSpec(factor=meaning.factor)
    if meaning.kinship is Kinship.RENUMBERED:
        return None if meaning.bits else ConversionSpec(choices=dict(meaning.values))
    return ConversionSpec()


def _leads_there(sides: _Sides, line: Line, spec: ConversionSpec) -> bool:
    """Whether the note, followed, leads to the value the person decided."""
    found, left = line.old[0], line.new[0]
    old, new = sides.before(found.key.name), sides.after(left.key.name)
    result = convert(spec, {old.name: found.value}, new, old_def=old, new_name=new.name, old_defs=(old,))
    return result.value is not None and left.value is not None and same_value(result.value, left.value, new)


def _written(notes: ChangeNotes, refit: Refit, left: Mapping[str, LeftOut]) -> bytes:
    """The file: where it comes from, the notes, and as comments what is left out."""
    from asflown.formats.notes import write

    head = f"# Made of what was decided for {refit.aircraft} in {refit.id} ({refit.state.value}).\n"
    head += "# Read it before you add it: a note is followed without being asked about.\n\n"
    return b"".join((head.encode(), write(notes), *(line.encode() for line in _comments(left))))


def _comments(left: Mapping[str, LeftOut]) -> Iterator[str]:
    for one in left.values():
        yield f"\n# left out: {' '.join(one.setting.split())}: {one.why}"
    if left:
        yield "\n"
