"""The controller of an aircraft as its release declares it and its record sets it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from asflown.app import kept
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.core.control import ControlStructure
from asflown.core.record import Record
from asflown.core.signals import AXES
from asflown.errors import InputError

if TYPE_CHECKING:
    from asflown.core.behaviour.declared import KnownController
    from asflown.core.roles import RoleValues


@dataclass(frozen=True)
class Declared:
    """The controllers that are known, axis by axis.

    Attributes
    ----------
    controllers
        By axis; an axis that is not in it is in ``reasons``.
    reasons
        By axis, why its controller is not known, as one sentence with what to do.
    record, release
        What they were made from, ``None`` where there is none.
    """

    controllers: Mapping[str, KnownController] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    record: str | None = None
    release: str | None = None


def declared_controllers(
    store: Store, aircraft: str | None, *, record: str | None = None, scale: float = 1.0
) -> Declared:
    """The controllers of an aircraft's axes, or why they are not known.

    Parameters
    ----------
    aircraft
        ``None`` where the flight was given none.
    record
        The record the flight was flown with; the newest one of the aircraft's board when not given.
    scale
        What the measured drive is of the firmware's own (see `KnownController`).

    Raises
    ------
    UsageError
        When there is no such aircraft or record.
    """
    if aircraft is None:
        return _none("no aircraft is named; give --aircraft so that its record and release are looked at")
    described = kept.aircraft(store, aircraft)
    found = kept.record(store, record) if record else kept.latest_record(store, aircraft)
    if found is None:
        return _none(f"{aircraft} has no record; keep one: asflown found LISTING --aircraft {aircraft}")
    release = found.release or described.release
    if release is None:
        return _none(f"nothing says which release {found.id} is of; say it with the record", found)
    kept_release = kept.release_with_document(store, release)
    if kept_release is None:
        return _none(f"{release} was not brought in; bring it in: asflown release add FOLDER", found, release)
    structures = kept_release[0].control
    if not structures:
        return _none(f"{release} declares no control structure (control.toml)", found, release)
    return _of(store, found, release, structures, scale)


def _of(
    store: Store, record: Record, release: str, structures: Mapping[str, ControlStructure], scale: float
) -> Declared:
    from asflown.core import roles

    catalog = catalog_of(store, release, but=record.id)
    if catalog is None:
        return _none(f"{release} has no catalog that says what the settings mean", record, release)
    made = controllers_of(structures, roles.of_record(record, catalog), record.id, release, scale)
    return replace(made, record=record.id)


def controllers_of(
    structures: Mapping[str, ControlStructure],
    read: RoleValues,
    whose: str,
    release: str,
    scale: float = 1.0,
) -> Declared:
    """The controllers that settings make of a release's structures.

    Parameters
    ----------
    whose
        Where the settings come from, in words.
    """
    from asflown.core.behaviour.declared import controller_of

    controllers: dict[str, KnownController] = {}
    reasons: dict[str, str] = {}
    for axis in AXES:
        if axis not in structures:
            reasons[axis] = f"{release} declares no control structure for {axis}"
            continue
        try:
            controllers[axis] = controller_of(
                structures[axis], read.values, stored=read.stored, unusable=read.unusable, scale=scale
            )
        except InputError as error:
            told = "; ".join(dict.fromkeys(fault.what for fault in error.faults)) or error.what
            reasons[axis] = f"{error.what} from {whose}: {told}"
    return Declared(controllers, reasons, None, release)


def not_known(reason: str, *, record: str | None = None, release: str | None = None) -> Declared:
    """No controller of any axis, for one reason."""
    return Declared({}, dict.fromkeys(AXES, reason), record, release)


def _none(reason: str, record: Record | None = None, release: str | None = None) -> Declared:
    return not_known(reason, record=record.id if record else None, release=release)
