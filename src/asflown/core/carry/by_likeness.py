"""Settings that neither a note nor their name leads to a place: successors are proposed, never taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Line, Option
from asflown.core.carry.frame import Frame, make_line
from asflown.core.carry.match import Candidate, Matcher, Proposal, substitution
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.carry.options import Options, describe
from asflown.core.carry.translate import translate
from asflown.core.carry.weigh import check_fit
from asflown.core.record import Key

#: An inference without consequence for the aircraft is applied from here on, if no rival is near.
APPLY_FROM = 0.85
RIVAL_WITHIN = 0.12


def lines_by_likeness(
    frame: Frame, names: Sequence[str], fresh: Iterable[str], matcher: Matcher
) -> tuple[Line, ...]:
    """Lines of old names without a place, with proposals among the new names nobody claimed."""
    old = [_candidate_old(frame, name) for name in names]
    new = [_candidate_new(frame, name) for name in dict.fromkeys(fresh)]
    proposals = {p.old: p for p in matcher(old, new)}
    shared = _shared_causes(frame, names, proposals)
    return tuple(
        _line(frame, found, proposals.get(name), shared)
        for name in names
        for found in frame.old.by_name[name]
    )


def _shared_causes(frame: Frame, names: Sequence[str], proposals: Mapping[str, Proposal]) -> frozenset[str]:
    """Changes of words behind the settings somebody changed; untouched ones share their question."""
    return frozenset(
        substitution(name, proposals[name].new)
        for name in names
        if name in proposals and not all(_is_untouched(frame, item) for item in frame.old.by_name[name])
    )


def _candidate_old(frame: Frame, name: str) -> Candidate:
    found = frame.old.by_name[name]
    values = {item.value for item in found} | {frame.old.factory(item.key) or "" for item in found}
    return Candidate(frame.old.definition(name), frozenset(values - {""}))


def _candidate_new(frame: Frame, name: str) -> Candidate:
    values = {frame.new.factory(key) or "" for key in frame.new.keys if key.name == name}
    return Candidate(frame.new.definition(name), frozenset(values - {""}))


def _line(frame: Frame, found: Found, proposal: Proposal | None, shared: frozenset[str]) -> Line:
    target = _target(frame, found, proposal)
    names = [proposal.new] if proposal and target else []
    consequence = frame.consequence([found.key.name], names)
    redo = frame.old.definition(found.key.name).redo
    if redo:
        why = f"must be done again on the aircraft: {redo}"
        return make_line(Disposition.REDO, [found], [], why=why, basis=Basis.CATALOG, consequence=consequence)
    if proposal is None or target is None:
        return _vanished(frame, found, consequence[0].is_risky)
    value, says = _value(frame, found, proposal)
    if _may_apply(proposal) and not consequence[0].is_risky and value is not None:
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
    detail = substitution(found.key.name, proposal.new)
    untouched = _is_untouched(frame, found) and detail not in shared
    cause = Cause.VANISHED_UNTOUCHED if untouched else Cause.SUCCESSOR
    if untouched or not consequence[0].is_risky:
        detail = ""  # decided together with all others of this consequence
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


def _value(frame: Frame, found: Found, proposal: Proposal) -> tuple[str | None, str]:
    """The value under the proposed successor, and what is to be said about it."""
    old, new = frame.old.definition(proposal.old), frame.new.definition(proposal.new)
    meaning = compare_meaning(old, new, trusted=True)
    value: str | None = found.value
    says = meaning.says
    if meaning.kinship in (Kinship.SCALED, Kinship.RENUMBERED):
        result = translate(found.value, meaning, old, new)
        value, says = result.value, f"{meaning.says}; {result.says}"
    if value is not None and not check_fit(value, new).is_allowed:
        return None, check_fit(value, new).says
    return value, says


def _options(
    frame: Frame, found: Found, proposal: Proposal, target: Key, value: str | None, *, untouched: bool
) -> tuple[Option, ...]:
    new = frame.new.definition(proposal.new)
    options = Options(found.key, found.value, target, frame.new.factory(target), new)
    if value is not None:
        is_clear = _may_apply(proposal) and not untouched
        text = describe(value, new)
        options.add("rename", f"it is {proposal.new} now: {text}", value, recommended=is_clear)
    if proposal.runner_up is not None:
        _second(frame, found, proposal.runner_up[0], options)
    return options.retire(recommended=untouched).made()


def _second(frame: Frame, found: Found, name: str, options: Options) -> None:
    key = frame.new.locate(Key(name, found.key.bank, found.key.index))
    definition = frame.new.definition(name)
    if key is None or not check_fit(found.value, definition).is_allowed:
        return
    other = Options(found.key, found.value, key, frame.new.factory(key), definition)
    other.add("second", f"it is {name} now: {describe(found.value, definition)}", found.value)
    options.take(other)


def _may_apply(proposal: Proposal) -> bool:
    rival = proposal.runner_up[1] if proposal.runner_up else 0.0
    return proposal.confidence >= APPLY_FROM and proposal.confidence - rival >= RIVAL_WITHIN


def _candidates(proposal: Proposal) -> tuple[tuple[str, float], ...]:
    best = (proposal.new, proposal.confidence)
    return (best, proposal.runner_up) if proposal.runner_up else (best,)


def _reasons(proposal: Proposal) -> str:
    return f"likeness {proposal.confidence:.2f}: {', '.join(proposal.reasons)}"


def _is_untouched(frame: Frame, found: Found) -> bool:
    from asflown.core.values import same_value

    factory = frame.old.factory(found.key)
    return factory is not None and same_value(found.value, factory, frame.old.definition(found.key.name))


def _vanished(frame: Frame, found: Found, risky: bool) -> Line:
    """No successor in sight: gone, unless it was changed and may matter."""
    consequence = frame.consequence([found.key.name], [])
    untouched = _is_untouched(frame, found)
    if frame.is_trusted or not risky:
        why = "the new release has no such name, and nothing like it"
        return make_line(
            Disposition.RETIRE, [found], [], why=why, basis=Basis.ABSENT, consequence=consequence
        )
    cause = Cause.VANISHED_UNTOUCHED if untouched else Cause.VANISHED
    factory = frame.old.factory(found.key)
    state = (
        "never changed" if untouched else f"changed from {factory}" if factory else "factory value unknown"
    )
    options = Options(found.key, found.value, None, None, frame.old.definition(found.key.name))
    return make_line(
        Disposition.DECIDE,
        [found],
        [],
        why=f"no note says what became of it, and nothing like it is in the new release; {state}",
        basis=Basis.ABSENT,
        consequence=consequence,
        cause=cause,
        options=options.retire(recommended=untouched).made(),
    )


def claimed_names(lines: Iterable[Line]) -> Mapping[str, str]:
    """New name to the old name that an open proposal would put there."""
    return {
        line.candidates[0][0]: str(line.old[0].key)
        for line in lines
        if line.is_open and line.candidates and line.old
    }
