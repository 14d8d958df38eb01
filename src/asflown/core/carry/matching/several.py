"""Splits and merges among pairs: one name beside several that hold one word more."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from asflown.core.carry.matching.families import Family, families
from asflown.core.carry.matching.find import Finding
from asflown.core.carry.matching.result import APPLY_FROM, PROPOSE_FROM, Pair, PairKind, Zone


def splits(
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


def merges(
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
