"""Release sheets: one, and the list of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.catalog import Catalog, ChangeNotes, Consequence, Release

NOT_STATED = "not stated"


def release_sheet(release: Release, sha256: str) -> Sheet:
    """What a release came with; each room that was missing reads *not stated*."""
    rows = rooms(release)
    missing = [name for name, text in rows if text == NOT_STATED]
    says = f"{release.id}: {len(rows) - len(missing)} of {len(rows)} rooms are filled"
    says += f"; not stated: {', '.join(missing)}." if missing else "."
    return Sheet(
        title="Release",
        head=(("release", release.id), ("firmware", release.firmware), ("version", release.version)),
        sentence=says,
        tables=(Table(("room", "what is there"), rows),),
        notes=release.remarks,
        next_act=("plan with it: asflown plan AIRCRAFT --to " + release.id,),
        foot=(f"release {short(sha256)}", *(f"{o.name} {short(o.sha256)}" for o in release.originals)),
    )


def rooms(release: Release) -> tuple[tuple[str, str], ...]:
    """Each room of a release with what is in it."""
    return (
        ("catalog", _catalog_says(release.catalog)),
        ("factory values", _factory_says(release.catalog)),
        ("change notes", _notes_says(release.notes)),
        ("device needs", _many(release.device_needs, "need")),
        ("optional functions", _many(release.functions, "function")),
        ("image words", _many(release.image_words, "word")),
        ("images", _many(release.images, "image")),
        ("boards", ", ".join(release.boards) if release.boards else NOT_STATED),
        ("control structure", "stated" if release.control else NOT_STATED),
        ("stick shape", "stated" if release.stick else NOT_STATED),
    )


def _many(items: Sequence[object] | None, one: str) -> str:
    return NOT_STATED if items is None else counted(len(items), one)


def _catalog_says(catalog: Catalog | None) -> str:
    if catalog is None:
        return NOT_STATED
    counts = Counter(parameter.consequence for parameter in catalog.parameters)
    stated = ", ".join(f"{counts[c]} {c}" for c in Consequence if counts[c])
    return f"{counted(len(catalog.parameters), 'parameter')}, {catalog.source}; consequence: {stated}"


def _factory_says(catalog: Catalog | None) -> str:
    if catalog is None:
        return NOT_STATED
    if catalog.factory:
        return f"{counted(len(catalog.factory), 'value')} from a factory listing"
    stated = sum(parameter.default is not None for parameter in catalog.parameters)
    return f"{stated} stated by the catalog" if stated else NOT_STATED


def _notes_says(notes: Sequence[ChangeNotes] | None) -> str:
    if notes is None:
        return NOT_STATED
    return "; ".join(
        f"{n.from_release} → {n.to_release}: {counted(len(n.changes), 'change')}"
        f"{', complete' if n.complete else ''}"
        for n in notes
    ) or counted(0, "file")


def release_list_sheet(releases: Sequence[Release]) -> Sheet:
    """Every release brought in."""
    rows = tuple(
        (
            release.id,
            str(len(release.catalog.parameters)) if release.catalog else NOT_STATED,
            _notes_says(release.notes),
            ", ".join(release.boards) if release.boards else NOT_STATED,
        )
        for release in releases
    )
    return Sheet(
        title="Releases",
        head=(),
        sentence=f"{counted(len(rows), 'release')} brought in.",
        tables=(
            Table(
                ("release", "parameters#", "change notes", "boards"), rows, empty="none was brought in yet"
            ),
        ),
        next_act=("bring one in: asflown release add FOLDER",),
    )


def release_json(release: Release, sha256: str) -> dict[str, Any]:
    """A release as JSON: its rooms, null where not stated."""
    catalog = release.catalog
    return {
        "id": release.id,
        "firmware": release.firmware,
        "version": release.version,
        "sha256": sha256,
        "rooms": {name: None if text == NOT_STATED else text for name, text in rooms(release)},
        "parameters": None if catalog is None else len(catalog.parameters),
        "notes": None
        if release.notes is None
        else [
            {"from": n.from_release, "to": n.to_release, "changes": len(n.changes), "complete": n.complete}
            for n in release.notes
        ],
        "boards": None if release.boards is None else list(release.boards),
        "originals": [{"name": o.name, "kind": o.kind, "sha256": o.sha256} for o in release.originals],
        "remarks": list(release.remarks),
    }
