"""What a record's settings amount to, and what another record's, or a refit's plan, change in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app.behaviour_sides import Side, open_plan, side_meant
from asflown.app.needs import Store
from asflown.core.signals import AXES
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.core.behaviour.amounts import Amounts, Change
    from asflown.core.behaviour.stick_shape import StickChange
    from asflown.core.statements.statements import Statement, StatementChange

#: Hz at which controllers are compared where nobody measured a crossover. Common practice, no source.
USUAL_CROSSOVER = 10.0


@dataclass(frozen=True)
class Shown:
    """What settings amount to; an axis is in ``axes`` or in ``reasons``.

    Attributes
    ----------
    statements
        On losing the radio, arming, disarming and the battery; what is not stated last.
    """

    side: Side
    axes: Mapping[str, Amounts]
    reasons: Mapping[str, str]
    statements: tuple[Statement, ...]


@dataclass(frozen=True)
class Compared:
    """What changes from one set of settings to another.

    Attributes
    ----------
    axes, reasons
        Of the controllers; an axis is in one of them.
    measured
        By axis, the flight whose crossover is taken; an axis that is not in it is compared at a stated or
        usual frequency.
    sticks, stick_reasons
        Of the stick's curves; an axis is in one of them.
    statements
        What changes first.
    is_stated
        Whether the frequency was stated.
    """

    first: Side
    second: Side
    axes: Mapping[str, Change]
    reasons: Mapping[str, str]
    measured: Mapping[str, str]
    sticks: Mapping[str, StickChange]
    stick_reasons: Mapping[str, str]
    statements: tuple[StatementChange, ...]
    is_stated: bool = False

    @property
    def is_same(self) -> bool:
        """Whether every axis is known, and nothing that either side states changes or is missing."""
        if self.reasons or not all(change.is_none for change in self.axes.values()):
            return False
        if not all(change.is_none for change in self.sticks.values()):
            return False
        if self.stick_reasons and (self.first.sticks.is_declared or self.second.sticks.is_declared):
            return False
        return all(change.is_unchanged for change in self.statements)

    @property
    def is_known(self) -> bool:
        """Whether anything is known on both sides."""
        both = any(change.before.is_stated and change.after.is_stated for change in self.statements)
        return bool(self.axes or self.sticks or both)


def behaviour_of(store: Store, said: str) -> Shown:
    """What the settings of a record, the newest record of an aircraft, or a refit's plan amount to.

    Raises
    ------
    UsageError
        When it names none of these.
    """
    from asflown.core.behaviour.amounts import amounts
    from asflown.core.statements.statements import of_one

    side = side_meant(store, said)
    made = {axis: amounts(controller) for axis, controller in side.controllers.items()}
    return Shown(side, made, side.reasons, of_one(side.statements))


def compare_behaviour(
    store: Store, first: str, second: str | None = None, *, plan: bool = False, at: float | None = None
) -> Compared:
    """Two sets of settings side by side, each a record, an aircraft's newest record or a refit's plan.

    Parameters
    ----------
    plan
        Compare the aircraft ``first`` as found with the plan of its open refit; then there is no second.
    at
        Hz, where firmness and delay are compared; where not given, each axis' crossover as last measured in
        a flight of the first record's aircraft, else `USUAL_CROSSOVER`.

    Raises
    ------
    UsageError
        When there is no such record, aircraft or refit, no refit is open, one side is missing or there is
        one too many, or no controller answers at that frequency.
    """
    if plan == (second is not None):
        raise UsageError(
            "with --plan no second is named" if plan else "two are compared, and the second is missing",
            next_step=f"asflown behaviour compare {first} RECORD, or with its open refit's plan:"
            " asflown behaviour compare AIRCRAFT --plan",
        )
    if second is None:
        found, planned = open_plan(store, first)
        return _compared(store, side_meant(store, found), planned, at)
    return _compared(store, side_meant(store, first), side_meant(store, second), at)


def _compared(store: Store, one: Side, other: Side, at: float | None) -> Compared:
    from asflown.core.statements.statements import compared

    axes, reasons, measured = _controllers(store, one, other, at)
    sticks, stick_reasons = _sticks(one, other)
    stated = compared(one.statements, other.statements)
    return Compared(one, other, axes, reasons, measured, sticks, stick_reasons, stated, at is not None)


def _controllers(
    store: Store, one: Side, other: Side, at: float | None
) -> tuple[dict[str, Change], dict[str, str], dict[str, str]]:
    """By axis the change, or why there is none, and in which flight its crossover was measured."""
    from asflown.core.behaviour.amounts import amounts, change

    crossings = {} if at is not None else _crossings(store, one.aircraft)
    changes: dict[str, Change] = {}
    reasons: dict[str, str] = {}
    measured: dict[str, str] = {}
    for axis in AXES:
        told = one.reasons.get(axis) or other.reasons.get(axis)
        if told is not None:
            reasons[axis] = told
            continue
        silent = [side.called for side in (one, other) if amounts(side.controllers[axis]).noise == 0.0]
        if silent:
            reasons[axis] = f"with the settings of {' and '.join(silent)} it does not answer the rate at all"
            continue
        frequency, flight = crossings.get(axis, (USUAL_CROSSOVER if at is None else at, None))
        try:
            changes[axis] = change(one.controllers[axis], other.controllers[axis], at=frequency)
        except ValueError as error:
            raise UsageError(f"{axis}: {error}", next_step="say another: --at HZ") from error
        if flight is not None:
            measured[axis] = flight
    return changes, reasons, measured


def _sticks(one: Side, other: Side) -> tuple[dict[str, StickChange], dict[str, str]]:
    from asflown.core.behaviour.stick_shape import stick_change

    changes: dict[str, StickChange] = {}
    reasons: dict[str, str] = {}
    for axis in AXES:
        why = [side.sticks.reasons[axis] for side in (one, other) if axis in side.sticks.reasons]
        if why:
            reasons[axis] = "; ".join(dict.fromkeys(why))
        else:
            changes[axis] = stick_change(one.sticks.curves[axis], other.sticks.curves[axis])
    return changes, reasons


def _crossings(store: Store, aircraft: str) -> dict[str, tuple[float, str]]:
    """By axis, the crossover (Hz) that was measured last, and in which flight."""
    from asflown.app.flights.keep import counted_flights

    found: dict[str, tuple[float, str]] = {}
    for flight in counted_flights(store, aircraft):
        for one in flight.evidence:
            place = one.quantity.split(".")
            if place[0] == "axes" and place[2:] == ["crossover"] and one.value is not None:
                found[place[1]] = (one.value, flight.id)
    return found
