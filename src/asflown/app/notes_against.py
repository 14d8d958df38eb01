"""Change notes laid beside the catalogs of both releases."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from asflown.app.catalogs import Given
from asflown.app.matched import sure
from asflown.core.carry.matching.result import Pair, PairKind
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.catalog import Catalog, ChangeNote, ChangeNotes, ConversionSpec, NoteKind, ParameterDef
from asflown.errors import Fault

#: From this confidence on the matcher's own view is told where the notes say otherwise.
CONFIDENT = 0.9


@dataclass(frozen=True, slots=True)
class Unnamed:
    """An old name that changed or is gone, and no note speaks of it.

    Attributes
    ----------
    likely
        What it likely became, where the matcher is confident, and how sure that is.
    """

    old: str
    what: str
    likely: tuple[str, float] | None = None


@dataclass(frozen=True)
class Against:
    """What notes and catalogs contradict each other in."""

    faults: tuple[Fault, ...] = ()
    remarks: tuple[Fault, ...] = ()
    unnamed: tuple[Unnamed, ...] = ()


def against_catalogs(notes: ChangeNotes, name: str, old: Given | None, new: Given | None) -> Against:
    """Lay notes beside the catalogs; where one is missing, what needs it is not looked at."""
    beside = _Beside(notes, name, old.catalog if old else None, new.catalog if new else None)
    faults = [*beside.unknown_names(), *beside.wrong_units(), *beside.wrong_choices()]
    remarks = [*_other_release(notes, name, old, new), *beside.back_again()]
    unnamed: list[Unnamed] = []
    if old is not None and new is not None:
        pairs = _confident(old.catalog, new.catalog)
        remarks += beside.contradicted(pairs)
        unnamed = [*beside.vanished(pairs), *beside.rescaled()]
    if unnamed and notes.complete:
        says = "`complete = true` promises that every renamed, rescaled and removed name is named"
        faults.append(Fault(f"{says}; {len(unnamed)} {'is' if len(unnamed) == 1 else 'are'} not", name))
    return Against(tuple(faults), tuple(remarks), tuple(unnamed))


def _other_release(notes: ChangeNotes, name: str, old: Given | None, new: Given | None) -> Iterator[Fault]:
    for given, said, key in ((old, notes.from_release, "from"), (new, notes.to_release, "to")):
        if given is not None and given.release not in (None, said) and not given.is_guessed:
            yield Fault(f"`{key}` is {said}, and {given.name} is of {given.release}", name)


def _confident(old: Catalog, new: Catalog) -> dict[str, Pair]:
    """The pairs the matcher is sure of, by old name."""
    from asflown.core.carry.matching.match import match

    return {
        pair.old: pair for pair in match(old, new).pairs if pair.is_claimed and pair.confidence >= CONFIDENT
    }


def place(name: str, change: ChangeNote | None) -> str:
    """Where an entry stands."""
    if change is None:
        return name
    old = " + ".join(change.old)
    return f"{name}:{change.line} {change.kind} {old if len(old) <= 60 else old[:59] + '…'}"


class _Beside:
    """Notes beside their catalogs."""

    def __init__(self, notes: ChangeNotes, name: str, old: Catalog | None, new: Catalog | None) -> None:
        self.notes, self.name, self.old, self.new = notes, name, old, new

    def _fault(self, says: str, change: ChangeNote | None = None) -> Fault:
        return Fault(says, place(self.name, change))

    def unknown_names(self) -> Iterator[Fault]:
        """Names that are in no catalog, with the nearest that are."""
        for change in self.notes.changes:
            now = change.new or (() if change.kind is NoteKind.RETIRE else change.old)
            for catalog, words, which in ((self.old, change.old, "old"), (self.new, now, "new")):
                for word in words if catalog is not None else ():
                    if not _has(catalog, word):
                        near = _near(word, catalog)
                        yield self._fault(f"the {which} release has no '{word}'{near}", change)

    def wrong_units(self) -> Iterator[Fault]:
        """Conversions that are other than the units of both catalogs say."""
        for change in self.notes.changes:
            spec = change.conversion
            if len(change.old) != 1 or spec.expressions or spec.choices or change.kind is NoteKind.RETIRE:
                continue
            before = _definition(self.old, change.old[0])
            for word in change.new:
                for says in _unit_faults(change, spec, before, _definition(self.new, word)):
                    yield self._fault(says, change)

    def wrong_choices(self) -> Iterator[Fault]:
        """Choices that one of the catalogs does not have."""
        for change in self.notes.changes:
            choices = change.conversion.choices
            if not choices or len(change.old) != 1:
                continue
            yield from self._not_choices(change, choices, _definition(self.old, change.old[0]), "old")
            for word in change.new:
                yield from self._not_choices(change, choices.values(), _definition(self.new, word), "new")

    def _not_choices(
        self, change: ChangeNote, values: Iterable[str], definition: ParameterDef | None, which: str
    ) -> Iterator[Fault]:
        if definition is None or not definition.choices:
            return
        stated = {choice.value for choice in (*definition.choices, *definition.plain_values)}
        stated |= {choice.label for choice in definition.choices}
        for value in dict.fromkeys(values):
            if value not in stated:
                known = ", ".join(choice.value for choice in definition.choices)
                says = (
                    f"'{value}' is no choice of '{definition.name}' in the {which} release (it has {known})"
                )
                yield self._fault(says, change)

    def back_again(self) -> Iterator[Fault]:
        """Retired names that the new release has: the same name for something else, or not retired at all."""
        led_to = {word for change in self.notes.changes for word in change.new}
        for change in self.notes.changes:
            for word in change.old if change.kind is NoteKind.RETIRE and self.new is not None else ():
                if word in self.new.by_name and word not in led_to:  # type: ignore[union-attr]
                    yield self._fault(f"'{word}' is retired, and the new release has it", change)

    def vanished(self, pairs: dict[str, Pair]) -> Iterator[Unnamed]:
        """Old names that are gone, and no note names them."""
        for word in self._untold():
            if not _has(self.new, word):
                pair = pairs.get(word)
                likely = (pair.new, pair.confidence) if pair else None
                yield Unnamed(word, "gone in the new release", likely)

    def rescaled(self) -> Iterator[Unnamed]:
        """Names that stayed with other units or numbers, and no note names them."""
        for word in self._untold():
            before, after = _definition(self.old, word), _definition(self.new, word)
            if before is not None and after is not None:
                meaning = compare_meaning(before, after)
                if meaning.kinship in (Kinship.SCALED, Kinship.RENUMBERED):
                    yield Unnamed(word, meaning.says)

    def _untold(self) -> list[str]:
        told = {word for change in self.notes.changes for word in change.old}
        return [word for word in (self.old.by_name if self.old else ()) if word not in told]

    def contradicted(self, pairs: dict[str, Pair]) -> Iterator[Fault]:
        """Where the catalogs speak clearly for another successor."""
        for change in self.notes.changes:
            now = () if change.kind is NoteKind.RETIRE else change.new or change.old
            for word in change.old:
                pair = pairs.get(word)
                if pair is None or pair.new in now or (pair.kind is PairKind.SAME and not now):
                    continue
                because = "; ".join(pair.reasons)
                says = f"the catalogs speak for '{pair.new}', {sure(pair.confidence)}: {because}"
                yield self._fault(says, change)


def _unit_faults(
    change: ChangeNote, spec: ConversionSpec, before: ParameterDef | None, after: ParameterDef | None
) -> Iterator[str]:
    if spec.unit_to is not None:
        yield from _stated_units(spec, before, after)
        return
    stated, units = _factor(before, after)
    if stated is None:
        return
    if spec.is_copy and stated != 1 and change.kind not in (NoteKind.MEANING, NoteKind.DEFAULT):
        yield f"copies the number, but by the catalogs new = old * {stated:f} ({units})"
    elif spec.factor is not None and not spec.offset and not _near_enough(spec.factor, stated):
        yield f"factor {spec.factor:f}, but by the catalogs new = old * {stated:f} ({units})"


def _stated_units(
    spec: ConversionSpec, before: ParameterDef | None, after: ParameterDef | None
) -> Iterator[str]:
    from asflown.core.units import convert_unit, factor_between

    first, then = spec.unit_from or "", spec.unit_to or ""
    if convert_unit(Decimal(1), first, then) is None:
        yield f"unit {first} does not convert to {then}"
    for said, definition, which in ((first, before, "old"), (then, after, "new")):
        if definition is None or not definition.unit or said == definition.unit:
            continue
        if factor_between(said, definition.unit) != 1:
            yield f"unit {said}, and the {which} catalog says {definition.unit} of '{definition.name}'"


def _factor(before: ParameterDef | None, after: ParameterDef | None) -> tuple[Decimal | None, str]:
    """The factor that both definitions tell, and from what; ``None`` where they tell none."""
    from asflown.core.units import factor_between

    if before is None or after is None:
        return None, ""
    meaning = compare_meaning(before, after)
    if meaning.kinship is Kinship.SCALED:
        return meaning.factor, meaning.says
    if before.unit and after.unit:
        return factor_between(before.unit, after.unit), f"unit {before.unit} before, {after.unit} now"
    return None, ""


def _near_enough(factor: Decimal, stated: Decimal) -> bool:
    """Whether a written factor is the stated one, to six digits: people round what has pi in it."""
    return abs(factor - stated) <= abs(stated) * Decimal("1e-6")


def _definition(catalog: Catalog | None, name: str) -> ParameterDef | None:
    return catalog.by_name.get(name) if catalog else None


def _has(catalog: Catalog | None, name: str) -> bool:
    from asflown.formats import placeholder

    if catalog is None or name in catalog.by_name:
        return True
    return any(placeholder.numbers(word, [name]) for word in catalog.by_name if placeholder.MARK in word)


def _near(word: str, catalog: Catalog | None) -> str:
    from rapidfuzz import process

    found = process.extract(word, list(catalog.by_name) if catalog else [], limit=3, score_cutoff=60)
    return f"; nearest: {', '.join(name for name, _, _ in found)}" if found else ""
