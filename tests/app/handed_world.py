"""Two stores in folders, and one aircraft that is handed between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from memory_store import TickingClock
from small_world import FOUND, NEW, OLD, SmallBoard, planned, put

from asflown.adapters.store import FolderStore, open_store
from asflown.app.receive import receive
from asflown.app.take_record import Request, take_record
from asflown.app.workplace import Workplace
from asflown.app.write_out import write_out
from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Belonging, Catalog, ParameterDef, Release, ValueKind
from asflown.core.record import Extent

#: Settings that tell a place or a key: by the catalog's flag, by its belonging, and by the name alone.
SECRETS = {"perch_east": "417.883", "nest_north": "902.115", "radio_bind": "7741908"}


def with_secrets(release: Release) -> Release:
    assert release.catalog is not None
    more = (
        ParameterDef("perch_east", kind=ValueKind.REAL, default="0", private=True, description="perch"),
        ParameterDef("nest_north", kind=ValueKind.REAL, default="0", belonging=Belonging.PLACE, description="nest"),
        ParameterDef("radio_bind", kind=ValueKind.INTEGER, default="0", description="radio pairing"),
    )  # fmt: skip
    catalog = replace(release.catalog, parameters=(*release.catalog.parameters, *more))
    assert isinstance(catalog, Catalog)
    return replace(release, catalog=catalog)


@dataclass
class Desk:
    work: Workplace
    folder: Path

    @property
    def store(self) -> FolderStore:
        store = self.work.store
        assert isinstance(store, FolderStore)
        return store

    def takes(self, files: Mapping[str, bytes]) -> object:
        return receive(self.work, files, "h.zip")


def desk(folder: Path, who: str) -> Desk:
    clock = TickingClock()
    return Desk(Workplace(open_store(folder, clock=clock, who=who), clock, who), folder)


def with_aircraft(folder: Path, who: str = "Ida Vale") -> Desk:
    """An aircraft with an owner, an as-found record with secrets, both releases, and a plan decided."""
    made = desk(folder, who)
    put(made.work, "aircraft", "wren", Aircraft("wren", "Wren", board="b1", release=OLD.id, owner="Max Ohm"))
    for release in (OLD, NEW):
        put(made.work, "release", release.id, with_secrets(release))
    record(made)
    return made


def listing(**more: str) -> bytes:
    board = SmallBoard(OLD)
    board.live.update({**FOUND, **SECRETS, **more})
    return board.listing()


def record(at: Desk, **more: str) -> None:
    take_record(at.work, Request(listing(**more), "before.txt", "wren", extent=Extent.FULL))


def plan_and_write(at: Desk) -> None:
    """The refit planned, everything decided, and written out."""
    planned(at)  # type: ignore[arg-type]
    write_out(at.work, "wren")
