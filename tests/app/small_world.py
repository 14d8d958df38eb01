"""A small invented world for tests of the jobs: two releases of 'thrush', one aircraft, a board in memory."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from decimal import Decimal

from memory_store import MemoryStore, TickingClock

from asflown.app import carry_over, decide
from asflown.app.take_record import Request, take_record
from asflown.app.workplace import Workplace
from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.core.catalog import (
    Catalog,
    CatalogSource,
    ChangeNote,
    ChangeNotes,
    Choice,
    Consequence,
    ConversionSpec,
    NoteKind,
    ParameterDef,
    Release,
    ValueKind,
)
from asflown.core.record import Extent
from asflown.formats import documents

S, H, C, N = Consequence.SAFETY, Consequence.HANDLING, Consequence.COMFORT, Consequence.NONE


def real(
    name: str,
    unit: str | None,
    low: str,
    high: str,
    default: str,
    decimals: int,
    why: Consequence,
    **more: object,
) -> ParameterDef:
    return ParameterDef(
        name, kind=ValueKind.REAL, unit=unit, minimum=Decimal(low), maximum=Decimal(high), default=default,
        decimals=decimals, consequence=why, description=f"about {name.replace('_', ' ')}", **more,  # type: ignore[arg-type]
    )  # fmt: skip


def whole(
    name: str, unit: str | None, low: str, high: str, default: str, why: Consequence, **more: object
) -> ParameterDef:
    return ParameterDef(
        name, kind=ValueKind.INTEGER, unit=unit, minimum=Decimal(low), maximum=Decimal(high), default=default,
        consequence=why, description=f"about {name.replace('_', ' ')}", **more,  # type: ignore[arg-type]
    )  # fmt: skip


COMMON = (
    real("tilt_gain", None, "0", "20", "4.0", 1, H, needs=("tilt_mode",)),
    ParameterDef("tilt_mode", kind=ValueKind.CHOICE, default="0", consequence=H, description="about tilt mode",
                 choices=(Choice("0", "soft"), Choice("1", "firm"))),
    real("low_pack", "V", "0", "60", "10.5", 1, S),
    whole("lamp_level", None, "0", "9", "3", C),
    whole("horn_pitch", "Hz", "100", "9000", "880", C),
    whole("spin_slow", None, "0", "100", "5", S),
)  # fmt: skip

OLD = Release(
    "thrush-1.0", "thrush", "1.0",
    Catalog(
        (
            *COMMON,
            real("lost_after", "s", "0", "30", "1.0", 1, S),
            whole("old_toy", None, "0", "1", "0", C),
            whole("level_trim", None, "-500", "500", "0", H, redo="level the frame and store"),
        ),
        CatalogSource.STATED,
    ),
)  # fmt: skip

NEW = Release(
    "thrush-2.0", "thrush", "2.0",
    Catalog(
        (
            *COMMON,
            whole("lost_after_ms", "ms", "0", "30000", "500", S),
            whole("level_trim", None, "-500", "500", "0", H, redo="level the frame and store"),
            whole("fresh_knob", None, "0", "9", "2", N),
        ),
        CatalogSource.STATED,
    ),
    notes=(
        ChangeNotes(
            "thrush-1.0", "thrush-2.0",
            (
                ChangeNote(NoteKind.CONVERT, ("lost_after",), ("lost_after_ms",),
                           ConversionSpec(unit_from="s", unit_to="ms"), why="finer steps", consequence=S),
                ChangeNote(NoteKind.RETIRE, ("old_toy",), why="nobody used it", consequence=C),
            ),
            complete=True,
        ),
    ),
)  # fmt: skip

FOUND = {
    "tilt_gain": "5.5",
    "tilt_mode": "1",
    "low_pack": "11.2",
    "lamp_level": "3",
    "horn_pitch": "440",
    "spin_slow": "7",
    "lost_after": "2.5",
    "old_toy": "1",
    "level_trim": "31",
}


@dataclass
class SmallBoard:
    """A board in memory: factory values, ranges, refusals; storing and restart; may stop half-way."""

    release: Release
    stored: dict[str, str] = field(default_factory=dict)
    live: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.erase()

    def erase(self) -> None:
        assert self.release.catalog is not None
        self.live = {p.name: p.default or "" for p in self.release.catalog.parameters}
        self.stored = dict(self.live)

    def load_image(self, release: Release) -> None:
        self.release = release
        self.erase()

    def paste(self, text: str, *, stop_after: int | None = None) -> str:
        """What the terminal shows while these lines are sent."""
        shown = []
        for number, line in enumerate(text.splitlines(), 1):
            if stop_after is not None and number > stop_after:
                break
            shown += [f"thrush> {line}", self._take(line)]
        return "\r\n".join(shown) + "\r\n"

    def _take(self, line: str) -> str:
        match = re.fullmatch(r"let (\w+) be (\S+)", line)
        if match is None:
            return "pardon"
        name, value = match.groups()
        assert self.release.catalog is not None
        parameter = self.release.catalog.by_name.get(name)
        if parameter is None:
            return f"no such thing: {name}"
        number = Decimal(value)
        low, high = parameter.minimum, parameter.maximum
        if low is not None and high is not None and not low <= number <= high:
            return f"{value} is beyond {low} to {high}"
        if name == "tilt_mode":
            self.live["tilt_gain"] = "4.0"  # choosing the mode resets its gain: order matters
        self.live[name] = value
        return "so be it"

    def save(self) -> None:
        self.stored = dict(self.live)

    def restart(self) -> None:
        self.live = dict(self.stored)

    def listing(self) -> bytes:
        rows = "".join(f"let {name} be {value}\r\n" for name, value in self.live.items())
        return f"thrush> tell\r\n{rows}thrush> \r\n".encode()


def put(work: Workplace, kind: str, id: str, thing: object) -> None:
    with work.store.transaction() as tx:
        tx.put(kind, id, documents.dump(thing))  # type: ignore[arg-type]


@dataclass
class World:
    work: Workplace
    store: MemoryStore
    board: SmallBoard


def world(*, extent: Extent = Extent.FULL, found: dict[str, str] | None = None, old: Release = OLD) -> World:
    """An aircraft with an as-found record, both releases brought in."""
    clock = TickingClock()
    store = MemoryStore(clock)
    work = Workplace(store, clock, "Ida")
    aircraft = Aircraft(
        "wren",
        "Wren",
        board="b1",
        release=OLD.id,
        devices=(FittedDevice("esc", "speed controller", version="3.1"),),
    )
    put(work, "aircraft", "wren", aircraft)
    put(work, "release", old.id, old)
    put(work, "release", NEW.id, NEW)
    board = SmallBoard(OLD)
    board.live.update(found or FOUND)
    board.save()
    take_record(work, Request(board.listing(), "before.txt", "wren", extent=extent))
    return World(work, store, board)


def planned(made: World) -> None:
    """Plan the refit and decide everything that is open by the first recommended or first offered way."""
    result = carry_over.make_plan(made.work, carry_over.Ask("wren", NEW.id))
    while result.plan.open_groups:
        group = result.plan.open_groups[0]
        option = next(
            (o.id for o in group.lines[0].options if o.is_recommended and o.id in group.option_ids),
            group.option_ids[0],
        )
        typed = {line.id: "2" for line in group.lines} if option == "value" else {}
        choice = decide.Choice(group.id, option, "seen on the bench", values=typed)
        result = decide.decide(made.work, "wren", choice)


def changed(release: Release, **more: object) -> Release:
    return replace(release, **more)  # type: ignore[arg-type]
