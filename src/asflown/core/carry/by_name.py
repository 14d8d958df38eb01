"""Settings whose name stands in both releases. A name is not taken on trust."""

from __future__ import annotations

from asflown.core.carry.copied import if_copied
from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Line
from asflown.core.carry.frame import Frame, make_line
from asflown.core.carry.meaning import Kinship, Meaning, compare_meaning, same_word, word_for
from asflown.core.carry.options import Options, describe
from asflown.core.carry.translate import translate
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Consequence, ParameterDef
from asflown.core.record import Key

#: Why a setting stays where nobody has said yet what the new release has.
TAKEN_AS_UNCHANGED = (
    "no note names it; taken as unchanged until the new release's factory listing is captured"
)


def lines_by_name(frame: Frame, name: str) -> tuple[Line, ...]:
    """One line for each found setting of a name that the new release also has."""
    old, new = frame.old.definition(name), frame.new.definition(name)
    meaning = (
        Meaning(Kinship.SAME)
        if frame.is_same_release or not frame.new.is_known
        else compare_meaning(old, new, trusted=frame.is_trusted)
    )
    return tuple(_Draft(frame, found, old, new, meaning).line() for found in frame.old.by_name[name])


class _Draft:
    """The line of one found setting, drafted step by step; the first step that applies makes it."""

    def __init__(
        self, frame: Frame, found: Found, old: ParameterDef, new: ParameterDef, meaning: Meaning
    ) -> None:
        self.frame, self.found, self.old, self.new, self.meaning = frame, found, old, new, meaning
        self.consequence = frame.consequence([old.name], [new.name])
        target = frame.new.locate(found.key)
        self.is_placed = target is not None
        self.target: Key = target or found.key
        self.factory = frame.new.factory(self.target)
        self.old_factory = frame.old.factory(found.key)

    @property
    def is_risky(self) -> bool:
        return self.consequence[0].is_risky

    def line(self) -> Line:
        steps = (
            self._place,
            self._made_on_aircraft,
            self._unknown_release,
            self._word,
            self._translated,
            self._suspect,
            self._fit,
            self._unstated,
            self._moved_factory,
        )
        for step in steps:
            made = step()
            if made is not None:
                return made
        return self._keep("same name and meaning in both releases")

    def _make(
        self, kind: Disposition, value: str | None, why: str, basis: Basis, copied: str | None = None
    ) -> Line:
        return make_line(
            kind,
            [self.found],
            [self.frame.left(self.target, value)],
            why=why,
            basis=basis,
            consequence=self.consequence,
            copied=copied,
        )

    def _keep(self, why: str, basis: Basis = Basis.SAME_NAME) -> Line:
        if self.frame.is_same_release:
            why = "same release: every name means what it meant"
        return self._make(Disposition.KEEP, self.found.value, why, basis)

    def _open(
        self, cause: Cause, why: str, options: Options, *, detail: str = "", copied: str | None = None
    ) -> Line:
        new = [self.frame.left(self.target, None)] if self.is_placed else []
        return make_line(
            Disposition.DECIDE,
            [self.found],
            new,
            why=why,
            basis=Basis.SAME_NAME,
            consequence=self.consequence,
            cause=cause,
            detail=detail,
            options=options.made(),
            copied=copied,
        )

    def _options(self) -> Options:
        return Options(self.found.key, self.found.value, self.target, self.factory, self.new)

    def _place(self) -> Line | None:
        if self.is_placed:
            return None
        places = [key for key in self.frame.new.keys if key.name == self.found.key.name]
        where = ", ".join(map(str, places[:4])) or "nowhere"
        why = f"the new release has {self.found.key.name} only as {where}"
        options = Options(self.found.key, self.found.value, None, None, self.new).retire()
        return self._open(Cause.NO_PLACE, why, options, detail=self.found.key.name)

    def _made_on_aircraft(self) -> Line | None:
        how = self.new.redo or self.old.redo
        if how:
            return self._make(
                Disposition.REDO, None, f"must be done again on the aircraft: {how}", Basis.CATALOG
            )
        if self.new.read_only or self.new.volatile:
            what = "read-only" if self.new.read_only else "a value the aircraft changes by itself"
            return self._make(Disposition.KEEP, None, f"{what}: never written", Basis.CATALOG)
        return None

    def _unknown_release(self) -> Line | None:
        if self.frame.new.is_known:
            return None
        return self._keep(TAKEN_AS_UNCHANGED)

    def _word(self) -> Line | None:
        """A value that was a word (off, automatic) and is another one now, or a number, or the other way."""
        found = self.found.value
        before, after = word_for(found, self.old), word_for(found, self.new)
        states_words = bool(self.new.plain_values or self.new.choices)
        is_scaled = self.meaning.kinship is not Kinship.SAME and before is None
        if is_scaled or same_word(before, after) or not states_words or self.frame.is_same_release:
            return None
        there = next(
            (c.value for c in (*self.new.plain_values, *self.new.choices) if same_word(c.label, before)),
            None,
        )
        if there is not None and there == found:
            return None  # a plain value before, one of the choices now: the same number and word
        meant, means = (f"'{word}'" if word else "the number itself" for word in (before, after))
        why = f"{found} meant {meant} and means {means} now"
        copied = if_copied(found, there, self.new)
        if there is not None and not self.is_risky:
            return self._make(
                Disposition.CONVERT, there, f"{why}; {before} is {there}", Basis.CATALOG, copied
            )
        options = self._options()
        if there is not None:
            options.add("convert", f"keep the meaning: {describe(there, self.new)}", there, recommended=True)
        options.keep().take_factory().typed()
        return self._open(Cause.RENUMBERED, why, options, detail=self.old.name, copied=copied)

    def _translated(self) -> Line | None:
        """Another unit, or choices and bits with other numbers: the value that means the same."""
        if self.meaning.kinship not in (Kinship.SCALED, Kinship.RENUMBERED):
            return None
        found = self.found.value
        result = translate(found, self.meaning, self.old, self.new)
        if result.value == found and (result.is_word or not self.is_risky):
            return self._keep(f"{self.meaning.says}; {found} means the same in both", Basis.CATALOG)
        copied = if_copied(found, result.value, self.new)
        if result.value is not None and not self.is_risky and result.is_exact:
            return self._make(Disposition.CONVERT, result.value, result.says, Basis.CATALOG, copied)
        options = self._options()
        if result.value is not None:
            text = describe(result.value, self.new)
            options.add("convert", f"keep the meaning: {text}", result.value, recommended=True)
        options.keep().take_factory().typed()
        cause = Cause.NEW_UNIT if self.meaning.kinship is Kinship.SCALED else Cause.RENUMBERED
        detail = self.meaning.detail if cause is Cause.NEW_UNIT else self.old.name
        return self._open(cause, f"{self.meaning.says}; {result.says}", options, detail=detail, copied=copied)

    def _suspect(self) -> Line | None:
        if self.meaning.kinship is not Kinship.SUSPECT or not self.is_risky:
            return None
        fit = check_fit(self.found.value, self.new)
        options = self._options()
        if fit.is_allowed:
            options.keep()
        elif fit.nearest is not None:
            options.add("nearest", f"the nearest allowed: {describe(fit.nearest, self.new)}", fit.nearest)
        options.take_factory().typed()
        return self._open(Cause.NEW_UNIT, self.meaning.says, options, detail=self.meaning.detail)

    def _fit(self) -> Line | None:
        fit = check_fit(self.found.value, self.new)
        if fit.is_allowed and fit.stored is None:
            return None
        if fit.is_allowed and fit.stored is not None and (fit.is_slight or not self.is_risky):
            why = f"{self.found.value} is stored as {fit.stored} by the new release"
            return self._make(Disposition.CONVERT, fit.stored, why, Basis.CATALOG)
        options = self._options()
        if fit.nearest is not None:
            text = describe(fit.nearest, self.new)
            options.add("nearest", f"the nearest allowed: {text}", fit.nearest, recommended=True)
        options.take_factory().typed()
        return self._open(Cause.OUT_OF_RANGE, fit.says, options, detail=self.old.name)

    def _unstated(self) -> Line | None:
        if self.meaning.kinship is not Kinship.UNSTATED or not self.is_risky:
            return None
        found, factory = self.found.value, self.factory
        is_untouched = self.old_factory is None or self._same(found, self.old_factory)
        if factory is not None and self._same(found, factory) and is_untouched:
            return self._keep("as found it equals the new factory value; nothing is written", Basis.FACTORY)
        if self.old_factory is not None and self._same(found, self.old_factory) and factory is not None:
            return None  # a moved factory value, the next steps' case
        if self.old_factory is None or factory is None:
            detail, why = "factory-unknown", "a factory value is not stated, and nothing states the meaning"
        elif self._same(self.old_factory, factory):
            detail, why = "same-factory", "same name and factory value in both releases; you changed it"
        else:
            detail = "factory-moved"
            why = f"you changed it, and the factory value moved from {self.old_factory} to {factory}"
        options = self._options()
        options.keep(recommended=detail == "same-factory").take_factory().typed()
        return self._open(Cause.UNSTATED, f"{why}; {self.meaning.says}".rstrip("; "), options, detail=detail)

    def _same(self, a: str, b: str) -> bool:
        from asflown.core.values import same_value

        return same_value(a, b, self.new)

    def _moved_factory(self) -> Line | None:
        """A setting nobody ever changed, whose factory value is another one now."""
        before, now = self.old_factory, self.factory
        if before is None or now is None or self.frame.is_same_release:
            return None
        if self._same(before, now) or not self._same(self.found.value, before):
            return None
        moved = f"factory value was {describe(before, self.old)} and is {describe(now, self.new)} now"
        if not self.is_risky:
            return self._keep(f"never changed; {moved}; kept as found", Basis.FACTORY)
        known = self.consequence[0] is not Consequence.UNKNOWN
        options = self._options().keep(recommended=known).take_factory().typed()
        why = f"nobody ever changed it, and the {moved}"
        return self._open(Cause.MOVED_FACTORY, why, options)
