"""Settings that neither a note nor their name leads to a place: successors are proposed, never taken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Line, Option
from asflown.core.carry.frame import Frame, make_line
from asflown.core.carry.match import FLOOR, Matcher, Proposal, Unplaced, substitution
from asflown.core.carry.matching.result import APPLY_FROM
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.carry.options import Options, describe
from asflown.core.carry.translate import translate
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Consequence, ParameterDef
from asflown.core.record import Key

#: A proposal is recommended from this confidence on.
RECOMMEND_FROM = 0.9
#: The next best name is a choice beside a claimed one from this confidence on.
SECOND_FROM = 0.02


def lines_by_likeness(
    frame: Frame, names: Sequence[str], fresh: Iterable[str], matcher: Matcher
) -> tuple[Line, ...]:
    """Lines of old names without a place, with proposals among the new names nobody claimed."""
    proposals = {p.old: p for p in matcher(_unplaced(frame, names, tuple(dict.fromkeys(fresh))))}
    causes = _Causes(frame, names, proposals)
    return tuple(
        _line(frame, found, proposals.get(name), causes)
        for name in names
        for found in frame.old.by_name[name]
    )


class _Causes:
    """Which open questions one change of words explains."""

    def __init__(self, frame: Frame, names: Sequence[str], proposals: Mapping[str, Proposal]) -> None:
        claimed = {name: p for name, p in proposals.items() if p.is_claimed}
        changes = {name: substitution(name, p.new) for name, p in claimed.items()}
        self._often = Counter(changes.values())
        self._changed = {
            changes[name]
            for name in names
            if name in changes and not all(_is_untouched(frame, item) for item in frame.old.by_name[name])
        }
        self._singles = Counter(
            self._together(p, frame.consequence([p.old], [p.new])[0])
            for p in claimed.values()
            if self._often[changes[p.old]] == 1 and self.has_changed(p) and not p.others
        )

    def has_changed(self, proposal: Proposal) -> bool:
        """Whether somebody changed a setting behind the same change; untouched ones share its question."""
        return substitution(proposal.old, proposal.new) in self._changed

    def detail(self, proposal: Proposal, consequence: Consequence) -> str:
        """What is decided in one: a change of words; several that happen once, by how sure they are."""
        change = substitution(proposal.old, proposal.new)
        together = self._together(proposal, consequence)
        is_alone = self._often[change] > 1 or proposal.others or self._singles[together] < 2
        return change if is_alone else together

    @staticmethod
    def _together(proposal: Proposal, consequence: Consequence) -> str:
        sure = "likely" if proposal.confidence >= RECOMMEND_FROM else "unsure"
        return f"{sure} {consequence}"


def _unplaced(frame: Frame, names: Sequence[str], fresh: Sequence[str]) -> Unplaced:
    """Both sides as the matcher sees them, in the catalog's order where there is one (neighbours count)."""
    stated = frame.old.catalog.by_name if frame.old.catalog else {}
    ordered = dict.fromkeys([name for name in stated if name in frame.old.by_name])
    old = tuple(
        _with_default(frame.old.definition(name), frame.old.factory(frame.old.by_name[name][0].key))
        for name in (ordered | dict.fromkeys(frame.old.by_name))
    )
    shown = tuple(dict.fromkeys(key.name for key in frame.new.keys))
    places = {key.name: key for key in reversed(frame.new.keys)}
    new = tuple(_with_default(frame.new.definition(name), frame.new.factory(places[name])) for name in shown)
    in_use = {name: found[0].value for name, found in frame.old.by_name.items()}
    return Unplaced(old, new, names, fresh, in_use)


def _with_default(definition: ParameterDef, factory: str | None) -> ParameterDef:
    return definition if factory is None else replace(definition, default=factory)


def _line(frame: Frame, found: Found, proposal: Proposal | None, causes: _Causes) -> Line:
    target = _target(frame, found, proposal)
    names = [proposal.new] if proposal and target else []
    consequence = frame.consequence([found.key.name], names)
    redo = frame.old.definition(found.key.name).redo
    if redo:
        why = f"must be done again on the aircraft: {redo}"
        return make_line(Disposition.REDO, [found], [], why=why, basis=Basis.CATALOG, consequence=consequence)
    if proposal is None or target is None:
        return _vanished(frame, found, None, None)
    if not proposal.is_claimed:
        return _vanished(frame, found, proposal, target)
    value, says, is_same = _value(frame, found, proposal)
    if _may_apply(proposal) and not consequence[0].is_risky and value is not None and is_same:
        kind = Disposition.RENAME if value == found.value else Disposition.CONVERT
        return make_line(
            kind,
            [found],
            [frame.left(target, value)],
            why=f"taken for {proposal.new} ({_reasons(proposal)})",
            basis=Basis.INFERRED,
            consequence=consequence,
            candidates=_candidates(proposal),
        )
    untouched = _is_untouched(frame, found) and not causes.has_changed(proposal)
    cause = Cause.VANISHED_UNTOUCHED if untouched else Cause.SUCCESSOR
    is_common = untouched or not consequence[0].is_risky  # decided with all others of this consequence
    detail = "" if is_common else causes.detail(proposal, consequence[0])
    why = f"no note says what became of it; likeliest {proposal.new} ({_reasons(proposal)})"
    return make_line(
        Disposition.DECIDE,
        [found],
        [],
        why=f"{why}; {says}" if says else why,
        basis=Basis.INFERRED,
        consequence=consequence,
        cause=cause,
        detail=detail,
        options=_options(frame, found, proposal, target, value, untouched=untouched),
        candidates=_candidates(proposal),
    )


