"""Catalog pairs whose renames are published: read from folders of catalog_old/new, truth and evidence."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from asflown.core.catalog import ParameterDef
from asflown.formats import catalog_table


@dataclass(frozen=True)
class Case:
    """One pair of catalogs with its truth.

    Attributes
    ----------
    family
        Cases of one family share their habits; they are never split between training and judging.
    truth
        Old name -> new name, itself, or ``None`` (retired); what is not in it is not scored.
    classes, kinds
        Old name -> same, rename, merge, retired; and real, prefix_only, …, declared, vanished.
    made_up
        Whether names were changed by :mod:`matcher.made_up`.
    """

    name: str
    family: str
    old: tuple[ParameterDef, ...]
    new: tuple[ParameterDef, ...]
    truth: Mapping[str, str | None]
    classes: Mapping[str, str]
    kinds: Mapping[str, str]
    made_up: bool = False


def read_case(folder: Path) -> Case:
    """One case from its folder; the family is the folder's name up to the first underscore."""
    truth = json.loads((folder / "truth.json").read_text())
    evidence = json.loads((folder / "evidence.json").read_text())
    old, new = (
        catalog_table.read((folder / name).read_bytes(), f"{folder.name}/{name}").parameters
        for name in ("catalog_old.json", "catalog_new.json")
    )
    return Case(
        folder.name,
        folder.name.split("_")[0],
        old,
        new,
        truth,
        {name: entry["class"] for name, entry in evidence.items()},
        {name: entry.get("kind") or "" for name, entry in evidence.items()},
    )


def read_cases(*roots: Path) -> list[Case]:
    """Every case below the folders given, by name."""
    folders = sorted(
        (folder for root in roots for folder in root.iterdir() if (folder / "truth.json").is_file()),
        key=lambda folder: folder.name,
    )
    return [read_case(folder) for folder in folders]
