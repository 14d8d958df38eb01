"""How many columns of a proposal are right, wrong, or left as a doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from made_up_logs import right_factor


@dataclass
class Count:
    """Columns of known meaning: right, signal right but unit wrong, wrong signal, left open; and of none: taken."""

    right: int = 0
    unit: int = 0
    signal: int = 0
    open: int = 0
    taken: int = 0
    total: int = 0

    def add(self, other: Count) -> None:
        for name in vars(self):
            setattr(self, name, getattr(self, name) + getattr(other, name))

    def line(self) -> str:
        return (
            f"{self.right}/{self.total} right ({self.right / self.total:.1%}), {self.unit} with a wrong unit, "
            f"{self.signal} wrong, {self.open} left open; {self.taken} of none taken"
        )


def score(header, layout, told=None) -> Count:
    by_column = {line.column: line for line in layout.assignments}
    count = Count()
    for signal, column, unit, _ in header:
        line = by_column.get(column)
        if signal.startswith("#"):
            count.taken += line is not None
            if line is not None and told is not None:
                told.append(f"taken {column} as {line.signal}")
            continue
        count.total += 1
        if line is None:
            count.open += 1
            what = "open"
        elif line.signal != signal:
            count.signal += 1
            what = f"as {line.signal}"
        elif signal.startswith("control") and line.factor == 1 and line.offset == 0:
            count.right += 1  # the scale of a controller output is its own
            continue
        elif line.unit != "words" and not _same(line, *right_factor(signal, unit)):
            count.unit += 1
            what = f"unit {line.unit} for {unit}"
        else:
            count.right += 1
            continue
        if told is not None:
            told.append(f"{column} ({signal}): {what}")
    return count


def _same(line, factor, offset) -> bool:
    return math.isclose(line.factor, factor, rel_tol=1e-6) and math.isclose(line.offset, offset, abs_tol=1e-6)
