"""Match two catalogs: what became of every parameter, how sure that is, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from asflown.core.carry.matching.find import Finding, Likely, find
from asflown.core.carry.matching.model import Model
from asflown.core.carry.matching.pairs import of_role, renames, same_name
from asflown.core.carry.matching.result import Matching, Pair, PairKind
from asflown.core.carry.matching.several import merges, splits
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.catalog import Catalog, ParameterDef


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
        other = _another(finding.likely.get(i), j)
        pairs[i] = same_name(finding.looked.old[i], finding.looked.new[j], other, after)
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
    pairs = {i: of_role(finding.looked.old[i], finding.looked.new[j]) for i, j in roles.items()}
    pairs |= renames(finding, rest)
    pairs |= splits(finding, rest, left, pairs)
    pairs |= merges(finding, rest, left, pairs)
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


def _news(pair: Pair) -> tuple[str, ...]:
    return (pair.new, *pair.others) if pair.kind is PairKind.SPLIT else (pair.new,)


def _another(likely: Likely | None, own: int) -> tuple[int, float] | None:
    """The likeliest new name besides a doubtful name's own."""
    if likely is None:
        return None
    return likely.runner_up if likely.new == own else (likely.new, likely.confidence)


def _is_other(old: ParameterDef, new: ParameterDef) -> bool:
    """Whether an identical name may stand for something else now."""
    return compare_meaning(old, new).kinship is Kinship.SUSPECT
