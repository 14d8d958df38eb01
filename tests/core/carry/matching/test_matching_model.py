"""The model's arithmetic, against general-purpose reference libraries."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.feature_extraction.text import CountVectorizer
from sklearn.linear_model import LogisticRegression
from sklearn.metrics.pairwise import cosine_similarity
from sklearn.preprocessing import StandardScaler

from asflown.core.carry.matching.context import CONTEXT, rivals
from asflown.core.carry.matching.features import FEATURES
from asflown.core.carry.matching.prior import TRUST, USUAL, prior_shift
from asflown.core.carry.matching.reading import read_both
from asflown.core.carry.matching.tables import make_tables, paired
from asflown.core.carry.matching.weights import FITTED_TO, MODEL
from asflown.core.catalog import ParameterDef

sys.path.insert(0, str(Path(__file__).parents[4] / "tools"))


def test_the_weights_were_fitted_to_what_is_computed_now():
    assert (*FEATURES, *CONTEXT) == FITTED_TO
    assert len(MODEL.first.weight) == len(FEATURES)
    assert len(MODEL.second.weight) == len(FEATURES) + len(CONTEXT)
    assert max(MODEL.trees.feature) < len(FEATURES) + len(CONTEXT)


def test_trees_and_linear_parts_give_what_scikit_learn_gives():
    from matcher.train import Linear, Trees, exported

    rng = np.random.default_rng(7)
    x = rng.normal(size=(800, 5)).astype(np.float32)
    y = (x[:, 0] * x[:, 1] + 0.4 * x[:, 2] + rng.normal(size=800) * 0.3) > 0.2
    boosted = HistGradientBoostingClassifier(max_iter=25, max_leaf_nodes=6, random_state=0).fit(x, y)
    trees: Trees = exported(boosted)
    assert trees.log_odds(x) == pytest.approx(boosted.decision_function(x), abs=1e-4)
    scaler = StandardScaler().fit(x)
    plain = LogisticRegression().fit(scaler.transform(x), y)
    linear = Linear(
        tuple(scaler.mean_), tuple(scaler.scale_), tuple(plain.coef_[0]), float(plain.intercept_[0])
    )
    assert linear.log_odds(x) == pytest.approx(plain.decision_function(scaler.transform(x)), abs=1e-4)


def test_cosines_of_descriptions_against_scikit_learn():
    """Weights by their formula, cosine by scikit-learn 1.9."""
    texts = [
        "gain of the turn loop",
        "gain gain of the climb loop",
        "when the lamp goes dark",
        "turn loop gain",
    ]
    old = [ParameterDef(f"a{k}", description=text) for k, text in enumerate(texts[:2])]
    new = [ParameterDef(f"b{k}", description=text) for k, text in enumerate(texts[2:])]
    before, after = read_both(old, new)
    tables = make_tables(before, after)
    words = [" ".join(reading.text) for reading in (*before, *after)]
    counts = CountVectorizer(token_pattern=r"\S+").fit_transform(words).toarray().astype(float)
    spread = (counts > 0).sum(axis=0)
    weights = np.log1p(len(texts) / spread) * np.where(counts > 0, 1 + np.log(np.maximum(counts, 1)), 0)
    expected = cosine_similarity(weights[:2], weights[2:])
    i, j = np.divmod(np.arange(4), 2)
    assert paired(tables.old.unit_text, tables.new.unit_text, i, j) == pytest.approx(
        expected.ravel(), abs=1e-6
    )


def test_rivals_by_their_definition():
    rng = np.random.default_rng(3)
    at = rng.integers(0, 6, 40)
    value = rng.integers(0, 5, 40).astype(np.float32)
    for k, found in enumerate(rivals(at, value)):
        others = [value[m] for m in range(40) if m != k and at[m] == at[k]]
        assert found == (max(others) if others else -np.inf)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.8])
def test_the_share_of_renames_is_found_again(share):
    """Log-odds drawn as they stand under the usual share; the shift goes the way Bayes' rule says, as far as trusted."""
    rng = np.random.default_rng(11)
    is_rename = rng.random(20_000) < share
    evidence = np.where(is_rename, rng.normal(4, math.sqrt(8), 20_000), rng.normal(-4, math.sqrt(8), 20_000))
    log_odds = evidence + math.log(USUAL / (1 - USUAL))
    by_bayes = math.log(share / (1 - share)) - math.log(USUAL / (1 - USUAL))
    assert prior_shift(log_odds.astype(np.float32)) == pytest.approx(TRUST * by_bayes, abs=0.25)


@pytest.mark.parametrize(("part", "whole"), [(0, 9), (8, 9), (226, 233), (1, 1)])
def test_intervals_of_shares_against_scipy(part, whole):
    from matcher.judge import Share

    expected = binomtest(part, whole).proportion_ci(method="wilson")
    assert Share(part, whole).interval() == pytest.approx((expected.low, expected.high), abs=1e-9)
