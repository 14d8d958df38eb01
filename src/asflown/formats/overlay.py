"""The overlay: what a catalog's standard has no key for (TOML of ours beside it)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from asflown.core.catalog import Catalog, Choice, ParameterDef
from asflown.errors import Fault, InputError
from asflown.formats import placeholder
from asflown.formats.hand_written import checked, load_toml, toml_lines

if TYPE_CHECKING:
    from asflown.formats.schemas import OverlayEntry, OverlayFile

_SAME = ("role", "factor", "consequence", "belonging", "unit_from", "slots", "redo", "decimals", "private")
_LISTS = ("needs", "banks", "indexes")


def apply(data: bytes, name: str, catalog: Catalog) -> Catalog:
    """Read an overlay and lay it over a catalog: all, then group, then parameter; the last one wins.

    Raises
    ------
    InputError
        With every fault; a name or group the catalog has not is one.
    """
    from asflown.formats.schemas import OverlayFile

    lines = toml_lines(data)
    written = checked(OverlayFile, load_toml(data, name), name, lines)
    faults = tuple(_unknown(written, catalog, name, lines))
    if faults:
        raise InputError(f"{len(faults)} names are not in the catalog", where=name, faults=faults)
    laid = [_laid(written, item) for item in catalog.parameters]
    parameters = tuple(made for item in laid for made in _numbered(item))
    return replace(catalog, parameters=parameters)


def _numbered(parameter: ParameterDef) -> tuple[ParameterDef, ...]:
    """One definition for each index of a name with the placeholder ``{n}``."""
    if placeholder.MARK not in parameter.name:
        return (parameter,)
    return placeholder.expanded(parameter, parameter.indexes)


def _unknown(
    written: OverlayFile, catalog: Catalog, name: str, lines: dict[tuple[str | int, ...], int]
) -> Iterator[Fault]:
    groups = {parameter.group for parameter in catalog.parameters}
    for word in written.parameter:
        if word not in catalog.by_name and not placeholder.numbers(word, catalog.by_name):
            where = f"{name}:{lines.get(('parameter', word), '?')} parameter.{word}"
            yield Fault("the catalog has no such parameter", where)
    for word in written.group:
        if word not in groups:
            yield Fault(
                "the catalog has no such group", f"{name}:{lines.get(('group', word), '?')} group.{word}"
            )


def _laid(written: OverlayFile, parameter: ParameterDef) -> ParameterDef:
    entries = (
        written.all,
        written.group.get(parameter.group or ""),
        *(entry for word, entry in written.parameter.items() if placeholder.numbers(word, [parameter.name])),
        written.parameter.get(parameter.name),
    )
    for entry in entries:
        if entry is not None:
            parameter = replace(parameter, **_changes(entry))
    return parameter


def _changes(entry: OverlayEntry) -> dict[str, Any]:
    made = {field: value for field in _SAME if (value := getattr(entry, field)) is not None}
    made |= {field: tuple(value) for field in _LISTS if (value := getattr(entry, field))}
    if entry.plain:
        made["plain_values"] = tuple(Choice(value, label) for value, label in entry.plain.items())
    if entry.why is not None:
        made["consequence_why"] = entry.why
    return made
