"""The flights before and after a refit, told apart by the settings they were flown with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.app import kept
from asflown.app.flights.keep import counted_flights, flights_of
from asflown.app.needs import Store
from asflown.app.predict import is_before
from asflown.core.refit import Refit
from asflown.core.study.kept import FlightEvidence
from asflown.errors import NeedsPerson


@dataclass(frozen=True)
class Sides:
    """Flights of one aircraft around a refit, oldest first.

    Attributes
    ----------
    others
        With other settings: they tell how much flights scatter, those of one record together.
    unknown
        Of which nobody said with which settings they were flown.
    aside
        That a person set aside; they are in none of the others.
    """

    refit: Refit
    before: tuple[FlightEvidence, ...]
    after: tuple[FlightEvidence, ...]
    others: tuple[tuple[FlightEvidence, ...], ...]
    unknown: tuple[FlightEvidence, ...]
    aside: tuple[FlightEvidence, ...] = ()


def refit_meant(store: Store, aircraft: str) -> Refit:
    """The open refit, or the one that ended last.

    Raises
    ------
    NeedsPerson
        When the aircraft never had one.
    """
    found = kept.open_refit(store, aircraft)
    if found is not None:
        return found.refit
    every = [one.refit for one in kept.refits(store, aircraft) if one.refit.device == "board"]
    if not every:
        raise NeedsPerson(
            f"{aircraft} has had no refit: there is nothing to judge flights by",
            next_step=f"plan one: asflown plan {aircraft} --to RELEASE",
        )
    return every[-1]


def sides_of(store: Store, refit: Refit) -> Sides:
    """Every flight of the refit's aircraft, by the settings it was flown with."""
    before, after, unknown = [], [], []
    others: dict[str, list[FlightEvidence]] = {}
    for flight in counted_flights(store, refit.aircraft):
        if refit.as_left is not None and flight.record == refit.as_left:
            after.append(flight)
        elif is_before(store, flight, refit):
            before.append(flight)
        elif flight.record is None:
            unknown.append(flight)
        else:
            others.setdefault(flight.record, []).append(flight)
    groups = tuple(tuple(group) for group in others.values() if len(group) > 1)
    aside = tuple(flight for flight in flights_of(store, refit.aircraft) if flight.aside)
    return Sides(refit, tuple(before), tuple(after), groups, tuple(unknown), aside)


def span_of(flights: Sequence[FlightEvidence]) -> float:
    """Seconds flown in all."""
    return sum(flight.span[1] - flight.span[0] for flight in flights)


def record_of_side(store: Store, aircraft: str, *, after: bool) -> str:
    """The record of the settings that a flight before, or after, was flown with.

    Raises
    ------
    NeedsPerson
        When there is no such record yet.
    """
    described = kept.aircraft(store, aircraft)
    if not after:
        refits = kept.refits(store, described.id)
        open_one = kept.open_refit(store, described.id)
        last = open_one or (refits[-1] if refits else None)
        if last is not None and last.refit.as_left is None:
            return last.refit.found
        if last is not None and not last.refit.state.is_closed:
            return last.refit.found
        newest = kept.latest_record(store, described.id)
        if newest is None:
            raise NeedsPerson(
                f"{aircraft} has no record: nobody would know which settings flew",
                next_step=f"keep one: asflown found LISTING --aircraft {aircraft}",
            )
        return newest.id
    refit = refit_meant(store, described.id)
    if refit.as_left is None:
        raise NeedsPerson(
            f"{refit.id} has no record as left: nobody would know which settings flew",
            next_step=f"read the aircraft back: asflown readback LISTING --aircraft {aircraft}",
        )
    return refit.as_left
