"""A port plan in words: device first, what does not go together, the ways out."""

from __future__ import annotations

from typing import Any

from asflown.app.ports import Ports
from asflown.app.views.sheet import Sheet, Table, counted, listed
from asflown.core.catalog import Consequence
from asflown.core.ports.needs import NEEDED
from asflown.core.ports.plan import Placed, PortPlan, WayOut
from asflown.core.ports.processor import lane_said
from asflown.core.ports.reason import Reason, reason_said


def ports_sheet(ports: Ports) -> Sheet:
    """The plan as a sheet."""
    tables = []
    if ports.plan is not None and ports.plan.shown:
        tables.append(_devices(ports.plan))
    if ports.findings:
        tables.append(_findings(ports))
    if ports.plan is not None and ports.plan.ways_out:
        tables.append(_ways(ports.plan))
    return Sheet(
        "Port plan",
        _head(ports),
        sentence(ports),
        tables=tuple(tables),
        warnings=tuple(_warnings(ports)),
        notes=tuple(_notes(ports)),
        next_act=tuple(_next(ports)),
    )


def _head(ports: Ports) -> tuple[tuple[str, str], ...]:
    plan = ports.plan
    board = ports.aircraft.board or "not stated"
    return (
        ("aircraft", f"{ports.aircraft.title} ({ports.aircraft.id})"),
        ("board", f"{board}, {plan.processor.name}" if plan else board),
        ("release", ports.release.id if ports.release else "not stated"),
        ("settings", ports.settings_from or "not stated"),
    )


def sentence(ports: Ports) -> str:
    """Where things stand."""
    plan = ports.plan
    settings = f" {counted(len(ports.findings), 'disagreement')} with the settings." if ports.findings else ""
    if plan is None:
        if ports.findings:
            return f"{counted(len(ports.findings), 'disagreement')} between devices and settings."
        return "What the board can carry is not known."
    things = counted(len(plan.shown), "thing")
    if plan.works:
        return f"Everything works as it is wired: {things}, {_free(plan)}.{settings}"
    if plan.ways_out:
        ways = counted(len(plan.ways_out), "way out", "ways out")
        return f"It does not work as it is wired; {ways} below, the least first.{settings}"
    return f"It does not work, and nothing that may be given up helps.{settings}"


def _free(plan: PortPlan) -> str:
    ports = sum(kind == "serial port" for kind, _ in plan.spare)
    outputs = sum(kind == "output" for kind, _ in plan.spare)
    return f"{counted(ports, 'serial port')} and {counted(outputs, 'output')} free"


# ------------------------------------------------------------------------------------------ devices


def _devices(plan: PortPlan) -> Table:
    rows = [(item.name, where_said(item, plan)) for item in plan.shown]
    title = "Where everything goes" if plan.works else "Where everything goes with the first way out"
    return Table(("thing", "where it goes"), tuple(rows), title=title)


def where_said(item: Placed, plan: PortPlan) -> str:
    """One thing in a sentence."""
    if item.left_off:
        return "is left off"
    parts = []
    if item.place is None:
        parts.append("on the board")
    elif item.moves:
        parts.append(f"moves from {item.was} to {_place(item.place, plan)}")
    elif item.was is None:
        parts.append(f"goes to {_place(item.place, plan)}")
    else:
        parts.append(f"stays on {_place(item.place, plan)}")
    if item.way is not None and item.way.protocol:
        parts.append(f"speaks {item.way.protocol}")
    if item.lanes:
        lanes = listed([f"{lane_said(lane)} for {request}" for request, lane in item.lanes])
        parts.append(f"DMA: {lanes}")
    if item.without_dma:
        serial = item.way.needs.serial if item.way else None
        is_needed = serial is not None and serial.dma == NEEDED
        parts.append(f"without DMA, which {'it asks for' if is_needed else 'would be better'}")
    return "; ".join(parts)


def _place(place: str, plan: PortPlan) -> str:
    board = plan.board
    for port in board.serial:
        if port.name == place:
            return f"{place} ({port.unit}{f', {port.connector}' if port.connector else ''})"
    for output in board.outputs:
        if output.name == place and output.timer:
            return f"{place} ({output.timer})"
    return place


# ------------------------------------------------------------------------------------------ why not


def _warnings(ports: Ports) -> list[str]:
    said: list[str] = []
    if ports.plan is not None and ports.plan.reason is not None:
        said += reason_said(ports.plan.reason)
    said += [
        f"safety: {found.statement}" for found in ports.findings if found.consequence is Consequence.SAFETY
    ]
    return [*said, *ports.cautions]


def _ways(plan: PortPlan) -> Table:
    rows = [(str(number), way.said, _meaning(way)) for number, way in enumerate(plan.ways_out, 1)]
    return Table(("no.", "way out", "what it means"), tuple(rows), title="Ways out, the least first")


_MEANS = {
    "DMA": "the processor is interrupted for every byte",
    "function": "what it does is missing",
    "move": "a wire is soldered elsewhere, and its setting follows",
    "protocol": "it is talked with differently; check that it understands",
    "leave off": "it is not there",
}


