"""One-to-one assignment of largest total weight over a sparse table."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping

#: Parts of the table with at most this many rows and columns are solved here; larger ones by scipy,
#: whose import alone takes longer than a whole plan.
SMALL = 100
#: Gains below this are rounding.
TINY = 1e-12


def assign(weights: Mapping[int, Mapping[int, float]]) -> dict[int, int]:
    """Choose at most one column a row and one row a column, so that the total weight is largest.

    Parameters
    ----------
    weights
        Row -> column -> positive weight; pairs that are not named cannot be chosen.

    Returns
    -------
    dict
        Row to column. The table is split into parts that share no column, each solved exactly.
    """
    chosen: dict[int, int] = {}
    for rows, columns in _parts(weights):
        part = {row: weights[row] for row in rows}
        small = len(columns) <= SMALL and len(rows) <= SMALL
        chosen |= _small(part) if small else _large(part, columns)
    return chosen


def _parts(weights: Mapping[int, Mapping[int, float]]) -> Iterator[tuple[list[int], list[int]]]:
    """Connected parts of the table: rows and columns."""
    by_column: dict[int, list[int]] = {}
    for row, entries in weights.items():
        for column in entries:
            by_column.setdefault(column, []).append(row)
    seen: set[int] = set()
    for start in weights:
        if start in seen:
            continue
        seen.add(start)
        rows, columns, waiting = [], dict.fromkeys(weights[start]), [start]
        while waiting:
            row = waiting.pop()
            rows.append(row)
            columns |= dict.fromkeys(weights[row])
            for other in (other for column in weights[row] for other in by_column[column]):
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
        yield sorted(rows), sorted(columns)


def _small(part: Mapping[int, Mapping[int, float]]) -> dict[int, int]:
    """Best total by successive longest augmenting paths, row by row.

    Each row either stays alone or starts a chain: it takes a column, the row that had it takes
    another, and so on; the chain that gains most is taken. Gains are found by relaxing along the chain
    (Bellman-Ford; after every step the assignment is the best one of the rows so far, so no chain can
    gain by running in a circle).
    """
    held: dict[int, int] = {}  # column -> row
    for start in part:
        gain: dict[int, float] = {}
        before: dict[int, int] = {}
        waiting = deque([(start, 0.0)])
        while waiting:
            row, so_far = waiting.popleft()
            for column, weight in part[row].items():
                reached = so_far + weight
                if held.get(column) == row or reached <= gain.get(column, -1e9) + TINY:
                    continue
                gain[column], before[column] = reached, row
                holder = held.get(column)
                if holder is not None:
                    waiting.append((holder, reached - part[holder][column]))
        ends = {c: g - (part[held[c]][c] if c in held else 0.0) for c, g in gain.items()}
        end = max(ends, key=lambda column: (ends[column], -column), default=None)
        if end is not None and ends[end] > TINY:
            _shift(held, before, start, end)
    return {row: column for column, row in held.items()}


def _shift(held: dict[int, int], before: Mapping[int, int], start: int, end: int) -> None:
    """Move every row of a chain on to its next column; the row that held the last one stays alone."""
    places = {row: column for column, row in held.items()}
    column = end
    while True:
        row = before[column]
        held[column] = row
        if row == start:
            return
        column = places[row]


def _large(part: Mapping[int, Mapping[int, float]], columns: list[int]) -> dict[int, int]:
    """The same by ``scipy.optimize.linear_sum_assignment`` (modified Jonker-Volgenant)."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    rows = list(part)
    place = {column: position for position, column in enumerate(columns)}
    table = np.zeros((len(rows), len(columns)))
    for i, row in enumerate(rows):
        for column, weight in part[row].items():
            table[i, place[column]] = weight
    chosen_rows, chosen_columns = linear_sum_assignment(table, maximize=True)
    pairs = zip(chosen_rows.tolist(), chosen_columns.tolist(), strict=True)
    return {rows[i]: columns[j] for i, j in pairs if table[i, j] > 0}
