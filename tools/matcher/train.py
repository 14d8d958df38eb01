"""Fit the matcher's model to cases with a known truth."""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.exceptions import ConvergenceWarning
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

from asflown.core.carry.matching.context import exchanged, replaced_in_texts, second_look
from asflown.core.carry.matching.features import Look, look
from asflown.core.carry.matching.model import Linear, Model, Trees, shortlist
from asflown.core.carry.matching.systematic import described_changes
from matcher.families import Case

#: Weight of a made-up case's pairs against a published one's.
MADE_UP = 0.1
#: Strength of the logistic model (inverse of its penalty), and of the trees.
C = 0.01
TREES = {
    "learning_rate": 0.08, "max_iter": 80, "max_leaf_nodes": 6, "l2_regularization": 5.0,
    "min_samples_leaf": 15, "max_features": 0.3, "early_stopping": False, "random_state": 0,
}  # fmt: skip

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Seen:
    """A case looked at, with its labels.

    Attributes
    ----------
    right
        Whether each pair is the true one, shape (pairs,).
    scored
        Whether the truth of the pair's old name is known.
    """

    case: Case
    looked: Look
    right: NDArray[np.bool_]
    scored: NDArray[np.bool_]


def see(case: Case) -> Seen:
    """Look at a case: every old name the new catalog has not, every new name the old one has not."""
    before, after = {p.name for p in case.old}, {p.name for p in case.new}
    lost = [i for i, p in enumerate(case.old) if p.name not in after]
    free = [j for j, p in enumerate(case.new) if p.name not in before]
    looked = look(case.old, case.new, lost, free)
    names = [
        (case.old[i].name, case.new[j].name)
        for i, j in zip(looked.pairs.old.tolist(), looked.pairs.new.tolist(), strict=True)
    ]
    right = np.array([case.truth.get(old) == new for old, new in names], bool)
    scored = np.array([old in case.truth for old, _ in names], bool)
    return Seen(case, looked, right, scored)


def fit(seen: Sequence[Seen]) -> Model:
    """Fit both looks; the second one on what first looks fitted to other families said.

    Parameters
    ----------
    seen
        Published and made-up cases.
    """
    weights = _weights(seen)
    first = _linear([s.looked.features for s in seen], seen, weights)
    second: list[Floats] = []
    short: list[Seen] = []
    fitted: dict[tuple[str, ...], Linear] = {}
    for s in seen:
        others = _others(seen, s)
        key = tuple(o.case.name for o in others)
        if key not in fitted:
            fitted[key] = _linear([o.looked.features for o in others], others, _weights(others))
        log_odds = fitted[key].log_odds(s.looked.features)
        places = shortlist(s.looked, log_odds)
        texts = described_changes(s.looked.old, s.looked.new, s.looked.same)
        looked = s.looked.only(places)
        parts = exchanged(looked)
        beside = second_look(
            looked, log_odds[places], log_odds[places], parts, replaced_in_texts(parts, texts)
        )
        second.append(np.column_stack([looked.features, beside]))
        short.append(replace(s, looked=looked, right=s.right[places], scored=s.scored[places]))
    weights = _weights(short)
    return Model(first, _linear(second, short, weights), _trees(second, short, weights))


def _others(seen: Sequence[Seen], one: Seen) -> list[Seen]:
    """Cases of other families; of other cases where too little would be left."""
    others = [s for s in seen if s.case.family != one.case.family]
    if sum(int(s.right.sum()) for s in others) >= 20:
        return others
    stem = one.case.name.split("~")[0]
    return [s for s in seen if s.case.name.split("~")[0] != stem]


def _weights(seen: Sequence[Seen]) -> list[Floats]:
    """Small families count more a pair than large ones; made-up cases less."""
    renames: Counter[str] = Counter()
    for s in seen:
        if not s.case.made_up:
            renames[s.case.family] += max(1, int((s.right & s.scored).sum()))
    mean = sum(renames.values()) / max(1, len(renames))
    made = []
    for s in seen:
        weight = (
            MADE_UP if s.case.made_up else float(np.clip((mean / renames[s.case.family]) ** 0.5, 0.33, 3))
        )
        made.append((weight * s.scored).astype(np.float32))
    return made


def _linear(rows: Sequence[Floats], seen: Sequence[Seen], weights: Sequence[Floats]) -> Linear:
    x, y, w = np.concatenate(rows), np.concatenate([s.right for s in seen]), np.concatenate(weights)
    scaler = StandardScaler().fit(x)
    model = LogisticRegression(C=C, max_iter=2000)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(scaler.transform(x), y, sample_weight=w)
    return Linear(*map(_tuple, (scaler.mean_, scaler.scale_, model.coef_[0])), float(model.intercept_[0]))


def _tuple(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(f"{v:.7g}") for v in values)


def _trees(rows: Sequence[Floats], seen: Sequence[Seen], weights: Sequence[Floats]) -> Trees:
    x, y, w = np.concatenate(rows), np.concatenate([s.right for s in seen]), np.concatenate(weights)
    return exported(HistGradientBoostingClassifier(**TREES).fit(x, y, sample_weight=w))


def exported(model: HistGradientBoostingClassifier) -> Trees:
    """The trees of a fitted model as plain numbers."""
    feature: list[int] = []
    threshold: list[float] = []
    left: list[int] = []
    right: list[int] = []
    value: list[float] = []
    roots: list[int] = []
    depth = 0
    for (tree,) in model._predictors:
        root = len(feature)
        roots.append(root)
        for place, node in enumerate(tree.nodes, root):
            leaf = bool(node["is_leaf"])
            feature.append(0 if leaf else int(node["feature_idx"]))
            threshold.append(0.0 if leaf else float(node["num_threshold"]))
            left.append(place if leaf else root + int(node["left"]))
            right.append(place if leaf else root + int(node["right"]))
            value.append(float(f"{node['value']:.6g}") if leaf else 0.0)
            depth = max(depth, int(node["depth"]))
    bias = float(model._baseline_prediction[0, 0])
    return Trees(*map(tuple, (feature, threshold, left, right, value, roots)), bias, depth)


def is_trained_on(case: Case) -> bool:
    """Whether a case is for training: aliases are other words for a name, not renames; they judge alone."""
    return "_alias_" not in case.name
