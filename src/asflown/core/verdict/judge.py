"""The verdict: flies as before, differs, or not enough evidence; of each quantity and as a whole.

As a whole it flies as before when *every* quantity that is needed is within its margin: each is tested at 5
%, and no correction is wanted, since all must pass (intersection-union test: Berger, *Technometrics* 24(4),
1982, from memory). It differs when *any* is beyond its margin: here chance has many tries, so the p-values
are stepped down (Holm, *Scandinavian Journal of Statistics* 6(2), 1979, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from asflown.core.signals import AXES
from asflown.core.verdict.ahead import WANTED, Ahead, More, each_of, least
from asflown.core.verdict.estimate import FlightEstimates, common_route
from asflown.core.verdict.margins import DEFAULTS, Margin, Scale, Weight, margin_of, required
from asflown.core.verdict.paired import is_counted
from asflown.core.verdict.scatter import PRIOR_DOF, Scatter, scatter_of
from asflown.core.verdict.sides import mean_of, numbers_of, shared
from asflown.core.verdict.tost import LEVEL, Tested, stepped_down, tested, welch

_ITSELF = "the baseline flights differ among themselves"


class Outcome(StrEnum):
    """What can be said."""

    AS_BEFORE = "flies as before"
    DIFFERS = "differs"
    NOT_ENOUGH = "not enough evidence"


@dataclass(frozen=True)
class Judged:
    """One quantity.

    Attributes
    ----------
    before, after
        Means of the flights on either side, in the quantity's unit.
    test
        On the margin's scale; ``None`` with the ``reason``.
    scatter
        Between flights, as taken.
    route
        By which both sides were measured.
    variances
        On the margin's scale: of measuring before, of measuring after, of the scatter in both means.
    ahead
        What further flights after would bring; ``None``: they would not help.
    tests
        How many quantities were tested with it, which a call of different has to stand.
    is_paired
        Whether the errors are those of a comparison (:mod:`asflown.core.verdict.paired`); otherwise those of
        each flight's interval as it is shown.
    """

    quantity: str
    margin: Margin
    outcome: Outcome
    before: float | None = None
    after: float | None = None
    test: Tested | None = None
    scatter: Scatter | None = None
    route: str = ""
    reason: str | None = None
    variances: tuple[float, float, float] = (0.0, 0.0, 0.0)
    ahead: Ahead | None = None
    tests: int = 1
    is_paired: bool = False

    @property
    def more(self) -> More | None:
        """Further flights that would settle an open quantity in nine of ten, for the difference as seen.

        ``None`` where it is settled, or where no flying looked at would.
        """
        if self.outcome is not Outcome.NOT_ENOUGH or self.test is None or self.ahead is None:
            return None
        return least(self.ahead.settling(self.test.difference, LEVEL / self.tests) >= WANTED)

    @property
    def is_different(self) -> bool:
        """Whether it was called different."""
        return self.outcome is Outcome.DIFFERS

    @property
    def needed(self) -> bool:
        """Whether nothing flies as before without it."""
        measured = self.test is not None
        return self.margin.weight is Weight.REQUIRED or (
            measured and self.margin.weight is Weight.WHERE_MEASURED
        )


@dataclass(frozen=True)
class Verdict:
    """Of all quantities.

    Attributes
    ----------
    against_itself
        Before against before, where there are two flights or more: each against the rest. Of every quantity
        the split that is farthest apart, named in its ``reason``.
    missing
        What is needed, or what the baseline had, and could not be compared, with the reason.
    """

    outcome: Outcome
    quantities: tuple[Judged, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]
    against_itself: Verdict | None = None
    missing: tuple[str, ...] = field(default=())

    @property
    def different(self) -> tuple[Judged, ...]:
        """What is beyond its margin, the surest first."""
        found = [one for one in self.quantities if one.outcome is Outcome.DIFFERS and one.test]
        return tuple(sorted(found, key=lambda one: one.test.p_beyond if one.test else 1.0))

    @property
    def open(self) -> tuple[Judged, ...]:
        """What is needed and not told yet."""
        return tuple(one for one in self.quantities if one.needed and one.outcome is Outcome.NOT_ENOUGH)


def judge(
    before: Sequence[FlightEstimates],
    after: Sequence[FlightEstimates],
    margins: tuple[Margin, ...] = DEFAULTS,
    *,
    scatter: float | None = None,
    history: Sequence[Sequence[FlightEstimates]] = (),
    axes: Sequence[str] = AXES,
) -> Verdict:
    """Judge flights after a refit by flights before it.

    Parameters
    ----------
    before, after
        One flight or more on each side.
    scatter
        A factor on every margin's own prior of the scatter, taken as known exactly (0: none); ``None``: the
        priors, moderated by the flights of both sides and the history.
    history
        Further flights of the same aircraft, those of one set of settings together.
    axes
        That a verdict is wanted of: required figures of each must be there.

    Raises
    ------
    ValueError
        Without a flight on either side.
    """
    if not before or not after:
        raise ValueError("a verdict takes a flight before and a flight after")
    names = _names([*before, *after], margins, axes)
    judged = [_judged(name, before, after, margins, scatter, history) for name in names]
    judged = _called_different(judged)
    itself = _against_itself(before, margins, scatter, history)
    if itself is not None:
        judged = _without(judged, {one.quantity for one in itself.different})
    return Verdict(
        _whole(judged),
        tuple(judged),
        tuple(flight.id for flight in before),
        tuple(flight.id for flight in after),
        itself,
        tuple(f"{one.quantity}: {one.reason}" for one in judged if _is_missed(one, before)),
    )


def _against_itself(
    before: Sequence[FlightEstimates],
    margins: tuple[Margin, ...],
    scatter: float | None,
    history: Sequence[Sequence[FlightEstimates]],
) -> Verdict | None:
    """Each flight against the rest; p-values count for all splits and all quantities."""
    if len(before) < 2:
        return None
    # of two flights, the second against the first says the same
    places = range(len(before)) if len(before) > 2 else range(1)
    farthest: list[Judged] = []
    for name in _names(before, margins, ()):
        splits = []
        for place in places:
            rest = [*before[:place], *before[place + 1 :]]
            one = _judged(name, rest, [before[place]], margins, scatter, history)
            says = one.reason if one.test is None else f"{before[place].id} against the rest"
            splits.append(replace(one, reason=says, ahead=None))
        tested_ones = [one for one in splits if one.test is not None]
        if not tested_ones:
            farthest.append(splits[0])
            continue
        told = all(one.outcome is Outcome.AS_BEFORE for one in splits)
        one = min(tested_ones, key=lambda one: one.test.p_beyond if one.test else 1.0)
        farthest.append(replace(one, outcome=Outcome.AS_BEFORE if told else Outcome.NOT_ENOUGH))
    judged = _called_different(farthest, tries=len(places))
    ids = tuple(flight.id for flight in before)
    missing = tuple(f"{one.quantity}: {one.reason}" for one in judged if one.needed and one.test is None)
    return Verdict(_whole(judged), tuple(judged), ids, ids, missing=missing)


def _is_missed(one: Judged, before: Sequence[FlightEstimates]) -> bool:
    """Whether a quantity could not be compared though it is needed, or the baseline had it."""
    if one.test is not None:
        return False
    had = any(flight.of(one.quantity, route) for flight in before for route in flight.routes)
    return one.needed or (had and one.margin.weight is Weight.WHERE_MEASURED)


def _without(judged: list[Judged], unsure: set[str]) -> list[Judged]:
    """Nothing is called by a quantity in which the baseline differs from itself."""
    return [
        replace(one, outcome=Outcome.NOT_ENOUGH, reason=_ITSELF, ahead=None)
        if one.quantity in unsure
        else one
        for one in judged
    ]


def _names(flights: Sequence[FlightEstimates], margins: tuple[Margin, ...], axes: Sequence[str]) -> list[str]:
    """Every quantity that is required or that any flight speaks of, in the order of the margins."""
    found = dict.fromkeys(required(margins, axes))
    for flight in flights:
        found.update(dict.fromkeys(flight.names))
    places = {margin.quantity: place for place, margin in enumerate(margins)}
    known = [(margin_of(name, margins), name) for name in found]
    return [
        name for margin, name in sorted(known, key=lambda x: places[x[0].quantity] if x[0] else 0) if margin
    ]


def _judged(
    name: str,
    before: Sequence[FlightEstimates],
    after: Sequence[FlightEstimates],
    margins: tuple[Margin, ...],
    scatter: float | None,
    history: Sequence[Sequence[FlightEstimates]],
) -> Judged:
    margin = margin_of(name, margins)
    assert margin is not None
    route = common_route(before, after, name)
    if route is None:
        return Judged(name, margin, Outcome.NOT_ENOUGH, reason=_why_not(name, before, after))
    beside = shared(name, before, after)
    sides = [numbers_of(name, route, side, margin, beside) for side in (before, after)]
    if any(not (math.isfinite(one.value) and math.isfinite(one.error)) for side in sides for one in side):
        reason = "in a flight it, or an end of its interval, is at zero or below, where a ratio says nothing"
        return Judged(name, margin, Outcome.NOT_ENOUGH, route=route, reason=reason)
    past = [numbers_of(name, route, group, margin, shared(name, group, ())) for group in history]
    known = (
        scatter_of(margin.scatter, [*sides, *past], prior_dof=PRIOR_DOF)
        if scatter is None
        else scatter_of(margin.scatter * scatter, (), prior_dof=math.inf)
    )
    means, measuring, between = zip(*(mean_of(side, known.value) for side in sides), strict=True)
    dof = welch([(sum(measuring), math.inf), (sum(between), known.dof)])
    error = math.sqrt(sum(measuring) + sum(between))
    test = tested(means[1] - means[0], error, dof, margin.low, margin.high)
    outcome = Outcome.AS_BEFORE if test.p < LEVEL else Outcome.NOT_ENOUGH
    each = each_of(sides[1], after)
    values = [math.exp(mean) if margin.scale is Scale.RATIO else mean for mean in means]
    return Judged(
        name,
        margin,
        outcome,
        values[0],
        values[1],
        test,
        known,
        route,
        variances=(measuring[0], measuring[1], sum(between)),
        ahead=Ahead(margin, known, (measuring[0], between[0]), each, (measuring[1], between[1])),
        is_paired=beside is not None and is_counted(name, route),
    )


def _why_not(name: str, before: Sequence[FlightEstimates], after: Sequence[FlightEstimates]) -> str:
    for word, flights in (("before", before), ("after", after)):
        for flight in flights:
            if all(flight.of(name, route) is None for route in flight.routes):
                return f"not measured {word} ({flight.id}): {flight.reasons.get(name, 'the flight lacks it')}"
    return "measured by another route before than after; measure both with the same settings declared"


def _called_different(judged: list[Judged], tries: int = 1) -> list[Judged]:
    """Those beyond their margins, by p-values stepped down over all that were tested."""
    places = [place for place, one in enumerate(judged) if one.test is not None]
    ps = [min(1.0, tries * one.test.p_beyond) for one in judged if one.test is not None]
    called = {places[number] for number in stepped_down(ps)}
    return [
        replace(
            one,
            outcome=Outcome.DIFFERS if place in called else one.outcome,
            tests=max(1, len(places)),
        )
        for place, one in enumerate(judged)
    ]


def _whole(judged: Iterable[Judged]) -> Outcome:
    judged = list(judged)
    if any(one.outcome is Outcome.DIFFERS for one in judged):
        return Outcome.DIFFERS
    needed = [one for one in judged if one.needed]
    if needed and all(one.outcome is Outcome.AS_BEFORE for one in needed):
        return Outcome.AS_BEFORE
    return Outcome.NOT_ENOUGH


def by_axis(verdict: Verdict) -> Mapping[str, tuple[Judged, ...]]:
    """Judged quantities by axis; those of no axis under an empty name."""
    made: dict[str, list[Judged]] = {}
    for one in verdict.quantities:
        parts = one.quantity.split(".")
        made.setdefault(parts[1] if parts[0] == "axes" else "", []).append(one)
    return {axis: tuple(rows) for axis, rows in made.items()}
