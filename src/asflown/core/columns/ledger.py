"""What speaks for each column being each signal, and for each unit, with the reasons."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field

from asflown.core.layout import Doubt

#: What a unit stated by a header or name is worth, log odds.
STATED_UNIT = 6.0
#: Weights are natural log odds against "something else"; what counts as settled, and as at least a guess.
SETTLED = 2.0


@dataclass
class Ledger:
    """Weights by column and signal, and by column, kind and unit.

    Filled by the modules that look at names and at data, then read by :mod:`asflown.core.columns.settle`.
    """

    weights: dict[tuple[int, str], float] = field(default_factory=lambda: defaultdict(float))
    reasons: dict[tuple[int, str], list[str]] = field(default_factory=lambda: defaultdict(list))
    by_name: set[tuple[int, str]] = field(default_factory=set)
    by_data: set[tuple[int, str]] = field(default_factory=set)
    units: dict[tuple[int, str], dict[str, float]] = field(default_factory=lambda: defaultdict(dict))
    unit_reasons: dict[tuple[int, str, str], list[str]] = field(default_factory=lambda: defaultdict(list))
    stated: dict[tuple[int, str], str] = field(default_factory=dict)
    speed_commands: dict[int, str] = field(default_factory=dict)
    signs: dict[tuple[int, str], str] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=list)

    def name(self, column: int, signal: str, weight: float, reason: str) -> None:
        """The name speaks for a signal."""
        self.weights[column, signal] += weight
        self.by_name.add((column, signal))
        self._say(self.reasons[column, signal], reason)

    def data(self, column: int, signal: str, weight: float, reason: str = "") -> None:
        """The data speak for (or, with a negative weight, against) a signal."""
        self.weights[column, signal] += weight
        if weight > 0:
            self.by_data.add((column, signal))
        self._say(self.reasons[column, signal], reason)

    def unit(self, column: int, family: str, unit: str, weight: float, reason: str = "") -> None:
        """Something speaks for a unit of a column, were it of that family."""
        table = self.units[column, family]
        table[unit] = table.get(unit, 0.0) + weight
        self._say(self.unit_reasons[column, family, unit], reason)

    def doubt(self, doubt: Doubt) -> None:
        """Ask a question once."""
        if all(known.subject != doubt.subject or known.question != doubt.question for known in self.doubts):
            self.doubts.append(doubt)

    def readings(self) -> dict[int, str]:
        """What most speaks for, by column."""
        best: dict[int, tuple[float, str]] = {}
        for (place, name), weight in self.weights.items():
            if weight > best.get(place, (0.0, ""))[0]:
                best[place] = (weight, name)
        return {place: name for place, (_, name) in sorted(best.items())}

    def best_unit(self, column: int, family: str) -> tuple[str, float] | None:
        """The unit with most for it and its lead over the next."""
        table = self.units.get((column, family))
        if not table:
            return None
        ranked = sorted(table.items(), key=lambda item: -item[1])
        lead = ranked[0][1] - ranked[1][1] if len(ranked) > 1 else ranked[0][1] + 3.0
        return ranked[0][0], lead

    @staticmethod
    def _say(said: list[str], reason: str) -> None:
        if reason and reason not in said:
            said.append(reason)


def share(weight: float) -> float:
    """A log odds as a share of certainty, 0 to 1."""
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, weight))))
