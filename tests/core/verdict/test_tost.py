"""Two one-sided tests against statsmodels, against worked summaries, and as a law."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.verdict.power import power, power_beyond
from asflown.core.verdict.tost import of_samples, quantile, survival, welch
from asflown.core.verdict.tost import tested as held_against

FIRST = [10.1, 9.8, 10.4, 10.0, 9.9, 10.2, 10.3, 9.7, 10.1, 10.0]
SECOND = [10.0, 10.2, 9.9, 10.3, 10.1, 9.8, 10.4, 10.0, 10.2, 9.9]


@pytest.mark.parametrize(("pooled", "word"), [(True, "pooled"), (False, "unequal")])
def test_raw_samples_are_those_of_statsmodels(pooled: bool, word: str) -> None:
    from statsmodels.stats.weightstats import ttost_ind

    made = of_samples(FIRST, SECOND, -0.3, 0.3, pooled=pooled)
    p, low, high = ttost_ind(np.array(FIRST), np.array(SECOND), -0.3, 0.3, usevar=word)
    assert made.p == pytest.approx(p, abs=1e-9)
    assert (made.p_low, made.dof) == pytest.approx(low[1:], abs=1e-9)
    assert made.p_high == pytest.approx(high[1], abs=1e-9)


def test_paired_samples_are_those_of_statsmodels() -> None:
    from statsmodels.stats.weightstats import ttost_paired

    apart = np.array(FIRST) - np.array(SECOND)
    error = float(apart.std(ddof=1)) / math.sqrt(apart.size)
    made = held_against(float(apart.mean()), error, apart.size - 1.0, -0.3, 0.3)
    p, low, high = ttost_paired(np.array(FIRST), np.array(SECOND), -0.3, 0.3)
    assert made.p == pytest.approx(p, abs=1e-9) == pytest.approx(0.009910912952, abs=1e-9)
    assert (made.p_low, made.p_high) == pytest.approx((low[1], high[1]), abs=1e-9)


def test_the_worked_summaries() -> None:
    """Means 5.25, 5.22, deviations 0.95, 0.83 of 95 and 89 (Lakens 2017; digits by scipy.stats.t)."""
    parts = [(0.95**2 / 95, 94.0), (0.83**2 / 89, 88.0)]
    bound = 0.43 * math.sqrt((0.95**2 + 0.83**2) / 2)
    made = held_against(0.03, math.sqrt(sum(part for part, _ in parts)), welch(parts), -bound, bound)
    assert made.error == pytest.approx(0.13130289, abs=1e-7)
    assert made.dof == pytest.approx(181.134367, abs=1e-6)
    assert (made.p_low, made.p_high) == pytest.approx((0.00095601, 0.00387552), abs=1e-7)
    assert made.interval == pytest.approx((-0.18708431, 0.24708431), abs=1e-7)
    pooled = math.sqrt((94 * 0.95**2 + 88 * 0.83**2) / 182)
    bound = 0.48 * pooled
    made = held_against(0.03, pooled * math.sqrt(1 / 95 + 1 / 89), 182.0, -bound, bound)
    assert made.error == pytest.approx(0.13188200, abs=1e-7)
    assert (made.p_low, made.p_high) == pytest.approx((0.00031238, 0.00141717), abs=1e-7)
    assert made.interval == pytest.approx((-0.18803642, 0.24803642), abs=1e-7)


numbers = st.floats(-2.0, 2.0)


@given(
    d=numbers,
    error=st.floats(1e-3, 1.0),
    dof=st.floats(1.0, 500.0),
    low=st.floats(-2, -0.01),
    high=st.floats(0.01, 2),
)
def test_equivalent_at_5_percent_is_a_90_percent_interval_within(
    d: float, error: float, dof: float, low: float, high: float
) -> None:
    """Schuirmann's rule."""
    made = held_against(d, error, dof, low, high)
    inside = low < made.interval[0] and made.interval[1] < high
    if min(abs(made.interval[0] - low), abs(made.interval[1] - high)) > 1e-9:
        assert (made.p < 0.05) == inside


@given(d=numbers, error=st.floats(1e-3, 1.0), dof=st.floats(2.0, 500.0))
def test_turned_round_it_is_the_same(d: float, error: float, dof: float) -> None:
    one, other = held_against(d, error, dof, -0.3, 0.5), held_against(-d, error, dof, -0.5, 0.3)
    assert one.p == pytest.approx(other.p, abs=1e-12)
    assert one.p_beyond == pytest.approx(other.p_beyond, abs=1e-12)


def test_what_does_not_scatter_is_what_it_is() -> None:
    assert held_against(0.1, 0.0, math.inf, -0.3, 0.3).p == 0.0
    beyond = held_against(0.4, 0.0, math.inf, -0.3, 0.3)
    assert (beyond.p, beyond.p_beyond) == (1.0, 0.0)


def test_power_is_the_share_of_drawn_differences() -> None:
    """Against 400,000 draws of numpy, and scipy.stats.norm for one side."""
    random = np.random.default_rng(5)
    for true, error, dof in ((0.0, 0.05, 6.0), (0.05, 0.04, math.inf), (0.12, 0.02, 20.0)):
        drawn = true + error * random.standard_normal(400_000)
        width = quantile(0.95, dof) * error
        share = np.mean((drawn - width > -0.14) & (drawn + width < 0.14))
        assert power(true, error, dof, -0.14, 0.14) == pytest.approx(share, abs=0.004)
        beyond = np.mean((drawn - width > 0.14) | (drawn + width < -0.14))
        assert power_beyond(true, error, dof, -0.14, 0.14) == pytest.approx(beyond, abs=0.004)
    assert power(0.0, 0.1, 3.0, -0.14, 0.14) == 0.0


def test_sample_size_by_the_normal_formula() -> None:
    """n = 2 (s / D)² (z.95 + z.90)² for power 0.8 at no difference: 17.1277 (Schuirmann, normal digits)."""
    n = 2 * (quantile(0.95, math.inf) + quantile(0.9, math.inf)) ** 2
    assert n == pytest.approx(17.1277, abs=1e-4)
    assert power(0.0, math.sqrt(2 / n), math.inf, -1.0, 1.0) == pytest.approx(0.8, abs=1e-4)


def test_tails_are_those_of_scipy() -> None:
    from scipy import stats

    assert survival(1.7, 5.5) == pytest.approx(stats.t.sf(1.7, 5.5), abs=1e-12)
    assert survival(1.7, math.inf) == pytest.approx(stats.norm.sf(1.7), abs=1e-12)
    assert quantile(0.95, 4.0) == pytest.approx(stats.t.ppf(0.95, 4.0), abs=1e-12)


def test_degrees_of_freedom_of_a_sum_are_scipys() -> None:
    """scipy.stats.ttest_ind with unequal variances."""
    from scipy import stats

    a, b = np.array(FIRST), 1.5 * np.array(SECOND[:7])
    parts = [(float(x.var(ddof=1)) / x.size, x.size - 1.0) for x in (a, b)]
    assert welch(parts) == pytest.approx(stats.ttest_ind(a, b, equal_var=False).df, rel=1e-12)
    assert math.isinf(welch([(0.1, math.inf), (0.0, 3.0)]))
