"""The assignment against scipy.optimize.linear_sum_assignment, an outside implementation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linear_sum_assignment

from asflown.core.columns.assign import best_pairs


@given(
    arrays(np.float64, st.tuples(st.integers(0, 9), st.integers(0, 9)), elements=st.floats(-5, 5, width=16))
)
def test_the_sum_is_the_largest_there_is(weights):
    pairs = best_pairs(weights)
    assert len({r for r, _ in pairs}) == len({c for _, c in pairs}) == len(pairs)
    assert all(weights[r, c] > 0 for r, c in pairs)
    gain = np.maximum(weights, 0)
    rows, columns = linear_sum_assignment(gain, maximize=True) if gain.size else ([], [])
    assert sum(weights[r, c] for r, c in pairs) == pytest.approx(
        gain[rows, columns].sum() if gain.size else 0
    )
