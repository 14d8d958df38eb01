"""Figures of a matcher against published truths: what the issue of the matcher asks for, and no more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from asflown.core.carry.matching.match import match
from asflown.core.carry.matching.model import Model
from asflown.core.catalog import Catalog, CatalogSource
from matcher.families import Case

#: Calibration is looked at above this confidence, in ten classes.
LOOKED_AT = 0.1


@dataclass(frozen=True)
class Answer:
    """What a matcher said of one old name that is scored and not in the new catalog under its own name.

    Attributes
    ----------
    truth
        The new name; ``None`` when retired.
    said
        The best candidate; ``None`` when it has none.
    is_claimed
        Whether it is claimed (zone apply or propose).
    """

    case: str
    family: str
    old: str
    truth: str | None
    word: str
    kind: str
    said: str | None
    confidence: float
    is_claimed: bool

    @property
    def is_right(self) -> bool:
        """Whether the best candidate is the true one."""
        return self.said is not None and self.said == self.truth


#: Answers with a matcher: (old name, best new name, confidence, claimed) for a case.
Says = Callable[[Case], Iterable[tuple[str, str, float, bool]]]


def answers(case: Case, says: Says) -> list[Answer]:
    """Every scored old name the new catalog has not, with what the matcher said."""
    said = {old: (new, sure, claimed) for old, new, sure, claimed in says(case)}
    there = {p.name for p in case.new}
    made = []
    for old, truth in case.truth.items():
        if old in there and truth == old:
            continue
        new, sure, claimed = said.get(old, (None, 0.0, False))
        made.append(
            Answer(case.name, case.family, old, truth, case.classes[old], case.kinds[old], new, sure, claimed)
        )
    return made


def by_model(model: Model | None = None) -> Says:
    """What ``asflown match`` says, with the model given."""

    def says(case: Case) -> Iterable[tuple[str, str, float, bool]]:
        old, new = (Catalog(side, CatalogSource.STATED) for side in (case.old, case.new))
        for pair in match(old, new, model).pairs:
            yield pair.old, pair.new, pair.confidence, pair.is_claimed

    return says


@dataclass(frozen=True)
class Share:
    """A count of a count."""

    part: int
    whole: int

    @property
    def value(self) -> float:
        """The share; nan where there is nothing to count."""
        return self.part / self.whole if self.whole else float("nan")

    def interval(self) -> tuple[float, float]:
        """95 % interval (Wilson 1927)."""
        if not self.whole:
            return 0.0, 1.0
        z, n, p = 1.959963985, self.whole, self.value
        middle = p + z * z / (2 * n)
        half = z * ((p * (1 - p) + z * z / (4 * n)) / n) ** 0.5
        return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)

    def __str__(self) -> str:
        if not self.whole:
            return "none"
        low, high = self.interval()
        return f"{100 * self.value:.1f} % ({self.part}/{self.whole}; {100 * low:.0f}-{100 * high:.0f})"


@dataclass(frozen=True)
class Figures:
    """The figures of one matcher.

    Attributes
    ----------
    top, top_hard
        Renames (hard ones: kind real) whose best candidate is the true one.
    precision, recall, recall_hard
        Claims that are right; renames claimed rightly. A merge into a name that existed before counts as a
        claim, and its truth too.
    declared, vanished
        Published / unpublished retirements claimed as renamed.
    merges
        Merges whose best candidate is the true one.
    calibration
        Expected calibration error over best candidates above 0.1 (Naeini et al. 2015).
    """

    top: Share
    top_hard: Share
    precision: Share
    recall: Share
    recall_hard: Share
    declared: Share
    vanished: Share
    merges: Share
    calibration: float


def figures(said: Sequence[Answer]) -> Figures:
    """Figures over answers of any cases."""
    renames = [a for a in said if a.word == "rename"]
    hard = [a for a in renames if a.kind == "real"]
    merges = [a for a in said if a.word == "merge"]
    claims = [a for a in said if a.is_claimed]

    def retired(kind: str) -> Share:
        gone = [a for a in said if a.word == "retired" and a.kind == kind]
        return Share(sum(a.is_claimed for a in gone), len(gone))

    def right(part: Sequence[Answer]) -> Share:
        return Share(sum(a.is_right for a in part), len(part))

    def claimed(part: Sequence[Answer]) -> Share:
        return Share(sum(a.is_claimed and a.is_right for a in part), len(part))

    return Figures(
        right(renames),
        right(hard),
        right(claims),
        claimed(renames),
        claimed(hard),
        retired("declared"),
        retired("vanished"),
        right(merges),
        calibration_error(said),
    )


def calibration_error(said: Sequence[Answer]) -> float:
    """Mean distance of confidence and share of right ones over ten classes, weighted by their size."""
    looked = [a for a in said if a.confidence > LOOKED_AT]
    classes: dict[int, list[Answer]] = {}
    for answer in looked:
        classes.setdefault(min(9, int(answer.confidence * 10)), []).append(answer)
    apart = sum(abs(sum(a.confidence - a.is_right for a in part)) for part in classes.values())
    return apart / len(looked) if looked else float("nan")
