"""The interval of a mean covers the truth as often as it says, whatever the memory of the signal."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.signal.mean_error import means_of, student


@pytest.mark.parametrize("seconds", [10.0, 30.0, 120.0])
@pytest.mark.parametrize("memory", [0.02, 0.3, 0.8], ids=lambda s: f"{s} s")
def test_coverage_with_memory(seconds, memory):
    """First-order noise, 1500 draws: the binomial spread of 95 % is 0.56 %, so 3.5 of them and a floor."""
    rng = np.random.default_rng(int(seconds * 100 + memory * 10))
    rate, draws = 20.0, 1500
    n = int(seconds * rate)
    keep = np.exp(-1 / (memory * rate))
    series = np.empty((draws, n))
    state = rng.normal(size=draws)
    for k in range(n):
        state = keep * state + np.sqrt(1 - keep**2) * rng.normal(size=draws)
        series[:, k] = state
    found = means_of(series, seconds)
    hits = np.abs(found.value) <= student(found.dof) * found.error
    floor = 0.90 if seconds < 20 * memory else 0.93  # a record of a dozen memories cannot show them all
    assert floor <= np.mean(hits) <= 0.97


def test_plain_error_would_be_far_too_small():
    rng = np.random.default_rng(1)
    slow = np.repeat(rng.normal(size=60), 40)
    found = means_of(slow[None], 60.0)
    assert found.error[0] > 3 * slow.std() / np.sqrt(slow.size)


def test_weighted_sums_carry_the_joint_error():
    rng = np.random.default_rng(2)
    common = rng.normal(size=2000)
    rows = np.array([common, common]) + 1e-6 * rng.normal(size=(2, 2000))
    difference = means_of(rows, 100.0).of(np.array([[1.0, -1.0]]))
    assert difference.error[0] < 1e-5


def test_too_short_says_so():
    with pytest.raises(ValueError, match="too few"):
        means_of(np.zeros((1, 3)), 1.0)


def test_student_is_the_books_quantile():
    # Textbook t table: 97.5 % at 10 degrees of freedom.
    assert student(10) == pytest.approx(2.228, abs=5e-4)
