"""The best one-to-one assignment of columns to signals, exactly; small tables, so without scipy.optimize.

Importing scipy.optimize alone takes 0.4 to 0.5 s; this takes a few milliseconds for 60 columns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray, IntArray


def best_pairs(weights: FloatArray) -> list[tuple[int, int]]:
    """Pairs (row, column) with the largest sum of weights; only pairs of positive weight are made.

    Parameters
    ----------
    weights
        (n, m); not positive where a pair is not wanted.

    Notes
    -----
    Shortest augmenting paths with potentials (Kuhn 1955, Munkres 1957; the O(n^3) form, from memory). Held
    against scipy.optimize.linear_sum_assignment in the tests.
    """
    rows, columns = weights.shape
    if rows == 0 or columns == 0:
        return []
    # Every row may stay alone at no cost: one more column for each.
    cost = np.concatenate((-np.maximum(weights, 0.0), np.zeros((rows, rows))), axis=1)
    row_of = _shortest_paths(cost)
    return sorted(
        (int(row), column)
        for column, row in enumerate(row_of[:columns])
        if row >= 0 and weights[row, column] > 0
    )


def _shortest_paths(cost: FloatArray) -> list[int]:
    rows, columns = cost.shape
    by_row = np.zeros(rows)
    by_column = np.zeros(columns)
    row_of = np.full(columns, -1, dtype=np.int64)
    for start in range(rows):
        least = np.full(columns, np.inf)
        before = np.full(columns, -1, dtype=np.int64)
        used = np.zeros(columns, dtype=bool)
        row, column = start, -1
        visited = [start]
        while True:
            reduced = cost[row] - by_row[row] - by_column
            better = ~used & (reduced < least)
            least[better] = reduced[better]
            before[better] = column
            free = np.where(used, np.inf, least)
            column = int(np.argmin(free))
            step = float(free[column])
            by_row[visited] += step
            by_column[used] -= step
            least[~used] -= step
            used[column] = True
            if row_of[column] < 0:
                break
            row = int(row_of[column])
            visited.append(row)
        _augment(row_of, before, column, start)
    return [int(row) for row in row_of]


def _augment(row_of: IntArray, before: IntArray, column: int, start: int) -> None:
    """Hand the rows on along the path that was found."""
    while column >= 0:
        back = int(before[column])
        row_of[column] = start if back < 0 else row_of[back]
        column = back