def _meaning(way: WayOut) -> str:
    return "; ".join(dict.fromkeys(_MEANS[ease.kind] for ease in way.eases))


def _findings(ports: Ports) -> Table:
    rows = [
        (found.consequence.value, found.statement, "; or ".join(found.ways_out)) for found in ports.findings
    ]
    return Table(
        ("consequence", "what does not agree", "way out"),
        tuple(rows),
        title="Devices, settings and image against each other",
    )


# ------------------------------------------------------------------------------------------ the rest


def _notes(ports: Ports) -> list[str]:
    notes = []
    plan = ports.plan
    if plan is not None:
        if plan.functions:
            inside = listed([f"{name} ({_bytes(size)})" for name, size in plan.functions.items()])
            notes.append(f"Functions to include: {inside}.")
        if plan.flash_left is not None:
            notes.append(f"{_bytes(plan.flash_left)} of {_bytes(plan.flash_room)} for functions are left.")
        free = [name for _, name in plan.spare]
        if free:
            notes.append(f"Free: {listed(free, most=40)}.")
        notes.append("Solder with the pack unplugged; try with propellers off.")
    return [*notes, *(remark[:1].upper() + remark[1:] + "." for remark in ports.remarks)]


def _bytes(size: int | None) -> str:
    return "flash not stated" if size is None else f"{size:,} bytes".replace(",", " ")


def _next(ports: Ports) -> list[str]:
    id = ports.aircraft.id
    if ports.plan is None and ports.aircraft.board:
        return [f"describe the board: asflown board new {ports.aircraft.board} --processor PART"]
    if ports.findings:
        return [
            f"settle it in the carry-over, or on the aircraft: asflown decide {id}",
            f"correct the description: asflown aircraft show {id}",
        ]
    if ports.plan is not None and not ports.plan.works:
        return [
            f"choose a way and say it in the description (port, speaks, serial): asflown aircraft show {id}",
            f"look again: asflown ports {id}",
        ]
    return [f"make the cards: asflown cards {id}"]


def ports_json(ports: Ports) -> dict[str, Any]:
    """The same as JSON."""
    plan = ports.plan
    return {
        "aircraft": ports.aircraft.id,
        "board": ports.aircraft.board,
        "release": ports.release.id if ports.release else None,
        "settings_from": ports.settings_from or None,
        "works": plan.works if plan else None,
        "sentence": sentence(ports),
        "placed": [_placed_json(item, plan) for item in plan.shown] if plan else [],
        "reason": _reason_json(plan.reason) if plan and plan.reason else None,
        "ways_out": [_way_json(way, plan) for way in plan.ways_out] if plan else [],
        "functions": dict(plan.functions) if plan else {},
        "flash_room": plan.flash_room if plan else None,
        "flash_left": plan.flash_left if plan else None,
        "free": [{"kind": kind, "name": name} for kind, name in plan.spare] if plan else [],
        "findings": [
            {
                "consequence": found.consequence.value,
                "subject": found.subject,
                "statement": found.statement,
                "ways_out": list(found.ways_out),
            }
            for found in ports.findings
        ],
        "cautions": list(ports.cautions),
        "remarks": list(ports.remarks),
    }


def _placed_json(item: Placed, plan: PortPlan) -> dict[str, Any]:
    return {
        "thing": item.name,
        "device": item.device,
        "place": item.place,
        "was": item.was,
        "moves": item.moves,
        "left_off": item.left_off,
        "protocol": item.way.protocol if item.way else None,
        "dma": [{"request": request, "lane": lane} for request, lane in item.lanes],
        "without_dma": item.without_dma,
        "functions": list(item.functions),
        "says": where_said(item, plan),
    }


def _reason_json(reason: Reason) -> dict[str, Any]:
    return {
        "things": list(reason.names),
        "short_of": list(reason.short_of),
        "could_have": {name: list(choices) for name, choices in reason.could_have},
        "says": list(reason_said(reason)),
    }


def _way_json(way: WayOut, plan: PortPlan) -> dict[str, Any]:
    return {
        "cost": way.cost,
        "give_up": [{"what": ease.name, "kind": ease.kind, "cost": ease.cost} for ease in way.eases],
        "placed": [_placed_json(item, plan) for item in way.placed],
    }


# ------------------------------------------------------------------------------------------ fleet


def fleet_sheet(found: tuple[Ports, ...]) -> Sheet:
    """The port plans of all aircraft, a line each."""
    rows = [(ports.aircraft.id, ports.aircraft.board or "not stated", sentence(ports)) for ports in found]
    open_ones = sum(ports.needs_person for ports in found)
    return Sheet(
        "Port plans",
        (("aircraft", str(len(found))),),
        f"{counted(open_ones, 'aircraft', 'aircraft')} of {len(found)} need you."
        if found
        else "No aircraft is described yet.",
        tables=(Table(("aircraft", "board", "port plan"), tuple(rows)),) if rows else (),
        next_act=("look at one: asflown ports AIRCRAFT",),
    )


def fleet_json(found: tuple[Ports, ...]) -> dict[str, Any]:
    """The same as JSON."""
    return {"aircraft": [ports_json(ports) for ports in found]}
