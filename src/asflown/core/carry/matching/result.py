"""What matching says: for each old name its likeliest successor, how sure, and why."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from asflown.core.carry.meaning import Meaning
from asflown.core.catalog import Consequence

#: A successor is claimed from this confidence on; without a consequence it is applied from the second.
PROPOSE_FROM, APPLY_FROM = 0.6, 0.97


class Zone(StrEnum):
    """What may be done with a pair.

    ``apply``: certain enough, and without a consequence for the aircraft; ``propose``: to be confirmed by
    a person; ``unknown``: not sure enough to propose, the old name counts as retired.
    """

    APPLY = "apply"
    PROPOSE = "propose"
    UNKNOWN = "unknown"


class PairKind(StrEnum):
    """How an old name stands to a new one."""

    SAME = "same"
    RENAME = "rename"
    SPLIT = "split"
    MERGE = "merge"


@dataclass(frozen=True)
class Pair:
    """The likeliest successor of one old name.

    Attributes
    ----------
    confidence
        Calibrated probability, 0 to 1, that ``new`` is what became of ``old``.
    reasons
        In words, one a feature.
    runner_up
        The next best new name and its confidence.
    meaning
        Whether both definitions mean the same, or what differs.
    default_shift
        Factory value before and now, where both are stated and differ.
    consequence
        The worst that either catalog states; unknown where neither does.
    others
        In a split the further new names; in a merge the further old ones.
    changed
        What of type, unit and range the catalogs state differently, or only one of them states.
    """

    old: str
    new: str
    kind: PairKind
    confidence: float
    zone: Zone
    reasons: tuple[str, ...]
    meaning: Meaning
    runner_up: tuple[str, float] | None = None
    default_shift: tuple[str, str] | None = None
    consequence: Consequence = Consequence.UNKNOWN
    others: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()

    @property
    def is_claimed(self) -> bool:
        """Whether a successor is claimed at all."""
        return self.zone is not Zone.UNKNOWN


@dataclass(frozen=True)
class Matching:
    """What became of every parameter.

    Attributes
    ----------
    pairs
        In the old catalog's order; identical names included; an old name that nothing resembles has none.
    retired
        Old names without a pair, or whose pair is in zone unknown, in the old catalog's order.
    new
        New names that no claimed pair leads to, in the new catalog's order.
    """

    pairs: tuple[Pair, ...]
    retired: tuple[str, ...]
    new: tuple[str, ...]
