"""The seam between carry-over and matching: names without a place in, successors out, one-to-one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from asflown.core.carry.matching.result import Pair, PairKind
from asflown.core.carry.matching.words import raw_words
from asflown.core.catalog import ParameterDef

#: Below this confidence a successor is not even mentioned in a plan.
FLOOR = 0.1


@dataclass(frozen=True)
class Unplaced:
    """What a matcher is asked.

    Attributes
    ----------
    old, new
        All parameters of both releases: what kept its name tells about the rest.
    lost
        Old names that no note covers and the new release has not.
    free
        New names nothing goes into yet.
    in_use
        Value by old name where it was found; stands in for a factory value nobody states.
    """

    old: Sequence[ParameterDef]
    new: Sequence[ParameterDef]
    lost: Sequence[str]
    free: Sequence[str]
    in_use: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Proposal:
    """A successor proposed for an old name.

    Attributes
    ----------
    confidence
        Calibrated probability, 0 to 1, that ``new`` is what became of ``old``.
    is_claimed
        Whether it is sure enough to be proposed; else it is only the likeliest of unlikely ones.
    reasons
        In words, one a feature.
    runner_up
        The next best name and its confidence.
    others
        In a split the further new names.
    """

    old: str
    new: str
    confidence: float
    is_claimed: bool
    reasons: tuple[str, ...]
    runner_up: tuple[str, float] | None = None
    others: tuple[str, ...] = ()


#: Proposes at most one successor for each lost name.
Matcher = Callable[[Unplaced], tuple[Proposal, ...]]


def propose(unplaced: Unplaced) -> tuple[Proposal, ...]:
    """Propose successors by everything both catalogs state, none below :data:`FLOOR`.

    A new name that an old parameter of the same name has already is never proposed.
    """
    from asflown.core.carry.matching.match import match_lost

    if not unplaced.lost or not unplaced.free:
        return ()
    pairs = match_lost(unplaced.old, unplaced.new, unplaced.lost, unplaced.free, unplaced.in_use)
    free = frozenset(unplaced.free)
    return tuple(_proposal(pair) for pair in pairs if pair.confidence >= FLOOR and pair.new in free)


def _proposal(pair: Pair) -> Proposal:
    others = pair.others if pair.kind is PairKind.SPLIT else ()
    return Proposal(
        pair.old, pair.new, pair.confidence, pair.is_claimed, pair.reasons, pair.runner_up, others
    )


def substitution(old: str, new: str) -> str:
    """The change of words between two names, e.g. ``turn>spin``; the same change is one cause."""
    x, y = raw_words(old), raw_words(new)
    gone = ".".join(word for word in x if word not in y)
    come = ".".join(word for word in y if word not in x)
    return f"{gone}>{come}"
