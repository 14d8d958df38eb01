"""Pairs with their zone and reasons: identical names, stated roles, and the likeliest successors."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from asflown.core.carry.matching.find import Finding, Likely
from asflown.core.carry.matching.reading import Reading
from asflown.core.carry.matching.reasons import reasons, same_name_reasons
from asflown.core.carry.matching.result import APPLY_FROM, PROPOSE_FROM, Pair, PairKind, Zone
from asflown.core.carry.matching.systematic import Change
from asflown.core.carry.meaning import Kinship, Meaning, compare_meaning
from asflown.core.catalog import Consequence, ParameterDef, worst

#: A pair less likely than this is no candidate at all.
SHOWN_FROM = 0.001
#: Confidence in an identical name: agreeing with all that is stated, and with something that changed. Not
#: calibrated: the published truths hold no counterexample.
SAME_NAME, SAME_NAME_CHANGED = 0.99, 0.9
#: Confidence where both catalogs state the same role, and no other parameter has it: a person said so.
SAME_ROLE = 0.98


def same_name(
    old: Reading, new: Reading, other: tuple[int, float] | None, after: Sequence[ParameterDef]
) -> Pair:
    """The pair of an identical name; ``other`` is a likelier successor where the name is doubtful."""
    a, b = old.definition, new.definition
    meaning = compare_meaning(a, b)
    changed = stated_otherwise(a, b)
    keeps = meaning.kinship in (Kinship.SAME, Kinship.UNSTATED) and not changed
    says = list(same_name_reasons(old, new, _cosine(old, new)))
    one_sided = [word for word in changed if not any(reason.startswith(word) for reason in says)]
    if one_sided:
        says.append(f"stated by one release only: {', '.join(one_sided)}")
    if meaning.says and meaning.kinship is not Kinship.SAME:
        says.append(meaning.says)
    is_sure = meaning.kinship is Kinship.SAME and not changed
    return Pair(
        old=a.name,
        new=b.name,
        kind=PairKind.SAME,
        confidence=SAME_NAME if keeps else SAME_NAME_CHANGED,
        zone=Zone.APPLY if is_sure else Zone.PROPOSE,
        reasons=tuple(says),
        meaning=meaning,
        runner_up=(after[other[0]].name, round(other[1], 4)) if other else None,
        default_shift=default_shift(a, b, meaning),
        consequence=consequence_of(a, b),
        changed=changed,
    )


def of_role(old: Reading, new: Reading) -> Pair:
    """The pair of two parameters that alone have one role."""
    a, b = old.definition, new.definition
    meaning, consequence = compare_meaning(a, b), consequence_of(a, b)
    sure = meaning.kinship is Kinship.SAME and not consequence.is_risky and not stated_otherwise(a, b)
    says = (f"the same role, {a.role}, stated by both", *same_name_reasons(old, new, _cosine(old, new))[1:])
    return Pair(
        a.name, b.name, PairKind.RENAME, SAME_ROLE, Zone.APPLY if sure else Zone.PROPOSE, says, meaning,
        None, default_shift(a, b, meaning), consequence,
    )  # fmt: skip


def renames(finding: Finding, lost: Iterable[int]) -> dict[int, Pair]:
    """The likeliest successor of every lost name that has one."""
    looked = finding.looked
    found = {i: finding.likely[i] for i in lost if i in finding.likely}
    found = {i: one for i, one in found.items() if one.confidence >= SHOWN_FROM}
    claimed = {i: one for i, one in found.items() if _claims(looked.pairs.taken[one.pair], one)}
    habits: Counter[Change] = Counter(looked.changes[one.pair] for one in claimed.values())
    moved = Counter(
        (looked.old[i].group, looked.new[j].group)
        for i, j in (*looked.same.items(), *((i, one.new) for i, one in claimed.items()))
    )
    return {i: _rename(finding, i, one, habits, moved, i in claimed) for i, one in found.items()}


def _claims(taken: bool, one: Likely) -> bool:
    return one.confidence >= PROPOSE_FROM and (one.is_free or bool(taken))


def _rename(
    finding: Finding,
    i: int,
    one: Likely,
    habits: Mapping[Change, int],
    moved: Mapping[tuple[str, str], int],
    is_claimed: bool,
) -> Pair:
    looked = finding.looked
    old, new = looked.old[i], looked.new[one.new]
    a, b = old.definition, new.definition
    is_taken = bool(looked.pairs.taken[one.pair])
    says = list(
        reasons(
            old, new, text=float(looked.pairs.text[one.pair]), change=looked.changes[one.pair],
            habits=habits, moved=moved,
        )
    )  # fmt: skip
    if is_taken:
        says.append(f"the old release has a {b.name} too: the two may have become one")
    meaning = compare_meaning(a, b)
    consequence = consequence_of(a, b)
    changed = stated_otherwise(a, b)
    rival = one.runner_up
    return Pair(
        old=a.name,
        new=b.name,
        kind=PairKind.MERGE if is_taken else PairKind.RENAME,
        confidence=round(one.confidence, 4),
        zone=_zone(one, is_claimed and not is_taken, is_claimed, consequence, meaning, changed),
        reasons=tuple(says),
        meaning=meaning,
        runner_up=(looked.new[rival[0]].name, round(rival[1], 4)) if rival else None,
        default_shift=default_shift(a, b, meaning),
        consequence=consequence,
        others=(b.name,) if is_taken else (),
        changed=changed,
    )


def _zone(
    one: Likely,
    alone: bool,
    is_claimed: bool,
    consequence: Consequence,
    meaning: Meaning,
    changed: Collection[str],
) -> Zone:
    if not is_claimed:
        return Zone.UNKNOWN
    means_same = meaning.kinship in (Kinship.SAME, Kinship.UNSTATED) and not changed
    if alone and one.confidence >= APPLY_FROM and means_same and not consequence.is_risky:
        return Zone.APPLY
    return Zone.PROPOSE


def stated_otherwise(old: ParameterDef, new: ParameterDef) -> tuple[str, ...]:
    """What of type, unit and range the catalogs state differently; also where only one states it."""
    differing = {
        "type": (_plain(old.type), _plain(new.type)),
        "unit": (_plain(old.unit), _plain(new.unit)),
        "range": ((old.minimum, old.maximum), (new.minimum, new.maximum)),
    }
    return tuple(word for word, (a, b) in differing.items() if a != b)


def _plain(text: str | None) -> str | None:
    return text.strip().casefold() if text else None


def _cosine(old: Reading, new: Reading) -> float:
    """Share of words two descriptions have in common (Dice), for what is said of an identical name."""
    a, b = set(old.text), set(new.text)
    return 2 * len(a & b) / (len(a) + len(b)) if a or b else 0.0


def consequence_of(old: ParameterDef, new: ParameterDef) -> Consequence:
    """The worst consequence that either states; unknown where neither does."""
    stated = [p.consequence for p in (old, new) if p.consequence is not Consequence.UNKNOWN]
    return worst(*stated)


def default_shift(old: ParameterDef, new: ParameterDef, meaning: Meaning) -> tuple[str, str] | None:
    """Factory value before and now, where both are stated and are not the same amount."""
    from asflown.core.values import number, same_value

    if old.default is None or new.default is None:
        return None
    before, now = number(old.default), number(new.default)
    if meaning.factor is not None and before is not None and now is not None:
        return None if before * meaning.factor == now else (old.default, new.default)
    return None if same_value(old.default, new.default, old) else (old.default, new.default)
