"""The settings an aircraft will have after its open refit, and the controllers they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asflown.app import kept, plans
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.core import roles
from asflown.core.carry.dispositions import Cause, Line
from asflown.core.catalog import Catalog
from asflown.core.plan import Plan
from asflown.core.record import Key, Record
from asflown.core.refit import Refit

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared


#: Word of the way to leave a held line as it was planned.
AS_PLANNED = "planned"


@dataclass(frozen=True)
class Planned:
    """What a plan leaves on the aircraft.

    Attributes
    ----------
    values
        Every setting with a value: planned, or the new release's factory value where no line speaks of it.
    open
        Settings that wait for a decision, and those the device makes itself: they have no value yet.
    """

    release: str
    values: Mapping[Key, str]
    open: frozenset[Key]
    read: roles.RoleValues
    catalog: Catalog


def as_planned(line: Line) -> Line:
    """A line that only waits for the prediction's sake as it was planned; others as they are."""
    if line.cause is not Cause.PREDICTED or not line.is_open:
        return line
    option = next(option for option in line.options if option.id == AS_PLANNED)
    return replace(line, disposition=option.disposition, new=option.new)


def planned_settings(
    store: Store, refit: Refit, plan: Plan | None = None, *, sure: bool = False
) -> Planned | None:
    """The settings after a refit, by key and by role; ``None`` where the new release has no catalog.

    Parameters
    ----------
    plan
        Decisions applied; the refit's standing one when not given.
    sure
        Whether a setting that an open decision may still give another value counts as open, whatever it
        has so far.
    """
    plan = plan or plans.standing(store, refit)
    catalog = catalog_of(store, refit.to_release)
    if plan is None or catalog is None:
        return None
    found = kept.record(store, refit.source or refit.found)
    return of_plan(plan, catalog, found, sure=sure)


def of_plan(plan: Plan, catalog: Catalog, found: Record, *, sure: bool = False) -> Planned:
    """The settings that a plan leaves, under the new release's catalog, with the banks in use as found.

    Parameters
    ----------
    sure
        As for `planned_settings`.
    """
    values: dict[Key, str] = {}
    waiting: set[Key] = set()
    for held in plan.lines:
        line = as_planned(held)
        lefts = [*line.new, *(item for option in line.options for item in option.new)]
        if line.is_open:
            waiting |= {item.key for item in lefts}
            continue
        for item in line.new:
            if item.value is None:
                waiting.add(item.key)
            else:
                values[item.key] = item.value
    for parameter in catalog.parameters:
        for key in parameter.keys():
            factory = catalog.factory_value(key)
            if key not in values and key not in waiting and factory is not None:
                values[key] = factory
    if sure:
        values = {key: value for key, value in values.items() if key not in waiting}
    still = frozenset(waiting - values.keys())
    banks = tuple(roles.active_banks(found, catalog))
    return Planned(
        plan.to_release, values, still, roles.values_by_role(values, catalog, banks=banks), catalog
    )


def planned_controllers(
    store: Store, refit: Refit, plan: Plan | None = None, *, sure: bool = False
) -> Declared:
    """The controllers of an aircraft's axes after its refit, or why they are not known.

    Parameters
    ----------
    plan, sure
        As for `planned_settings`.
    """
    from asflown.app.flights.known import Declared, controllers_of, not_known

    release = refit.to_release
    kept_release = kept.release_with_document(store, release)
    structures = kept_release[0].control if kept_release else None
    if not structures:
        return not_known(f"{release} declares no control structure (control.toml)", release=release)
    planned = planned_settings(store, refit, plan, sure=sure)
    if planned is None:
        return not_known(f"{release} has no catalog that says what the settings mean", release=release)
    made = controllers_of(structures, planned.read, f"the plan of {refit.id}", release)
    reasons = {axis: with_open(reason, planned) for axis, reason in made.reasons.items()}
    return Declared(made.controllers, reasons, None, release)


def with_open(reason: str, planned: Planned) -> str:
    """The reason why something is not known, with what of it is still to be decided."""
    by_name = planned.catalog.by_name
    names = sorted(
        {
            str(key)
            for key in planned.open
            if (parameter := by_name.get(key.name)) and parameter.role and parameter.role in reason
        }
    )
    return f"{reason}; still to decide: {', '.join(names)}" if names else reason
