"""How a log too large for memory is made to fit: thinned, and where that is not enough, fewer columns."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from asflown.core.log_table import LogFact

#: Rows a second that thinning leaves at least, Hz (what margins need).
LEAST_RATE = 500.0
#: The largest decimation.
MOST_THINNED = 200
_SLACK = 0.05  # rows are expected, not counted


@dataclass(frozen=True)
class Fit:
    """What was decided.

    Attributes
    ----------
    factor
        One row of so many is kept.
    left_out
        Numbers of the columns not read.
    rate
        Rows a second of the file as its time column shows it, Hz; ``None`` where it shows none.
    """

    factor: int = 1
    left_out: frozenset[int] = frozenset()
    rate: float | None = None


def fit_to(
    limit: int,
    rows: float,
    sizes: Mapping[int, int],
    times: frozenset[int],
    rate: float | None,
) -> Fit:
    """Decide on the decimation, and on columns to leave out.

    Parameters
    ----------
    limit
        Bytes that numbers may take.
    rows
        Rows expected.
    sizes
        Bytes a value by column number.
    times
        Columns that are kept in any case.
    rate
        Rows a second, Hz; ``None``: unknown, nothing then limits the thinning.
    """
    needed = max(1, math.ceil(rows * sum(sizes.values()) / limit - _SLACK))
    most = needed if rate is None else max(1, math.floor(rate / LEAST_RATE * 1.001))
    factor = min(needed, most, MOST_THINNED)
    room = limit - rows / factor * sum(sizes[number] for number in times)
    left_out = set()
    for number in sizes:
        if number in times:
            continue
        room -= rows / factor * sizes[number]
        if room < 0 and needed > factor:
            left_out.add(number)
    return Fit(factor, frozenset(left_out), rate)


def facts_of_fit(fit: Fit, names: Mapping[int, str], rows: int, limit: int) -> list[LogFact]:
    """What was done to make it fit, in sentences."""
    made = []
    if fit.factor > 1:
        rates = (
            "" if fit.rate is None else f", from {fit.rate:.0f} to {fit.rate / fit.factor:.0f} rows a second"
        )
        made.append(
            LogFact(
                "thinned",
                f"one row of {fit.factor} was kept of {rows:,}{rates}, after a filter against aliasing "
                f"that takes rows as evenly spaced: the numbers would not fit into {limit // 1_000_000} MB "
                "otherwise",
                rows - -(-rows // fit.factor),
            )
        )
    if fit.left_out:
        told = ", ".join(f"'{names[number]}'" for number in sorted(fit.left_out)[:8])
        more = f" and {len(fit.left_out) - 8} more" if len(fit.left_out) > 8 else ""
        made.append(
            LogFact(
                "columns left out",
                f"{len(fit.left_out)} columns were not read, they would not fit into {limit // 1_000_000} "
                f"MB: {told}{more}; name the columns wanted to have others",
                len(fit.left_out),
            )
        )
    return made
