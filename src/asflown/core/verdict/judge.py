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
from asflown.core.verdict.estimate import FlightEstimates, common_route
from asflown.core.verdict.margins import DEFAULTS, Margin, Scale, Weight, margin_of
from asflown.core.verdict.scatter import PRIOR_DOF, Scatter, scatter_of
from asflown.core.verdict.sides import mean_of, numbers_of
from asflown.core.verdict.tost import Tested, tested, welch

#: Chance of a wrong call that is allowed, of each side.
LEVEL = 0.05


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
        Before against before, where there are two flights or more: the first against the rest.
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
    itself = None
    if len(before) > 1:
        itself = judge(before[:1], before[1:], margins, scatter=scatter, history=history, axes=axes)
    judged = _called_different(judged)
    if itself is not None:
        judged = _without(judged, {one.quantity for one in itself.different})
    return Verdict(
        _whole(judged),
        tuple(judged),
        tuple(flight.id for flight in before),
        tuple(flight.id for flight in after),
        itself,
        tuple(
            f"{one.quantity}: {one.reason}" for one in judged if one.test is None and _is_missed(one, before)
        ),
    )


def _is_missed(one: Judged, before: Sequence[FlightEstimates]) -> bool:
    """Whether a quantity could not be compared though it is needed, or the baseline had it."""
    if one.test is not None:
        return False
    had = any(flight.of(one.quantity, route) for flight in before for route in flight.routes)
    return one.needed or (had and one.margin.weight is Weight.WHERE_MEASURED)


def _without(judged: list[Judged], unsure: set[str]) -> list[Judged]:
    """Nothing is called by a quantity in which the baseline differs from itself."""
    reason = "the baseline's flights differ among themselves"
    return [
        replace(one, outcome=Outcome.NOT_ENOUGH, reason=reason) if one.quantity in unsure else one
        for one in judged
    ]


def _names(flights: Sequence[FlightEstimates], margins: tuple[Margin, ...], axes: Sequence[str]) -> list[str]:
    """Every quantity that is required or that any flight speaks of, in the order of the margins."""
    found: dict[str, None] = {}
    for margin in margins:
        if margin.weight is Weight.REQUIRED:
            found.update({margin.quantity.replace("{axis}", axis): None for axis in axes})
    for flight in flights:
        for route in flight.routes.values():
            found.update(dict.fromkeys(route))
        found.update(dict.fromkeys(flight.reasons))
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
    sides = [numbers_of(name, route, side, margin) for side in (before, after)]
    if any(not math.isfinite(x) for side in sides for pair in side for x in pair):
        reason = "it is at zero or below in a flight, where a ratio says nothing"
        return Judged(name, margin, Outcome.NOT_ENOUGH, route=route, reason=reason)
    past = [
        numbers_of(name, route, [one for one in group if one.of(name, route)], margin) for group in history
    ]
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
    )


def _why_not(name: str, before: Sequence[FlightEstimates], after: Sequence[FlightEstimates]) -> str:
    for word, flights in (("before", before), ("after", after)):
        for flight in flights:
            if all(flight.of(name, route) is None for route in flight.routes):
                return f"not measured {word} ({flight.id}): {flight.reasons.get(name, 'the flight lacks it')}"
    return "measured by another route before than after; measure both with the same settings declared"


def _called_different(judged: list[Judged]) -> list[Judged]:
    """Those beyond their margins, by p-values stepped down over all that were tested."""
    tests = [(one.test.p_beyond, place) for place, one in enumerate(judged) if one.test is not None]
    made = list(judged)
    for rank, (p, place) in enumerate(sorted(tests)):
        if p * (len(tests) - rank) >= LEVEL:
            break
        made[place] = replace(made[place], outcome=Outcome.DIFFERS)
    return made


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
