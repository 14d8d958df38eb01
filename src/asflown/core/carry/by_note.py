"""Settings that change notes speak of. Where change notes exist they decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.core.carry.chain import Route, Step
from asflown.core.carry.copied import if_copied
from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Left, Line, Option
from asflown.core.carry.frame import Frame, make_line, stated_consequence
from asflown.core.carry.meaning import Kinship, became_word, compare_meaning
from asflown.core.carry.options import Options, describe
from asflown.core.carry.translate import translate
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Consequence, NoteKind, ParameterDef, worst
from asflown.core.conversion import Converted, convert
from asflown.core.record import Key


def lines_by_note(frame: Frame, route: Route) -> tuple[Line, ...]:
    """The lines of every found setting a route carries, one for each bank and index."""
    instances: dict[tuple[str | None, str | None], list[Found]] = {}
    for name in route.old:
        for found in frame.old.by_name.get(name, ()):
            instances.setdefault((found.key.bank, found.key.index), []).append(found)
    return tuple(_Draft(frame, route, tuple(items)).line() for items in instances.values())


@dataclass(frozen=True)
class _Value:
    """A value on its way through the notes.

    Attributes
    ----------
    result
        What the last step did; ``None`` before the first.
    stated
        The old definition while the text is still the one found: only then do its words (off, automatic)
        still mean what it says.
    """

    name: str
    result: Converted | None
    text: str | None
    stated: ParameterDef | None = None


class _Draft:
    """The line of one bank and index of a route."""

    def __init__(self, frame: Frame, route: Route, found: tuple[Found, ...]) -> None:
        self.frame, self.route, self.found = frame, route, found
        self.old_defs = [frame.old.definition(name) for name in route.old]
        self.new_defs = {name: frame.new.definition(name) for name in route.new}
        self.consequence = _consequence(self.old_defs, list(self.new_defs.values()), route)
        first = found[0].key
        self.keys = [frame.new.locate(Key(name, first.bank, first.index)) for name in route.new]
        self.steps = tuple(map(str, route.steps))

    @property
    def is_risky(self) -> bool:
        return self.consequence[0].is_risky

    def line(self) -> Line:
        for step in (self._conflict, self._retired, self._redo, self._place, self._meaning):
            made = step()
            if made is not None:
                return made
        values = self._values()
        return self._disagreement(values) or self._problem(values) or self._carried(values)

    def _why(self) -> str:
        return "; ".join(step.note.why or str(step) for step in self.route.steps)

    def _make(self, kind: Disposition, new: Sequence[Left], why: str, copied: str | None = None) -> Line:
        return make_line(
            kind,
            self.found,
            new,
            why=why,
            basis=Basis.NOTE,
            consequence=self.consequence,
            steps=self.steps,
            copied=copied,
        )

    def _open(
        self, cause: Cause, why: str, options: tuple[Option, ...], detail: str = "", copied: str | None = None
    ) -> Line:
        return make_line(
            Disposition.DECIDE,
            self.found,
            [self.frame.left(key, None) for key in self.keys if key is not None],
            why=why,
            basis=Basis.NOTE,
            consequence=self.consequence,
            cause=cause,
            detail=detail or "+".join(self.route.old),
            options=options,
            steps=self.steps,
            copied=copied,
        )

    def _options(self, position: int = 0) -> Options:
        key = self.keys[position] if self.keys else None
        definition = self.frame.new.definition(key.name) if key else self.old_defs[0]
        factory = self.frame.new.factory(key) if key else None
        return Options(self.found[0].key, self.found[0].value, key, factory, definition)

    def _ways(self, *, keep: bool = False) -> tuple[Option, ...]:
        """Options when nothing converts: keep, factory, typed for one target; factory or leave for more."""
        if len(self.keys) == 1 and self.keys[0] is not None:
            options = self._options()
            if keep and check_fit(self.found[0].value, options.definition).is_allowed:
                options.keep()
            return options.take_factory().typed().retire().made()
        return (*self._factory_for_all(), Option("retire", "leave it behind", Disposition.RETIRE))

    def _factory_for_all(self) -> tuple[Option, ...]:
        new = [self.frame.left(key, self.frame.new.factory(key)) for key in self.keys if key is not None]
        if not new or any(item.value is None for item in new):
            return ()
        text = ", ".join(f"{item.key} = {item.value}" for item in new)
        return (Option("factory", f"take the new factory values: {text}", Disposition.CONVERT, tuple(new)),)

    def _conflict(self) -> Line | None:
        if self.route.conflict is None:
            return None
        return self._open(Cause.NOTE_DISAGREES, self.route.conflict, self._ways(keep=True))

    def _retired(self) -> Line | None:
        return self._make(Disposition.RETIRE, (), self._why()) if self.route.is_retired else None

    def _redo(self) -> Line | None:
        how = next((d.redo for d in (*self.new_defs.values(), *self.old_defs) if d.redo), None)
        if how is None:
            return None
        new = [self.frame.left(key, None) for key in self.keys if key is not None]
        return self._make(Disposition.REDO, new, f"must be done again on the aircraft: {how}")

    def _place(self) -> Line | None:
        missing = [name for name, key in zip(self.route.new, self.keys, strict=True) if key is None]
        if not missing:
            return None
        why = f"the note leads to {', '.join(missing)}, which the new release does not show here"
        retire = Option("retire", "leave it behind", Disposition.RETIRE)
        return self._open(Cause.NO_PLACE, why, (retire,))

    def _meaning(self) -> Line | None:
        if not self.route.has_meaning_note:
            return None
        why = f"the meaning changed: {self._why()}"
        return self._open(Cause.MEANING_NOTE, why, self._ways(keep=True))

    def _values(self) -> list[_Value]:
        """Follow the values through every step."""
        now: dict[str, _Value] = {
            item.key.name: _Value(item.key.name, None, item.value, self.frame.old.definition(item.key.name))
            for item in self.found
        }
        for step in self.route.steps:
            now = self._stepped(step, now)
        return [now.get(name, _Value(name, None, None)) for name in self.route.new]

    def _stepped(self, step: Step, before: dict[str, _Value]) -> dict[str, _Value]:
        note = step.note
        if note.kind in (NoteKind.DEFAULT, NoteKind.MEANING) and note.conversion.is_copy and not note.new:
            return before
        inputs = {name: before[name] for name in note.old if name in before}
        after = {name: value for name, value in before.items() if name not in inputs}
        texts = {name: value.text for name, value in inputs.items() if value.text is not None}
        for name in note.new or note.old:
            after[name] = self._one(step, name, inputs, texts)
        return after

    def _one(self, step: Step, name: str, inputs: dict[str, _Value], texts: dict[str, str]) -> _Value:
        broken = next((value for value in inputs.values() if value.text is None), None)
        if broken is not None or len(texts) < len(step.note.old):
            return _Value(name, broken.result if broken else None, None)
        is_last = step.to_release == self.route.steps[-1].to_release
        new = self.new_defs.get(name) if is_last else None
        stated = tuple(replace(value.stated, name=at) for at, value in inputs.items() if value.stated)
        alone = stated[0] if len(inputs) == 1 and stated else None
        result = convert(step.note.conversion, texts, new, old_def=alone, new_name=name, old_defs=stated)
        is_as_found = alone is not None and result.value in texts.values()
        return _Value(name, result, result.value, alone if is_as_found else None)

    def _disagreement(self, values: list[_Value]) -> Line | None:
        """A note that copies the number though both catalogs say that the number means something else."""
        if len(self.old_defs) != 1 or len(values) != 1 or self._converts():
            return None
        old, new, found = self.old_defs[0], self.new_defs[values[0].name], self.found[0].value
        word = became_word(found, values[0].text, old, new)
        if word is not None and self.is_risky:
            options = self._options().keep().take_factory().typed()
            return self._open(Cause.NOTE_DISAGREES, f"the note copies the number, but {word}", options.made())
        meaning = compare_meaning(old, new, trusted=True)
        if meaning.kinship not in (Kinship.SCALED, Kinship.RENUMBERED):
            return None
        result = translate(found, meaning, old, new)
        if result.value == found and (result.is_word or not self.is_risky):
            return None
        options = self._options()
        if result.value is not None:
            text = describe(result.value, new)
            options.add("convert", f"keep the meaning: {text}", result.value, recommended=True)
        options.keep().take_factory().typed()
        why = f"the note copies the number, but {meaning.says}; {result.says}"
        copied = if_copied(found, result.value, new)
        cause = Cause.RENUMBERED if meaning.kinship is Kinship.RENUMBERED else Cause.NOTE_DISAGREES
        return self._open(cause, why, options.made(), copied=copied)

    def _converts(self) -> bool:
        return any(not step.note.conversion.is_copy for step in self.route.steps)

    def _problem(self, values: list[_Value]) -> Line | None:
        """A value the note's conversion cannot carry, or that the new parameter cannot hold."""
        for position, value in enumerate(values):
            problem = value.result.problem if value.result else None
            if problem is None and value.text is not None:
                fit = check_fit(value.text, self.new_defs[value.name])
                if fit.is_allowed:
                    continue
                says, nearest = fit.says, fit.nearest
            else:
                says = problem.says if problem else "the note gives it no value"
                nearest = problem.nearest if problem else None
            return self._unfit(position, says, nearest, single=len(values) == 1)
        return None

    def _unfit(self, position: int, says: str, nearest: str | None, *, single: bool) -> Line:
        if not single:
            return self._open(Cause.CONVERSION, says, self._ways())
        options = self._options(position)
        if nearest is not None:
            text = describe(nearest, options.definition)
            options.add("nearest", f"the nearest allowed: {text}", nearest, recommended=True)
        options.take_factory().typed().retire()
        cause = Cause.OUT_OF_RANGE if nearest is not None else Cause.CONVERSION
        return self._open(cause, f"{says}; {self._why()}", options.made())

    def _carried(self, values: list[_Value]) -> Line:
        left = [
            self.frame.left(key, self._held(value))
            for key, value in zip(self.keys, values, strict=True)
            if key is not None
        ]
        why = self._why()
        lossy = [v.result.says for v in values if v.result and not v.result.exact and v.result.says]
        if lossy:
            why = f"{why}; {'; '.join(lossy)}"
        copied = None
        if len(left) == 1 and len(self.found) == 1:
            new = self.new_defs[values[0].name]
            copied = if_copied(self.found[0].value, left[0].value, new)
        return self._make(self._kind(left), left, why, copied)

    def _held(self, value: _Value) -> str | None:
        """The text as the device holds it."""
        if value.text is None:
            return None
        return check_fit(value.text, self.new_defs[value.name]).stored or value.text

    def _kind(self, left: Sequence[Left]) -> Disposition:
        if len(self.found) > 1 or len(self.route.old) > 1:
            return Disposition.MERGE
        if len(left) > 1:
            return Disposition.SPLIT
        same_value = left[0].value == self.found[0].value
        if self._converts() or not same_value:
            return Disposition.CONVERT
        return Disposition.KEEP if left[0].key.name == self.found[0].key.name else Disposition.RENAME


def _consequence(
    old: list[ParameterDef], new: list[ParameterDef], route: Route
) -> tuple[Consequence, str | None]:
    """The worst consequence that the definitions or the notes state."""
    stated, why = stated_consequence([*old, *new])
    notes = [step.note.consequence for step in route.steps if step.note.consequence is not None]
    known = [c for c in (stated, *notes) if c is not Consequence.UNKNOWN]
    return (worst(*known), why) if known else (Consequence.UNKNOWN, None)