def _target(frame: Frame, found: Found, proposal: Proposal | None) -> Key | None:
    if proposal is None:
        return None
    return frame.new.locate(Key(proposal.new, found.key.bank, found.key.index))


def _value(frame: Frame, found: Found, proposal: Proposal) -> tuple[str | None, str, bool]:
    """The value under the proposed successor, what is to be said about it, and whether it means the same."""
    old, new = frame.old.definition(proposal.old), frame.new.definition(proposal.new)
    meaning = compare_meaning(old, new, trusted=True)
    value: str | None = found.value
    says = meaning.says
    if meaning.kinship in (Kinship.SCALED, Kinship.RENUMBERED):
        result = translate(found.value, meaning, old, new)
        value, says = result.value, f"{meaning.says}; {result.says}"
    is_same = meaning.kinship is not Kinship.SUSPECT
    if value is not None and not check_fit(value, new).is_allowed:
        return None, check_fit(value, new).says, is_same
    return value, says, is_same


def _options(
    frame: Frame, found: Found, proposal: Proposal, target: Key, value: str | None, *, untouched: bool
) -> tuple[Option, ...]:
    new = frame.new.definition(proposal.new)
    options = Options(found.key, found.value, target, frame.new.factory(target), new)
    if value is not None:
        is_clear = proposal.confidence >= RECOMMEND_FROM and not untouched and not proposal.others
        text = describe(value, new)
        options.add("rename", f"it is {proposal.new} now: {text}", value, recommended=is_clear)
        if proposal.others:
            _split(frame, found, proposal, value, options)
    if proposal.runner_up is not None and proposal.runner_up[1] >= SECOND_FROM:
        _second(frame, found, proposal.runner_up[0], options)
    return options.retire(recommended=untouched).made()


def _split(frame: Frame, found: Found, proposal: Proposal, value: str, options: Options) -> None:
    """Offer to leave the value at every one of the new names, where it fits all of them."""
    names = (proposal.new, *proposal.others)
    keys = [frame.new.locate(Key(name, found.key.bank, found.key.index)) for name in names]
    if all(keys) and all(check_fit(value, frame.new.definition(name)).is_allowed for name in names):
        options.split([frame.left(key, value) for key in keys if key is not None], value)


def _second(frame: Frame, found: Found, name: str, options: Options) -> None:
    key = frame.new.locate(Key(name, found.key.bank, found.key.index))
    definition = frame.new.definition(name)
    if key is None or not check_fit(found.value, definition).is_allowed:
        return
    other = Options(found.key, found.value, key, frame.new.factory(key), definition)
    other.add("second", f"it is {name} now: {describe(found.value, definition)}", found.value)
    options.take(other)


def _may_apply(proposal: Proposal) -> bool:
    return proposal.is_claimed and proposal.confidence >= APPLY_FROM and not proposal.others


def _candidates(proposal: Proposal) -> tuple[tuple[str, float], ...]:
    best = ((proposal.new, proposal.confidence), *((name, proposal.confidence) for name in proposal.others))
    return (*best, proposal.runner_up) if proposal.runner_up else best


def _reasons(proposal: Proposal) -> str:
    return f"confidence {proposal.confidence:.2f}: {'; '.join(proposal.reasons)}"


def _is_untouched(frame: Frame, found: Found) -> bool:
    from asflown.core.values import same_value

    factory = frame.old.factory(found.key)
    return factory is not None and same_value(found.value, factory, frame.old.definition(found.key.name))


def _vanished(frame: Frame, found: Found, unlikely: Proposal | None, target: Key | None) -> Line:
    """No successor that is sure enough: gone, unless it was changed and may matter."""
    consequence = frame.consequence([found.key.name], [])
    untouched = _is_untouched(frame, found)
    seen = "nothing like it is in the new release"
    if unlikely is not None:
        seen = f"no successor is sure enough; likeliest {unlikely.new} ({_reasons(unlikely)})"
    if frame.is_trusted or not consequence[0].is_risky:
        why = f"the new release has no such name; {seen}"
        return make_line(
            Disposition.RETIRE, [found], [], why=why, basis=Basis.ABSENT, consequence=consequence
        )
    cause = Cause.VANISHED_UNTOUCHED if untouched else Cause.VANISHED
    factory = frame.old.factory(found.key)
    state = (
        "never changed" if untouched else f"changed from {factory}" if factory else "factory value unknown"
    )
    options = Options(found.key, found.value, None, None, frame.old.definition(found.key.name))
    if unlikely is not None and target is not None:
        value = _value(frame, found, unlikely)[0]
        if value is not None:
            new = frame.new.definition(unlikely.new)
            other = Options(found.key, found.value, target, frame.new.factory(target), new)
            options.take(other.add("rename", f"it is {unlikely.new} now: {describe(value, new)}", value))
        if unlikely.runner_up is not None and unlikely.runner_up[1] >= FLOOR:
            _second(frame, found, unlikely.runner_up[0], options)
    return make_line(
        Disposition.DECIDE,
        [found],
        [],
        why=f"no note says what became of it, and {seen}; {state}",
        basis=Basis.ABSENT,
        consequence=consequence,
        cause=cause,
        options=options.retire(recommended=untouched).made(),
    )


def claimed_names(lines: Iterable[Line]) -> Mapping[str, str]:
    """New name to the old name that an open proposal would put there."""
    claims: dict[str, str] = {}
    for line in lines:
        if line.is_open and line.candidates and line.old:
            best = line.candidates[0][1]
            claims |= {name: str(line.old[0].key) for name, sure in line.candidates if sure == best}
    return claims
