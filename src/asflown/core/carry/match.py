"""A first matching method for names that no note covers. Proposals only: see :data:`Matcher`."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from asflown.core.carry.assign import assign
from asflown.core.catalog import ParameterDef

#: Below this confidence no proposal is made.
FLOOR = 0.6


@dataclass(frozen=True)
class Candidate:
    """A parameter as the matcher sees it.

    Attributes
    ----------
    values
        The values it has where it was found, and its factory values, as text.
    """

    definition: ParameterDef
    values: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Proposal:
    """A successor proposed for an old name.

    Attributes
    ----------
    confidence
        0 to 1. Of this first method: a likeness, not yet a calibrated probability.
    reasons
        In words, one a feature.
    runner_up
        The next best name and its confidence.
    """

    old: str
    new: str
    confidence: float
    reasons: tuple[str, ...]
    runner_up: tuple[str, float] | None = None


#: The seam: old names without a place, new names nobody claimed -> proposals, one-to-one.
Matcher = Callable[[Sequence[Candidate], Sequence[Candidate]], tuple[Proposal, ...]]


@lru_cache(maxsize=65536)
def words_of(name: str) -> tuple[str, ...]:
    """A name split into lower-case words and numbers.

    Examples
    --------
    >>> words_of("pitch.rateGain2")
    ('pitch', 'rate', 'gain', '2')
    """
    spaced = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", name)
    return tuple(re.findall(r"[a-z]+|\d+", spaced.casefold()))


def propose(old: Sequence[Candidate], new: Sequence[Candidate]) -> tuple[Proposal, ...]:
    """Propose successors one-to-one by likeness of name, type, unit, range, default, group, description.

    Parameters
    ----------
    old
        Old parameters no note covers and the new release has not by the same name.
    new
        New parameters nothing goes into yet.

    Returns
    -------
    tuple of Proposal
        At most one for each old and each new name, none below :data:`FLOOR`; of all one-to-one
        assignments the one of largest total likeness.
    """
    edges = _edges(old, new)
    made = []
    for i, j in sorted(assign(edges).items()):
        rivals = sorted((score, k) for k, score in edges[i].items() if k != j)
        runner = (new[rivals[-1][1]].definition.name, round(rivals[-1][0], 3)) if rivals else None
        made.append(
            Proposal(
                old[i].definition.name,
                new[j].definition.name,
                round(edges[i][j], 3),
                _reasons(old[i], new[j]),
                runner,
            )
        )
    return tuple(made)


def _edges(old: Sequence[Candidate], new: Sequence[Candidate]) -> dict[int, dict[int, float]]:
    """Likeness of every pair that reaches :data:`FLOOR`: old position -> new position -> 0 to 1."""
    from rapidfuzz import fuzz, process

    joined = [" ".join(words_of(candidate.definition.name)) for candidate in new]
    edges: dict[int, dict[int, float]] = {}
    for i, candidate in enumerate(old):
        name = " ".join(words_of(candidate.definition.name))
        near = process.extract(name, joined, scorer=fuzz.token_sort_ratio, score_cutoff=25, limit=None)
        for _, likeness, j in near:
            weighed = _weigh(likeness / 100, candidate, new[j])
            if weighed >= FLOOR:
                edges.setdefault(i, {})[j] = weighed
    return edges


def _facts(a: Candidate, b: Candidate) -> Mapping[str, bool]:
    """What both sides state, and whether it agrees; what one side leaves out is no fact."""
    x, y = a.definition, b.definition
    pairs = {
        "unit": (x.unit, y.unit),
        "type": (x.type, y.type),
        "range": ((x.minimum, x.maximum), (y.minimum, y.maximum)),
        "factory value": (x.default, y.default),
        "group": (x.group, y.group),
        "role": (x.role, y.role),
        "choices": (tuple(c.label for c in x.choices), tuple(c.label for c in y.choices)),
    }
    return {
        name: left == right
        for name, (left, right) in pairs.items()
        if left not in (None, (), (None, None)) and right not in (None, (), (None, None))
    }


_WEIGHTS = {
    "unit": 0.08,
    "type": 0.03,
    "range": 0.06,
    "factory value": 0.05,
    "group": 0.05,
    "role": 0.45,
    "choices": 0.15,
}


def _weigh(likeness: float, a: Candidate, b: Candidate) -> float:
    value = 0.85 * likeness
    for name, agrees in _facts(a, b).items():
        value += _WEIGHTS[name] if agrees else -_WEIGHTS[name]
    x, y = a.definition.description, b.definition.description
    if x and y:
        value += 0.35 * (_shared_words(x, y) - 0.35)
    return max(0.0, min(0.99, value))


def _shared_words(a: str, b: str) -> float:
    before, after = set(words_of(a)), set(words_of(b))
    return len(before & after) / max(1, len(before | after))


def _reasons(a: Candidate, b: Candidate) -> tuple[str, ...]:
    facts = _facts(a, b)
    same = [name for name, agrees in facts.items() if agrees]
    other = [name for name, agrees in facts.items() if not agrees]
    x, y = words_of(a.definition.name), words_of(b.definition.name)
    gone, come = [w for w in x if w not in y], [w for w in y if w not in x]
    reasons = []
    if gone or come:
        reasons.append(f"name: {' '.join(gone) or 'nothing'} became {' '.join(come) or 'nothing'}")
    else:
        reasons.append("name: the same words")
    if same:
        reasons.append("same " + ", ".join(same))
    if other:
        reasons.append("other " + ", ".join(other))
    if not facts:
        reasons.append("nothing else is stated")
    return tuple(reasons)


def substitution(old: str, new: str) -> str:
    """The change of words between two names, e.g. ``turn>spin``; the same change is one cause."""
    x, y = words_of(old), words_of(new)
    gone = ".".join(word for word in x if word not in y)
    come = ".".join(word for word in y if word not in x)
    return f"{gone}>{come}"
