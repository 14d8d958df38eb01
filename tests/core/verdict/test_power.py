"""The power of two one-sided tests with estimated errors, against digits and draws from outside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from asflown.core.verdict.power import power_of_samples


@pytest.mark.parametrize(
    ("n", "bound", "digits"),
    [
        (18, 1.0, 0.804545),
        (19, 1.0, 0.831988),
        (23, 1.0, 0.909634),
        (69, 0.5, 0.798512),
        (70, 0.5, 0.805931),
    ],
)
def test_exact_power_without_a_difference(n: int, bound: float, digits: float) -> None:
    """Digits of check-values section 8: a one-dimensional integral over chi, computed elsewhere."""
    assert power_of_samples(n, bound) == pytest.approx(digits, abs=1e-5)


@pytest.mark.parametrize(("n", "bound", "true"), [(6, 1.6, 0.0), (12, 1.2, 0.4), (3, 3.0, -1.0)])
def test_power_is_what_drawn_samples_show(n: int, bound: float, true: float) -> None:
    """40,000 drawn pairs of samples, judged by scipy's Student t (pooled variance)."""
    random = np.random.default_rng(5)
    first = random.standard_normal((40_000, n))
    second = random.standard_normal((40_000, n)) + true
    pooled = np.sqrt((first.var(axis=1, ddof=1) + second.var(axis=1, ddof=1)) / 2)
    width = stats.t.ppf(0.95, 2 * n - 2) * pooled * math.sqrt(2 / n)
    apart = second.mean(axis=1) - first.mean(axis=1)
    share = float(np.mean((apart - width > -bound) & (apart + width < bound)))
    assert power_of_samples(n, bound, difference_over_sigma=true) == pytest.approx(share, abs=0.008)


def test_what_is_no_sample_is_refused() -> None:
    for n, bound in ((1, 1.0), (5, 0.0), (5, math.nan)):
        with pytest.raises(ValueError, match="two values or more"):
            power_of_samples(n, bound)
