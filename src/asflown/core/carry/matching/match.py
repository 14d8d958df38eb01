"""Match two catalogs: what became of every parameter, how sure that is, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from asflown.core.carry.matching.families import Family, families
from asflown.core.carry.matching.find import Finding, Likely, find
from asflown.core.carry.matching.model import Model
from asflown.core.carry.matching.reading import Reading
from asflown.core.carry.matching.reasons import reasons, same_name_reasons
from asflown.core.carry.matching.result import Matching, Pair, PairKind, Zone
from asflown.core.carry.matching.systematic import Change
from asflown.core.carry.meaning import Kinship, Meaning, compare_meaning
from asflown.core.catalog import Catalog, Consequence, ParameterDef, worst

#: A successor is claimed from this confidence on; without a consequence it is applied from the second.
PROPOSE_FROM, APPLY_FROM = 0.6, 0.97
#: A pair less likely than this is no candidate at all.
SHOWN_FROM = 0.001
#: Confidence in an identical name: agreeing with all that is stated, and with something that changed. Not
#: calibrated: the published truths hold no counterexample.
SAME_NAME, SAME_NAME_CHANGED = 0.99, 0.9


#: Confidence where both catalogs state the same role, and no other parameter has it: a person said so.
SAME_ROLE = 0.98


def match(old: Catalog, new: Catalog, model: Model | None = None) -> Matching:
    """What became of every parameter of ``old`` in ``new``.

    Parameters
    ----------
    old, new
        Catalogs of two releases.
    model
        Another model than the one asflown comes with; for training and judging.

    Returns
    -------
    Matching
        The same for the same catalogs, in every process.
    """
    before, after = old.parameters, new.parameters
    places = {p.name: j for j, p in enumerate(after)}
    same = {i: places[p.name] for i, p in enumerate(before) if p.name in places}
    doubtful = [i for i, j in same.items() if _is_other(before[i], after[j])]
    lost = [i for i in range(len(before)) if i not in same]
    free = sorted(set(range(len(after))) - set(same.values()))
    finding, pairs = _placed(before, after, lost, free, model or _own_model(), doubtful=doubtful)
    for i, j in same.items():
        pairs[i] = _same_name(finding.looked.old[i], finding.looked.new[j], finding.likely.get(i), after)
    made = tuple(pairs[i] for i in sorted(pairs))
    claimed = {name for pair in made if pair.is_claimed for name in _news(pair)}
    placed = {pair.old for pair in made if pair.is_claimed}
    return Matching(
        made,
        tuple(p.name for p in before if p.name not in placed),
        tuple(p.name for p in after if p.name not in claimed),
    )


def match_lost(
    old: Sequence[ParameterDef],
    new: Sequence[ParameterDef],
    lost: Iterable[str],
    free: Iterable[str],
    in_use: Mapping[str, str] | None = None,
) -> tuple[Pair, ...]:
    """The likeliest successors of some old names among some new ones, in the order of ``lost``.

    Parameters
    ----------
    old, new
        All parameters of both releases.
    in_use
        Value found by old name; stands in for a factory value nobody states.
    """
    before = {p.name: i for i, p in enumerate(old)}
    after = {p.name: j for j, p in enumerate(new)}
    wanted = [before[name] for name in lost]
    places = sorted(after[name] for name in free)
    _, pairs = _placed(old, new, wanted, places, _own_model(), in_use=in_use)
    return tuple(pairs[i] for i in wanted if i in pairs)


def _own_model() -> Model:
    from asflown.core.carry.matching.weights import MODEL

    return MODEL


def _placed(
    before: Sequence[ParameterDef],
    after: Sequence[ParameterDef],
    lost: Sequence[int],
    free: Sequence[int],
    model: Model,
    *,
    doubtful: Sequence[int] = (),
    in_use: Mapping[str, str] | None = None,
) -> tuple[Finding, dict[int, Pair]]:
    """What was found, and the pair of every lost name that has one."""
    roles = _same_roles(before, after, lost, free)
    rest = [i for i in lost if i not in roles]
    left = sorted(set(free) - set(roles.values()))
    finding = find(before, after, [*rest, *doubtful], left, model, in_use)
    pairs = {i: _of_role(finding.looked.old[i], finding.looked.new[j]) for i, j in roles.items()}
    pairs |= _renames(finding, rest)
    pairs |= _splits(finding, rest, left, pairs)
    pairs |= _merges(finding, rest, left, pairs)
    return finding, pairs


def _same_roles(
    before: Sequence[ParameterDef], after: Sequence[ParameterDef], lost: Iterable[int], free: Iterable[int]
) -> dict[int, int]:
    """Old to new position where exactly one of each side has the role."""
    sides = []
    for definitions, places in ((before, lost), (after, free)):
        counts = Counter(p.role for p in definitions if p.role)
        sides.append({r: k for k in places if (r := definitions[k].role) and counts[r] == 1})
    olds, news = sides
    return {olds[role]: news[role] for role in olds if role in news}


def _of_role(old: Reading, new: Reading) -> Pair:
    a, b = old.definition, new.definition
    meaning, consequence = compare_meaning(a, b), consequence_of(a, b)
    sure = meaning.kinship is Kinship.SAME and not consequence.is_risky and not stated_otherwise(a, b)
    says = (f"the same role, {a.role}, stated by both", *same_name_reasons(old, new, _cosine(old, new))[1:])
    return Pair(
        a.name, b.name, PairKind.RENAME, SAME_ROLE, Zone.APPLY if sure else Zone.PROPOSE, says, meaning,
        None, default_shift(a, b, meaning), consequence,
    )  # fmt: skip


def _news(pair: Pair) -> tuple[str, ...]:
    return (pair.new, *pair.others) if pair.kind is PairKind.SPLIT else (pair.new,)


def _is_other(old: ParameterDef, new: ParameterDef) -> bool:
    """Whether an identical name may stand for something else now."""
    return compare_meaning(old, new).kinship is Kinship.SUSPECT


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


def _same_name(old: Reading, new: Reading, other: Likely | None, after: Sequence[ParameterDef]) -> Pair:
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
        runner_up=(after[other.new].name, round(other.confidence, 3)) if other else None,
        default_shift=default_shift(a, b, meaning),
        consequence=consequence_of(a, b),
    )


def _cosine(old: Reading, new: Reading) -> float:
    """Share of words two descriptions have in common (Dice), for what is said of an identical name."""
    a, b = set(old.text), set(new.text)
    return 2 * len(a & b) / (len(a) + len(b)) if a or b else 0.0


def _renames(finding: Finding, lost: Iterable[int]) -> dict[int, Pair]:
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
    rival = one.runner_up
    return Pair(
        old=a.name,
        new=b.name,
        kind=PairKind.MERGE if is_taken else PairKind.RENAME,
        confidence=round(one.confidence, 4),
        zone=_zone(
            one, is_claimed and not is_taken, is_claimed, consequence, meaning, stated_otherwise(a, b)
        ),
        reasons=tuple(says),
        meaning=meaning,
        runner_up=(looked.new[rival[0]].name, round(rival[1], 4)) if rival else None,
        default_shift=default_shift(a, b, meaning),
        consequence=consequence,
        others=(b.name,) if is_taken else (),
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


def _splits(
    finding: Finding, lost: Sequence[int], free: Sequence[int], pairs: Mapping[int, Pair]
) -> dict[int, Pair]:
    """Old names beside several free new ones with one word more."""
    looked = finding.looked
    held = {pair.new for pair in pairs.values() if pair.is_claimed and pair.confidence >= APPLY_FROM}
    open_new = {j for j in free if looked.new[j].name not in held}
    made = {}
    for family in families(looked.old, looked.new, lost, open_new):
        i = family.one
        pair = pairs.get(i)
        if pair is None or (pair.confidence >= APPLY_FROM and pair.is_claimed):
            continue
        total = _total(finding, [(i, j) for j in family.many])
        names = [looked.new[j].name for j in family.many]
        if pair.new not in names or total < PROPOSE_FROM:
            continue
        made[i] = _joined(
            pair, PairKind.SPLIT, total, [n for n in names if n != pair.new], family, "new names"
        )
    return made


def _merges(
    finding: Finding, lost: Sequence[int], free: Sequence[int], pairs: Mapping[int, Pair]
) -> dict[int, Pair]:
    """Several lost names with one word more than a free new one."""
    looked = finding.looked
    open_old = {i for i in lost if i in pairs and pairs[i].confidence < APPLY_FROM}
    made = {}
    for family in families(looked.new, looked.old, free, open_old):
        j = family.one
        name = looked.new[j].name
        total = _total(finding, [(i, j) for i in family.many])
        if total < PROPOSE_FROM or any(pairs[i].new != name for i in family.many):
            continue
        olds = [looked.old[i].name for i in family.many]
        for i in family.many:
            others = [n for n in olds if n != pairs[i].old]
            made[i] = _joined(pairs[i], PairKind.MERGE, total, others, family, "old names")
    return made


def _total(finding: Finding, wanted: Collection[tuple[int, int]]) -> float:
    """Sum of the confidences of pairs, at most 0.99: one-to-one, at most one of them could be right."""
    pairs = finding.looked.pairs
    chosen = set(wanted)
    both = zip(pairs.old.tolist(), pairs.new.tolist(), finding.confidences.tolist(), strict=True)
    return min(0.99, float(sum(sure for i, j, sure in both if (i, j) in chosen)))


def _joined(
    pair: Pair, kind: PairKind, total: float, others: Sequence[str], family: Family, what: str
) -> Pair:
    says = f"{len(family.many)} {what} differ from it by one word: {', '.join(family.words)}"
    return replace(
        pair,
        kind=kind,
        confidence=round(total, 4),
        zone=Zone.PROPOSE,
        reasons=(*pair.reasons, says),
        others=tuple(others),
        runner_up=None,
    )


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
