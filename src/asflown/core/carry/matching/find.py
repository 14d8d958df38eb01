"""The likeliest successor of every lost name: judged pair by pair, then one-to-one over all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.carry.assign import assign
from asflown.core.carry.matching.features import Look, look
from asflown.core.carry.matching.model import Model
from asflown.core.carry.matching.prior import prior_shift
from asflown.core.catalog import ParameterDef

if TYPE_CHECKING:
    from asflown.core.carry.matching.tables import Floats

#: Pairs less likely than this are never chosen against "none".
LEAST = 0.02
#: Log-odds that another stated role takes away: a person said what each of them is.
OTHER_ROLE = 6.0


@dataclass(frozen=True)
class Likely:
    """A successor of one old name; positions in the catalogs.

    Attributes
    ----------
    pair
        Place of the pair among those looked at.
    is_free
        Whether the new name is this one's in the one-to-one assignment.
    runner_up
        The next best new name and its confidence.
    """

    new: int
    pair: int
    confidence: float
    is_free: bool
    runner_up: tuple[int, float] | None


@dataclass(frozen=True)
class Finding:
    """What was looked at and what was found; ``confidences`` has a number for every pair looked at."""

    looked: Look
    confidences: Floats
    likely: Mapping[int, Likely]


def find(
    old: Sequence[ParameterDef],
    new: Sequence[ParameterDef],
    lost: Sequence[int],
    free: Sequence[int],
    model: Model,
    in_use: Mapping[str, str] | None = None,
) -> Finding:
    """Find the likeliest successor of every lost parameter (positions in ``old``) among the new ones.

    Of all one-to-one assignments with the option "none" the one with the largest product of odds against
    :data:`LEAST` is taken; a name left without its own place still has its likeliest candidate.
    """
    looked = look(old, new, lost, free, in_use)
    return Finding(looked, *judged(looked, model))


def _role_conflicts(looked: Look) -> Floats:
    """Log-odds taken from pairs whose stated roles differ."""
    import numpy as np

    def role(i: int, j: int) -> bool:
        a, b = looked.old[i].definition.role, looked.new[j].definition.role
        return bool(a and b and a != b)

    pairs = zip(looked.pairs.old.tolist(), looked.pairs.new.tolist(), strict=True)
    return np.array([-OTHER_ROLE if role(i, j) else 0.0 for i, j in pairs], np.float32)


def judged(looked: Look, model: Model) -> tuple[Floats, dict[int, Likely]]:
    """Confidence of every pair, and the likeliest pair of every old name.

    Log-odds are rounded to thousandths: two machines that add in another order rank rivals alike.
    """
    import numpy as np

    log_odds = np.round(model.log_odds(looked) + _role_conflicts(looked), 3)
    at, to = looked.pairs.old.tolist(), looked.pairs.new.tolist()
    ranked: dict[int, list[int]] = {}
    for k in np.argsort(-log_odds, kind="stable").tolist():
        ranked.setdefault(at[k], []).append(k)
    best = np.array([log_odds[places[0]] for places in ranked.values()], np.float32)
    sure = 1 / (1 + np.exp(-np.clip(log_odds + np.float32(prior_shift(best)), -60, 60)))
    weights: dict[int, dict[int, float]] = {}
    for k in np.flatnonzero((sure > LEAST) & ~looked.pairs.taken).tolist():
        weights.setdefault(at[k], {})[to[k]] = math.log(float(sure[k]) / LEAST)
    chosen = assign(weights)
    likely = {}
    for i, places in ranked.items():
        lead = next((k for k in places if to[k] == chosen.get(i)), places[0])
        confidence = float(sure[lead])
        rival = next((k for k in places if k != lead), None)
        runner_up = None if rival is None else (to[rival], min(float(sure[rival]), 1 - confidence))
        likely[i] = Likely(to[lead], lead, confidence, i in chosen, runner_up)
    return sure.astype(np.float32), likely
