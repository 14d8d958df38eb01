"""The port plan of an aircraft: its devices, its board, a release, and the settings that go with it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from asflown.app import kept
from asflown.app.boards import board_with_document
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core import roles
from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Catalog, Consequence, Release
from asflown.core.finding import Finding
from asflown.core.plan import Plan
from asflown.core.ports.asked import AskedFor, asked_of
from asflown.core.ports.board import Board
from asflown.core.ports.check import Wired, findings
from asflown.core.ports.compile import Flash
from asflown.core.ports.kinds import KINDS, kind_of
from asflown.core.ports.plan import PortPlan, plan_ports
from asflown.core.ports.reason import reason_said
from asflown.core.record import Key, Record
from asflown.core.refit import Refit
from asflown.errors import UsageError


@dataclass(frozen=True)
class PortsAsked:
    """What a person wants to know.

    Attributes
    ----------
    release
        ``None``: the one the open refit goes to, else the one it has.
    functions
        Optional functions wanted besides those that devices need.
    in_image
        Functions of the image that will be loaded; ``None``: those the plan includes.
    """

    aircraft: str
    release: str | None = None
    functions: tuple[str, ...] = ()
    in_image: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Ports:
    """A port plan with what it was made from.

    Attributes
    ----------
    plan
        ``None`` where the board is not described: then devices and settings are held against each other
        alone.
    settings_from
        Which settings were looked at, in words; empty where there are none.
    cautions
        What may need a licence or a qualified person.
    """

    aircraft: Aircraft
    release: Release | None
    plan: PortPlan | None
    asked: AskedFor
    findings: tuple[Finding, ...]
    settings_from: str
    cautions: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def needs_person(self) -> bool:
        """Whether something has to be settled."""
        return bool(self.findings) or (self.plan is not None and not self.plan.works)


def ports_of(work: Workplace, wanted: PortsAsked) -> Ports:
    """Plan the ports of an aircraft. Nothing is kept or entered.

    Raises
    ------
    UsageError
        When there is no such aircraft, release or function.
    """
    aircraft = kept.aircraft(work.store, wanted.aircraft)
    release = _release(work.store, aircraft, wanted.release)
    settings, said = _settings(work.store, aircraft, release)
    return _ports(work, wanted, aircraft, release, settings, said)


def findings_of_plan(
    work: Workplace, refit: Refit, plan: Plan, release: Release, record: Record
) -> tuple[Finding, ...]:
    """What a carry-over plan should tell of ports: only where the board is described, and devices are."""
    from asflown.app.planned import of_plan

    aircraft = kept.aircraft(work.store, refit.aircraft)
    board = refit.to_board or aircraft.board
    if work.processors is None or board is None or not aircraft.devices or release.catalog is None:
        return ()
    aircraft = replace(aircraft, board=board)
    if board_with_document(work.store, board) is None:
        return ()
    planned = of_plan(plan, release.catalog, record)
    settings = by_role(planned.values, planned.catalog)
    made = _ports(work, PortsAsked(aircraft.id, release.id), aircraft, release, settings, "planned")
    return (*_not_together(made), *made.findings)


def _not_together(ports: Ports) -> tuple[Finding, ...]:
    plan = ports.plan
    if plan is None or plan.reason is None:
        return ()
    critical = any(thing.is_critical for thing in ports.asked.things if thing.name in plan.reason.names)
    return (
        Finding(
            "ports",
            ", ".join(plan.reason.names),
            Consequence.SAFETY if critical else Consequence.COMFORT,
            " ".join(reason_said(plan.reason)).rstrip("."),
            tuple(way.said for way in plan.ways_out[:3]),
        ),
    )


def _ports(
    work: Workplace,
    wanted: PortsAsked,
    aircraft: Aircraft,
    release: Release | None,
    settings: Mapping[str, str],
    said: str,
) -> Ports:
    _known_functions(release, (*wanted.functions, *(wanted.in_image or ())))
    found = board_with_document(work.store, aircraft.board) if aircraft.board else None
    board = found[0] if found else Board(aircraft.board or "", "")
    asked = asked_of(aircraft, board, release, settings)
    plan = None
    if found and work.processors is not None:
        processor = work.processors.of(board.processor)
        flash = _flash(board, release, processor.flash)
        plan = plan_ports(board, processor, asked.things, flash, wanted.functions)
    in_image: Collection[str] | None = wanted.in_image
    if in_image is None and plan is not None:
        in_image = tuple(plan.functions)
    checked = findings(
        Wired(
            board,
            asked.things,
            (release.protocols or ()) if release else (),
            settings,
            in_image,
            {device.name: device.speaks for device in aircraft.devices if device.speaks},
        )
    )
    remarks = _remarks(aircraft, release, plan, asked)
    return Ports(aircraft, release, plan, asked, checked, said, _cautions(aircraft), remarks)


def _remarks(
    aircraft: Aircraft, release: Release | None, plan: PortPlan | None, asked: AskedFor
) -> tuple[str, ...]:
    remarks = []
    if plan is None:
        remarks.append(_no_board(aircraft))
    if not aircraft.devices:
        remarks.append("no fitted device is described: asflown aircraft show, or its file")
    if release is not None and not release.protocols:
        remarks.append(
            f"{release.id} states no protocols (functions.toml): settings are not held against devices"
        )
    if plan is not None:
        remarks += [*_flash_remarks(plan, release), *asked.remarks]
    return tuple(remarks)


def _no_board(aircraft: Aircraft) -> str:
    if aircraft.board is None:
        return "the board is not stated: what it can carry is not known"
    return (
        f"the board {aircraft.board} is not described: what it can carry is not known"
        f" (asflown board new {aircraft.board} --processor PART)"
    )


def _release(store: Store, aircraft: Aircraft, said: str | None) -> Release | None:
    if said is not None:
        return kept.release(store, said)
    open_one = kept.open_refit(store, aircraft.id)
    id = open_one.refit.to_release if open_one is not None else aircraft.release
    found = kept.release_with_document(store, id) if id else None
    return found[0] if found else None


def _settings(store: Store, aircraft: Aircraft, release: Release | None) -> tuple[Mapping[str, str], str]:
    """Value by role: of the open refit's plan for that release, else of the newest record of it."""
    from asflown.app.planned import planned_settings

    if release is None:
        return {}, ""
    open_one = kept.open_refit(store, aircraft.id)
    if open_one is not None and open_one.refit.to_release == release.id:
        planned = planned_settings(store, open_one.refit)
        if planned is not None:
            said = f"as the plan of {open_one.refit.id} leaves them"
            return by_role(planned.values, planned.catalog), said
    record = kept.latest_record(store, aircraft.id)
    catalog = catalog_of(store, release.id)
    if record is None or catalog is None or record.release != release.id:
        return {}, ""
    return by_role(record.values, catalog), f"as in {record.id}"


