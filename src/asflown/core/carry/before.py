"""What persons decided earlier between the same two releases, as it stands beside an open line."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

#: The word that chooses what was decided before, in one line or in a whole group.
AS_BEFORE = "as-before"


class Ended(StrEnum):
    """How the refit ended in which something was decided."""

    SIGNED = "signed off"
    OPEN = "still open"
    NOT_NOW = "put off"
    WENT_BACK = "went back"


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a decision comes from: for which aircraft, in which refit, by whom, when and why.

    Attributes
    ----------
    at
        ISO 8601 date and time.
    """

    aircraft: str
    refit: str
    who: str
    at: str
    reason: str
    ended: Ended = Ended.OPEN


@dataclass(frozen=True)
class Earlier:
    """One way that was decided earlier.

    Attributes
    ----------
    option
        The word of the same way on this line; ``None`` where it is not offered here.
    says
        What was decided, in words.
    doubt
        Why it is told but does not count; ``None`` where it counts.
    origins
        For whom, the latest last.
    """

    option: str | None
    says: str
    origins: tuple[Origin, ...]
    doubt: str | None = None

    @property
    def counts(self) -> bool:
        """Whether it speaks for this line."""
        return self.doubt is None and self.option is not None


@dataclass(frozen=True)
class Before:
    """What was decided earlier about the setting of an open line. It is offered, never taken by itself.

    Attributes
    ----------
    ways
        Every way decided earlier, those that count first.
    option
        The word of the way that all which count agree on; ``None`` where they disagree or none counts.
    typed
        The value typed then, where the agreed way is a typed value and the same value was found.
    together
        Identifier of the group it is decided in with other lines of one origin; empty: its own group.
    """

    ways: tuple[Earlier, ...]
    option: str | None = None
    typed: str | None = None
    together: str = ""

    @property
    def disagrees(self) -> bool:
        """Whether several ways count."""
        return sum(way.counts for way in self.ways) > 1

    @property
    def is_clear(self) -> bool:
        """Whether one way alone was ever decided, it counts, and it is a rule and no typed value."""
        return self.option is not None and len(self.ways) == 1 and self.typed is None

    @property
    def origins(self) -> tuple[Origin, ...]:
        """The origins of what counts."""
        return tuple(origin for way in self.ways if way.counts for origin in way.origins)

    @property
    def aircraft(self) -> tuple[str, ...]:
        """For which aircraft it was decided so, each once."""
        return tuple(dict.fromkeys(origin.aircraft for origin in self.origins))

    @property
    def offered_first(self) -> frozenset[str]:
        """Words of the options that count."""
        return frozenset(way.option for way in self.ways if way.counts and way.option)
