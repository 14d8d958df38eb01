"""What a record's settings amount to in the rate loop, and what another record's change in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.compare import record_meant
from asflown.app.needs import Store
from asflown.core.signals import AXES
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared
    from asflown.core.behaviour.amounts import Amounts, Change
    from asflown.core.record import Record

#: Hz at which controllers are compared where nobody measured a crossover. Common practice, no source.
USUAL_CROSSOVER = 10.0


@dataclass(frozen=True)
class Shown:
    """What one record's settings amount to; an axis is in ``axes`` or in ``reasons``."""

    record: Record
    release: str | None
    axes: Mapping[str, Amounts]
    reasons: Mapping[str, str]


@dataclass(frozen=True)
class Compared:
    """What changes from one record's controller to another's.

    Attributes
    ----------
    releases
        Of the first and the second record.
    axes, reasons
        An axis is in one of them.
    measured
        By axis, the flight whose crossover is taken; an axis that is not in it is compared at a stated or
        usual frequency.
    is_stated
        Whether the frequency was stated.
    """

    first: Record
    second: Record
    releases: tuple[str | None, str | None]
    axes: Mapping[str, Change]
    reasons: Mapping[str, str]
    measured: Mapping[str, str]
    is_stated: bool = False

    @property
    def is_same(self) -> bool:
        """Whether every axis is known and nothing changes in any."""
        return not self.reasons and all(change.is_none for change in self.axes.values())


def behaviour_of(store: Store, said: str) -> Shown:
    """The controllers of a record, or of the newest record of an aircraft.

    Raises
    ------
    UsageError
        When there is no such record.
    """
    from asflown.core.behaviour.amounts import amounts

    record = record_meant(store, said)
    declared = _declared(store, record)
    made = {axis: amounts(controller) for axis, controller in declared.controllers.items()}
    return Shown(record, declared.release, made, declared.reasons)


def compare_behaviour(store: Store, first: str, second: str, *, at: float | None = None) -> Compared:
    """The controllers of two records side by side.

    Parameters
    ----------
    at
        Hz, where firmness and delay are compared; where not given, each axis' crossover as last measured in
        a flight of the first record's aircraft, else `USUAL_CROSSOVER`.

    Raises
    ------
    UsageError
        When there is no such record, or no controller answers at that frequency.
    """
    from asflown.core.behaviour.amounts import amounts, change

    one, other = record_meant(store, first), record_meant(store, second)
    before, after = _declared(store, one), _declared(store, other)
    crossings = {} if at is not None else _crossings(store, one.aircraft)
    changes: dict[str, Change] = {}
    reasons: dict[str, str] = {}
    measured: dict[str, str] = {}
    for axis in AXES:
        told = before.reasons.get(axis) or after.reasons.get(axis)
        if told is not None:
            reasons[axis] = told
            continue
        silent = [
            record.id
            for record, declared in ((one, before), (other, after))
            if amounts(declared.controllers[axis]).noise == 0.0
        ]
        if silent:
            reasons[axis] = f"with the settings of {' and '.join(silent)} it does not answer the rate at all"
            continue
        frequency, flight = crossings.get(axis, (USUAL_CROSSOVER if at is None else at, None))
        try:
            changes[axis] = change(before.controllers[axis], after.controllers[axis], at=frequency)
        except ValueError as error:
            raise UsageError(f"{axis}: {error}", next_step="say another: --at HZ") from error
        if flight is not None:
            measured[axis] = flight
    return Compared(one, other, (before.release, after.release), changes, reasons, measured, at is not None)


def _declared(store: Store, record: Record) -> Declared:
    from asflown.app.flights.known import declared_controllers

    return declared_controllers(store, record.aircraft, record=record.id)


def _crossings(store: Store, aircraft: str) -> dict[str, tuple[float, str]]:
    """By axis, the crossover (Hz) that was measured last, and in which flight."""
    from asflown.app.flights.keep import flights_of

    found: dict[str, tuple[float, str]] = {}
    for flight in flights_of(store, aircraft):
        for one in flight.evidence:
            place = one.quantity.split(".")
            if place[0] == "axes" and place[2:] == ["crossover"] and one.value is not None:
                found[place[1]] = (one.value, flight.id)
    return found
