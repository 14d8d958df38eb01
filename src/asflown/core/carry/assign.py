"""One-to-one assignment of largest total weight over a sparse table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

#: Parts of the table with at most this many columns are solved here, exactly, by dynamic programming
#: over column sets; larger ones by scipy, whose import alone takes longer than a whole small plan.
SMALL = 10


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
        chosen |= _small(part, columns) if small else _large(part, columns)
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


def _small(part: Mapping[int, Mapping[int, float]], columns: list[int]) -> dict[int, int]:
    """Best total over every set of used columns, row by row; ties go to the earlier column."""
    place = {column: position for position, column in enumerate(columns)}
    best: dict[int, tuple[float, dict[int, int]]] = {0: (0.0, {})}
    for row, entries in part.items():
        after = dict(best)
        for used, (total, pairs) in best.items():
            for column in sorted(entries):
                bit = 1 << place[column]
                if used & bit:
                    continue
                reached = total + entries[column]
                if used | bit not in after or reached > after[used | bit][0] + 1e-12:
                    after[used | bit] = (reached, {**pairs, row: column})
        best = after
    return max(best.values(), key=lambda item: item[0])[1]


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