def by_role(values: Mapping[Key, str], catalog: Catalog) -> dict[str, str]:
    """Settings by role: the number that is stored as text, else as printed; none where they differ."""
    stored = roles.values_by_role(values, catalog).stored
    made = {role: f"{value:g}" if value != int(value) else str(int(value)) for role, value in stored.items()}
    for role, told in roles.texts_by_role(values, catalog).items():
        texts = {text for _, text in told.texts}
        if role not in made and len(texts) == 1:
            made[role] = texts.pop()
    return made


def _known_functions(release: Release | None, names: Collection[str]) -> None:
    known = [one.name for one in release.functions or ()] if release else []
    for name in names:
        if name not in known:
            says = f"known: {', '.join(known)}" if known else "none is stated"
            raise UsageError(
                f"there is no optional function {name!r} ({says})",
                next_step="see: asflown release show RELEASE",
            )


def _flash(board: Board, release: Release | None, size: int) -> Flash:
    functions = release.functions or () if release else ()
    room = None
    if release is not None and release.base_flash is not None and board.kept_flash is not None:
        room = size - board.kept_flash - release.base_flash
    return Flash({one.name: one.flash for one in functions}, {one.name: one.needs for one in functions}, room)


def _flash_remarks(plan: PortPlan, release: Release | None) -> list[str]:
    if plan.flash_room is not None or release is None:
        return []
    missing = []
    if release.base_flash is None:
        missing.append(f"{release.id} does not state the flash of an image without optional functions")
    if plan.board.kept_flash is None:
        missing.append(f"{plan.board.name} does not state where settings lie")
    return [f"how much flash is left is not known: {'; '.join(missing)}"]


def _cautions(aircraft: Aircraft) -> tuple[str, ...]:
    found = []
    for device in aircraft.devices:
        needs = KINDS.get(kind_of(device.kind))
        if needs is not None and needs.transmits:
            found.append(
                f"{device.name} sends by radio: its band and power may need a licence; local radio rules come"
                " first"
            )
    return tuple(found)


def fleet_ports(work: Workplace, release: str | None = None) -> tuple[Ports, ...]:
    """The port plan of every aircraft."""
    return tuple(
        ports_of(work, PortsAsked(aircraft.id, release)) for aircraft in kept.all_aircraft(work.store)
    )
