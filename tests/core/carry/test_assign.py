"""The assignment against scipy's (scipy.optimize.linear_sum_assignment, an independent library)."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from asflown.core.carry.assign import SMALL, assign

SPARSE = st.dictionaries(
    st.integers(0, 14),
    st.dictionaries(st.integers(0, 14), st.floats(0.1, 1.0), min_size=1, max_size=8),
    max_size=15,
)


@settings(max_examples=400)
@given(SPARSE)
def test_the_total_is_the_largest_there_is(weights):
    chosen = assign(weights)
    assert len(set(chosen.values())) == len(chosen)
    assert all(column in weights[row] for row, column in chosen.items())
    table = np.zeros((15, 15))
    for row, entries in weights.items():
        for column, weight in entries.items():
            table[row, column] = weight
    rows, columns = linear_sum_assignment(table, maximize=True)
    total = sum(weights[row][column] for row, column in chosen.items())
    assert abs(total - table[rows, columns].sum()) < 1e-9


def test_a_part_too_large_for_the_small_way_is_solved_too():
    n = SMALL + 4
    weights = {i: {j: 1.0 if i == j else 0.5 for j in range(n)} for i in range(n)}
    assert assign(weights) == {i: i for i in range(n)}


def test_nothing_gives_nothing():
    assert assign({}) == {}
