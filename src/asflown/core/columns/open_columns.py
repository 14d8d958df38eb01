"""Columns that their names leave open, to be looked at by their data alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.columns.ledger import Ledger
from asflown.core.columns.names import NameReading
from asflown.core.columns.sample import Sample
from asflown.core.columns.spectra import Together
from asflown.core.log_table import Column

#: A name that says this much settles what a column is, whatever the data.
SAID = 3.0


@dataclass(frozen=True, eq=False)
class Scene:
    """What the looks at the data share.

    Attributes
    ----------
    undecided
        Places of numeric columns that no name settles and that are not the time.
    """

    ledger: Ledger
    columns: Sequence[Column]
    readings: Sequence[NameReading]
    sample: Sample
    tied: Together | None
    undecided: frozenset[int]

    def at(self, place: int) -> int:
        """Where an undecided or named numeric column stands in the sample."""
        found = self.sample.at(place)
        if found is None:
            raise ValueError(f"column {place} is not numeric")
        return found

    def name(self, place: int) -> str:
        """Header name of a column."""
        return self.columns[place].name

    def named(self, family: str) -> dict[int, str]:
        """Numeric columns that are settled to be of a family, with that reading."""
        return {
            place: name
            for place, name in self.ledger.readings().items()
            if self.ledger.weights[place, name] >= 2.0
            and name.partition(".")[0] == family
            and self.sample.at(place) is not None
        }

    def still_open(self) -> list[int]:
        """Undecided columns that nothing speaks for by now, in file order."""
        told = {c for (c, _), weight in self.ledger.weights.items() if weight >= 2.0}
        return [place for place in sorted(self.undecided) if place not in told]


def scene(
    ledger: Ledger,
    columns: Sequence[Column],
    readings: Sequence[NameReading],
    sample: Sample,
    tied: Together | None,
) -> Scene:
    """Find the undecided columns."""
    undecided = set()
    for place in map(int, sample.places):
        said = max((w for (c, _), w in ledger.weights.items() if c == place), default=0.0)
        other = max((w for f, w in readings[place].votes.items() if f.startswith("other:")), default=0.0)
        varies = sample.deviation[sample.at(place)] > 0
        if max(said, other) < SAID and varies:
            undecided.add(place)
    return Scene(ledger, columns, readings, sample, tied, frozenset(undecided))
