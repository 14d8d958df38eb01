"""Match two catalogs."""

from __future__ import annotations

from asflown.core.carry.match import Candidate, propose
from asflown.core.carry.matching.result import Matching, Pair, PairKind, Zone
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.catalog import Catalog, Consequence, ParameterDef, worst


def match(old: Catalog, new: Catalog) -> Matching:
    """What became of every parameter of ``old`` in ``new``.

    Parameters
    ----------
    old, new
        Catalogs of two releases.

    Returns
    -------
    Matching
        The same for the same catalogs, in every process.
    """
    lost = [Candidate(p) for p in old.parameters if p.name not in new.by_name]
    fresh = [Candidate(p) for p in new.parameters if p.name not in old.by_name]
    proposed = {p.old: p for p in propose(lost, fresh)}
    pairs: list[Pair] = []
    for a in old.parameters:
        if a.name in new.by_name:
            b = new.by_name[a.name]
            meaning = compare_meaning(a, b)
            zone = Zone.APPLY if meaning.kinship is Kinship.SAME else Zone.PROPOSE
            pairs.append(
                Pair(
                    a.name,
                    b.name,
                    PairKind.SAME,
                    0.99,
                    zone,
                    ("the same name",),
                    meaning,
                    None,
                    default_shift(a, b),
                    consequence_of(a, b),
                )
            )
        elif a.name in proposed:
            p = proposed[a.name]
            b = new.by_name[p.new]
            meaning = compare_meaning(a, b)
            zone = Zone.PROPOSE if p.confidence >= 0.8 else Zone.UNKNOWN
            pairs.append(
                Pair(
                    a.name,
                    b.name,
                    PairKind.RENAME,
                    p.confidence,
                    zone,
                    p.reasons,
                    meaning,
                    p.runner_up,
                    default_shift(a, b),
                    consequence_of(a, b),
                )
            )
    claimed = {p.new for p in pairs if p.is_claimed}
    has = {p.old for p in pairs if p.is_claimed}
    return Matching(
        tuple(pairs),
        tuple(p.name for p in old.parameters if p.name not in has),
        tuple(p.name for p in new.parameters if p.name not in claimed),
    )


def consequence_of(old: ParameterDef, new: ParameterDef) -> Consequence:
    """The worst consequence that either states; unknown where neither does."""
    stated = [p.consequence for p in (old, new) if p.consequence is not Consequence.UNKNOWN]
    return worst(*stated)


def default_shift(old: ParameterDef, new: ParameterDef) -> tuple[str, str] | None:
    """Factory value before and now, where both are stated and differ."""
    from asflown.core.values import same_value

    if old.default is None or new.default is None or same_value(old.default, new.default, old):
        return None
    return old.default, new.default
