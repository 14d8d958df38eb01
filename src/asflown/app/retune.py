"""Settings of the new release that keep the old answer: a proposal, never applied by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from asflown.app import kept, plans
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.app.planned import Planned, of_plan
from asflown.core import roles
from asflown.core.catalog import Catalog, ParameterDef
from asflown.core.record import Key
from asflown.core.values import number, plain_text, quantum, rounded
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.predict import Predicted
    from asflown.core.behaviour.predict.controls import Controls
    from asflown.core.behaviour.retune.knobs import Knob, Limits
    from asflown.core.behaviour.retune.loops import Loop
    from asflown.core.behaviour.retune.result import Retuned
    from asflown.core.control import ControlStructure
    from asflown.core.identified import Identified
    from asflown.core.plan import Plan
    from asflown.core.refit import Refit
    from asflown.core.study.kept import FlightEvidence


@dataclass(frozen=True, slots=True)
class Turned:
    """One setting of the proposal, as the device stores it."""

    key: Key
    role: str
    planned: str
    proposed: str
    unit: str | None


@dataclass(frozen=True)
class Proposal:
    """What a retune proposes.

    Attributes
    ----------
    settings
        Those that change, in the catalog's order.
    planned, proposed
        Predictions for the plan as it stands, and with the proposal.
    filters
        Whether cut-offs were turned too.
    """

    aircraft: str
    release: str
    retuned: Retuned
    settings: tuple[Turned, ...]
    planned: Predicted
    proposed: Predicted
    filters: bool


def retune_aircraft(
    store: Store, aircraft: str, *, flight: str | None = None, filters: bool = True
) -> Proposal:
    """Find the settings for an aircraft's open refit.

    Raises
    ------
    UsageError
        Without a baseline flight, an open refit, declared structures, or a setting that may be turned.
    """
    from asflown.app.predict import baseline_of

    described = kept.aircraft(store, aircraft)
    open_one = kept.open_refit(store, described.id)
    if open_one is None:
        raise UsageError(
            f"{aircraft} has no open refit; a retune is about the release it goes to",
            next_step=f"asflown plan {aircraft} --to RELEASE",
        )
    refit = open_one.refit
    plan = plans.standing(store, refit)
    if plan is None:
        raise UsageError(f"{refit.id} has no plan", next_step=f"make it: asflown plan {aircraft}")
    base = baseline_of(store, refit, flight)
    return retune_plan(store, refit, plan, base, filters=filters)


def retune_plan(
    store: Store, refit: Refit, plan: Plan, base: FlightEvidence, *, filters: bool = True
) -> Proposal:
    """Find the settings that keep the old answer under a plan; see :func:`retune_aircraft`."""
    from asflown.app.flights.known import controllers_of
    from asflown.app.predict import predicted, sides_of
    from asflown.core.behaviour.retune.knobs import knobs_of
    from asflown.core.behaviour.retune.retune import retune

    structures, planned = _release(store, refit, plan)
    after = controllers_of(structures, planned.read, f"the plan of {refit.id}", refit.to_release)
    now = predicted(store, base, after, f"the plan of {refit.id}")
    sides, reasons = sides_of(store, base, after)
    if not sides:
        why = "; ".join(dict.fromkeys(reasons.values()))
        raise UsageError(f"no axis can be retuned: {why}", next_step=f"see: asflown predict {refit.aircraft}")
    read = planned.read
    loops = {axis: loop_of(structures[axis], read, *side) for axis, side in sides.items()}
    limits = limits_of(planned.catalog)
    few = {axis: structures[axis] for axis in loops}
    knobs = knobs_of(few, read.values, read.stored, limits, filters=filters)
    if not knobs:
        raise UsageError(
            f"no setting of {refit.to_release} may be turned: its catalog gives roles to none of the gains",
            next_step="give the gains roles in the release's overlay",
        )
    found = retune(loops, knobs)
    settings = _settings(found, knobs, planned)
    values = {**planned.values, **{one.key: one.proposed for one in settings}}
    banks = _banks(store, refit, planned.catalog)
    again = roles.values_by_role(values, planned.catalog, banks=banks)
    called = f"the plan of {refit.id}, retuned"
    then = predicted(store, base, controllers_of(structures, again, called, refit.to_release), called)
    return Proposal(refit.aircraft, refit.to_release, found, settings, now, then, filters)


def _release(store: Store, refit: Refit, plan: Plan) -> tuple[Mapping[str, ControlStructure], Planned]:
    kept_release = kept.release_with_document(store, refit.to_release)
    structures = kept_release[0].control if kept_release else None
    catalog = catalog_of(store, refit.to_release)
    if not structures or catalog is None:
        lacks = "control structure (control.toml)" if catalog is not None else "catalog"
        raise UsageError(
            f"{refit.to_release} has no {lacks}: its gains cannot be computed with",
            next_step="complete the release's folder and bring it again: asflown release add FOLDER",
        )
    return structures, of_plan(plan, catalog, kept.record(store, refit.source or refit.found))


def _banks(store: Store, refit: Refit, catalog: Catalog) -> tuple[str, ...]:
    return tuple(roles.active_banks(kept.record(store, refit.source or refit.found), catalog))


def loop_of(
    structure: ControlStructure, read: roles.RoleValues, found: Identified, was: Controls, now: Controls
) -> Loop:
    """A loop that is to keep what an axis did before; see :func:`asflown.app.predict.sides_of`."""
    from asflown.core.behaviour.predict.plants import later, plants
    from asflown.core.behaviour.retune.loops import GRID, Loop, target_of, target_of_log

    assert now.declared is not None
    before = plants(found, GRID)[0]
    after = plants(found, GRID, replace(later(was, now), spread=0.0))[0]
    if was.declared is not None:
        target = target_of(before, after, was.declared)
    else:
        target = target_of_log(before, after, *(side[0] for side in was.drawn(GRID)))
    return Loop(structure, read.values, read.stored, now.declared.scale, target)


def limits_of(catalog: Catalog) -> dict[str, Limits]:
    """Range and step of every parameter with a role and a factor, in the role's unit."""
    from asflown.core.behaviour.retune.knobs import Limits

    made: dict[str, Limits] = {}
    for parameter in catalog.parameters:
        factor = roles.factor_of(parameter) if parameter.role else None
        if parameter.role is None or factor is None or factor <= 0 or parameter.read_only:
            continue
        step = quantum(parameter)
        made[parameter.role] = Limits(
            0.0 if parameter.minimum is None else max(0.0, float(parameter.minimum) * float(factor)),
            float("inf") if parameter.maximum is None else float(parameter.maximum) * float(factor),
            0.0 if step is None else float(step) * float(factor),
        )
    return made


