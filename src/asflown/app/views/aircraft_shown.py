"""Aircraft sheets: one, and the list of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.aircraft import Aircraft
from asflown.core.refit import Refit

NOT_STATED = "not stated"


def aircraft_sheet(aircraft: Aircraft, open_refit: Refit | None = None) -> Sheet:
    """What is known of one aircraft; what nobody said reads *not stated*."""
    rows = tuple(
        (d.name, d.kind, d.model or NOT_STATED, d.version or NOT_STATED, d.port or NOT_STATED)
        for d in aircraft.devices
    )
    missing = [name for name, value in facts(aircraft) if value is None]
    says = f"{aircraft.title}: {counted(len(rows), 'fitted device')}"
    says += f"; not stated: {', '.join(missing)}." if missing else "; everything asked for is stated."
    head = tuple((name, value or NOT_STATED) for name, value in facts(aircraft))
    refit: tuple[tuple[str, str], ...] = ()
    if open_refit is not None:
        text = f"{open_refit.id}, to {open_refit.to_release}, {open_refit.state.value}"
        refit = (("open refit", text),)
    return Sheet(
        title="Aircraft",
        head=(("aircraft", aircraft.id), *head, *refit),
        sentence=says,
        tables=(
            Table(("device", "kind", "model", "version", "wired to"), rows, empty="no fitted device stated"),
        ),
        next_act=(
            f"change it: asflown aircraft edit {aircraft.id} --set KEY=VALUE",
            f"keep a record: asflown found LISTING --aircraft {aircraft.id}",
        ),
    )


def facts(aircraft: Aircraft) -> tuple[tuple[str, str | None], ...]:
    """Name and value of each fact, with its unit; ``None`` where not stated."""
    motors, props, battery = aircraft.motors, aircraft.propellers, aircraft.battery
    return (
        ("title", aircraft.title),
        ("board", aircraft.board),
        ("release", aircraft.release),
        ("mass", _with(aircraft.mass_kg, "kg")),
        (
            "motors",
            _joined(_with(motors.count, ""), motors.layout, motors.model, _with(motors.poles, "poles")),
        ),
        (
            "propellers",
            _joined(
                props.model,
                _with(props.diameter_m, "m diameter"),
                _with(props.pitch_m, "m pitch"),
                _with(props.blades, "blades"),
            ),
        ),
        (
            "battery",
            _joined(
                _with(battery.cells, "cells in series"), _with(battery.capacity_ah, "Ah"), battery.chemistry
            ),
        ),
        ("owner", aircraft.owner),
        ("remarks", aircraft.remarks),
    )


def _with(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:g} {unit}".strip()


def _joined(*parts: str | None) -> str | None:
    return ", ".join(part for part in parts if part) or None


def aircraft_list_sheet(fleet: Sequence[tuple[Aircraft, Refit | None]], current: str | None) -> Sheet:
    """Every aircraft with its open refit."""
    rows = tuple(
        (
            f"{a.id} *" if a.id == current else a.id,
            a.title,
            a.board or NOT_STATED,
            a.release or NOT_STATED,
            f"to {refit.to_release}, {refit.state.value}" if refit else "none",
        )
        for a, refit in fleet
    )
    says = f"{len(rows)} aircraft, {sum(refit is not None for _, refit in fleet)} with an open refit."
    return Sheet(
        title="Aircraft",
        head=(("current", current or "none chosen"),),
        sentence=says,
        tables=(
            Table(
                ("aircraft", "title", "board", "release", "open refit"),
                rows,
                empty="no aircraft is described yet",
            ),
        ),
        next_act=(
            ("choose the current one: asflown aircraft use ID",)
            if rows
            else ("describe one: asflown aircraft new plover",)
        ),
    )


def aircraft_json(aircraft: Aircraft, open_refit: Refit | None = None) -> dict[str, Any]:
    """One aircraft as JSON; what nobody said is null."""
    from dataclasses import asdict

    body = asdict(aircraft)
    body["open_refit"] = (
        {"id": open_refit.id, "to": open_refit.to_release, "state": open_refit.state.value}
        if open_refit
        else None
    )
    return body


def aircraft_list_json(fleet: Sequence[tuple[Aircraft, Refit | None]], current: str | None) -> dict[str, Any]:
    """Every aircraft as JSON."""
    return {"current": current, "aircraft": [aircraft_json(a, refit) for a, refit in fleet]}
