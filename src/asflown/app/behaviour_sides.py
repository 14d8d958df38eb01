"""Settings whose behaviour is looked at, and what they make: controllers, stick curves, plain statements."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from asflown.app import kept
from asflown.app.compare import record_meant
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.core.record import Extent, Record
from asflown.core.signals import AXES
from asflown.errors import InputError, UsageError

if TYPE_CHECKING:
    from asflown.app.flights.known import Declared
    from asflown.core.behaviour.declared import KnownController
    from asflown.core.behaviour.stick_shape import KnownStick
    from asflown.core.refit import Refit
    from asflown.core.roles import RoleValues
    from asflown.core.statements.statements import Statement
    from asflown.core.stick import StickShape

_NO_CATALOG = "{release} has no catalog that says what the settings mean"
_NO_CURVE = "{release} declares no curve of the stick (control.toml)"


@dataclass(frozen=True)
class Sticks:
    """Curves of the stick; an axis is in ``curves`` or in ``reasons``.

    Attributes
    ----------
    is_declared
        Whether the release declares any.
    """

    curves: Mapping[str, KnownStick] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    is_declared: bool = False


@dataclass(frozen=True)
class Side:
    """What the settings of a record, or those a refit plans, amount to.

    Attributes
    ----------
    id
        Of the record, or of the refit.
    called
        In words.
    controllers, reasons
        An axis is in one of them.
    """

    id: str
    called: str
    aircraft: str
    release: str | None
    is_plan: bool
    controllers: Mapping[str, KnownController]
    reasons: Mapping[str, str]
    sticks: Sticks
    statements: tuple[Statement, ...]

    @property
    def is_known(self) -> bool:
        """Whether anything at all is known of what they amount to."""
        stated = any(one.is_stated for one in self.statements)
        return bool(self.controllers or self.sticks.curves or stated)


def side_meant(store: Store, said: str) -> Side:
    """The settings of a record, of the newest record of an aircraft, or as a refit plans them.

    Raises
    ------
    UsageError
        When it names none of these.
    """
    known = store.document("record", said) or store.document("aircraft", said)
    if known is None and (found := kept.refit(store, said)) is not None:
        return planned_side(store, found.refit)
    try:
        record = record_meant(store, said)
    except UsageError as error:
        if known is not None:
            raise
        raise UsageError(
            f"{said!r} is neither a record nor an aircraft nor a refit", next_step=error.next_step
        ) from error
    return record_side(store, record)


def open_plan(store: Store, aircraft: str) -> tuple[str, Side]:
    """The record an aircraft was found with at its open refit, and the settings that refit plans.

    Raises
    ------
    UsageError
        When there is no such aircraft, or no refit of it is open.
    """
    described = kept.aircraft(store, aircraft)
    found = kept.open_refit(store, described.id)
    if found is None:
        raise UsageError(
            f"{aircraft} has no open refit", next_step=f"make a plan: asflown plan {aircraft} --to RELEASE"
        )
    return found.refit.found, planned_side(store, found.refit)


def record_side(store: Store, record: Record) -> Side:
    """What the settings of a record amount to."""
    from asflown.app.flights.known import declared_controllers
    from asflown.core import roles
    from asflown.core.statements.statements import none_stated, statements

    declared = declared_controllers(store, record.aircraft, record=record.id)
    release = declared.release
    catalog = catalog_of(store, release, but=record.id)
    if release is None or catalog is None:
        reason = (
            f"nothing says which release {record.id} is of"
            if release is None
            else _NO_CATALOG.format(release=release)
        )
        sticks, stated = _no_curve(reason), none_stated(reason)
    else:
        read = roles.of_record(record, catalog)
        sticks = _sticks(store, release, read, record.id)
        stated = statements(
            record.values,
            catalog,
            release,
            banks=roles.active_banks(record, catalog),
            factory=record.extent is Extent.CHANGES_ONLY,
        )
    return _side(record.id, record.id, record.aircraft, declared, sticks, stated, is_plan=False)


def planned_side(store: Store, refit: Refit) -> Side:
    """What the settings amount to that a refit plans, decisions applied."""
    from asflown.app.planned import planned_controllers, planned_settings, with_open
    from asflown.core import roles
    from asflown.core.statements.statements import none_stated, statements

    called = f"the plan of {refit.id}"
    declared = planned_controllers(store, refit, sure=True)
    planned = planned_settings(store, refit, sure=True)
    if planned is None:
        without = catalog_of(store, refit.to_release) is None
        reason = _NO_CATALOG.format(release=refit.to_release) if without else f"no plan of {refit.id} is kept"
        return _side(
            refit.id, called, refit.aircraft, declared, _no_curve(reason), none_stated(reason), is_plan=True
        )
    found = kept.record(store, refit.source or refit.found)
    stated = statements(
        planned.values,
        planned.catalog,
        planned.release,
        banks=tuple(roles.active_banks(found, planned.catalog)),
        waiting=planned.open,
    )
    sticks = _sticks(store, planned.release, planned.read, called)
    why = {axis: with_open(reason, planned) for axis, reason in sticks.reasons.items()}
    sticks = replace(sticks, reasons=why)
    return _side(refit.id, called, refit.aircraft, declared, sticks, stated, is_plan=True)


def _side(
    id: str,
    called: str,
    aircraft: str,
    declared: Declared,
    sticks: Sticks,
    stated: tuple[Statement, ...],
    *,
    is_plan: bool,
) -> Side:
    return Side(
        id,
        called,
        aircraft,
        declared.release,
        is_plan,
        declared.controllers,
        declared.reasons,
        sticks,
        stated,
    )


def _sticks(store: Store, release: str, read: RoleValues, whose: str) -> Sticks:
    found = kept.release_with_document(store, release)
    shapes: Mapping[str, StickShape] | None = found[0].stick if found else None
    if not shapes:
        return _no_curve(_NO_CURVE.format(release=release))
    from asflown.core.behaviour.stick_shape import stick_of

    curves: dict[str, KnownStick] = {}
    reasons: dict[str, str] = {}
    for axis in AXES:
        if axis not in shapes:
            reasons[axis] = f"{release} declares no curve of the stick for {axis}"
            continue
        try:
            curves[axis] = stick_of(shapes[axis], read.values, read.unusable)
        except InputError as error:
            told = "; ".join(dict.fromkeys(fault.what for fault in error.faults)) or error.what
            reasons[axis] = f"{error.what} from {whose}: {told}"
    return Sticks(curves, reasons, is_declared=True)


def _no_curve(reason: str) -> Sticks:
    return Sticks({}, dict.fromkeys(AXES, reason))