def _settings(found: Retuned, knobs: tuple[Knob, ...], planned: Planned) -> tuple[Turned, ...]:
    """The proposal as the device stores it, on every key that holds the planned value now."""
    made: list[Turned] = []
    for parameter in planned.catalog.parameters:
        if parameter.role is None or parameter.role not in found.values:
            continue
        was = next(knob.value for knob in knobs if knob.role == parameter.role)
        text = stored_text(parameter, found.values[parameter.role])
        for key in parameter.keys():
            value = planned.values.get(key)
            if value is not None and value != text and _is_of(parameter, value, was):
                made.append(Turned(key, parameter.role, value, text, parameter.unit))
    return tuple(made)


def _is_of(parameter: ParameterDef, value: str, was: float) -> bool:
    """Whether a setting holds the number that was turned: in another bank another one may stand."""
    exact, factor = number(value), roles.factor_of(parameter)
    return exact is not None and factor is not None and abs(float(exact) * float(factor) - was) <= 1e-9 * was


def stored_text(parameter: ParameterDef, value: float) -> str:
    """A number in SI as the device stores it, on the parameter's grid."""
    factor = roles.factor_of(parameter)
    assert factor is not None
    exact = Decimal(repr(value)) * Decimal(factor.denominator) / Decimal(factor.numerator)
    return plain_text(rounded(exact, parameter))
