"""The test card: what to fly after a refit, how long, and how often, so that a verdict can be given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from asflown.app.judging.margins import Margins, seal
from asflown.app.judging.sides import Sides, refit_meant, sides_of
from asflown.app.workplace import Workplace
from asflown.core.verdict.estimate import of_flight
from asflown.core.verdict.flying import FlyingPlan, plan_flying
from asflown.core.verdict.margins import Margin
from asflown.errors import NeedsPerson


@dataclass(frozen=True)
class TestCard:
    """What to fly.

    Attributes
    ----------
    scatter
        As stated; ``None``: the priors, moderated by the flights.
    """

    sides: Sides
    plan: FlyingPlan
    margins: tuple[Margin, ...]
    sealed: Margins
    scatter: float | None


def make_card(
    work: Workplace,
    aircraft: str,
    *,
    stated: Mapping[str, float] | None = None,
    assumed: float = 0.1,
    scatter: float | None = None,
) -> TestCard:
    """Plan the flying from the baseline's own errors, and seal the margins.

    Parameters
    ----------
    assumed
        True difference that is allowed for, as a share of each margin (0.1: 1.5 % of 15 %).

    Raises
    ------
    NeedsPerson
        Without a refit or a baseline flight.
    """
    refit = refit_meant(work.store, aircraft)
    sides = sides_of(work.store, refit)
    if not sides.before:
        raise NeedsPerson(
            f"no flight with the settings of {refit.found} is kept: without a baseline there is no verdict",
            next_step=f"fly the old settings, then: asflown flight add LOG {aircraft} --before",
        )
    margins, kept = seal(work, sides, stated or {})
    flights = [of_flight(flight) for flight in sides.before]
    plan = plan_flying(flights, margins, assumed=assumed, scatter=scatter)
    return TestCard(sides, plan, margins, kept, scatter)
