"""Catalogs learned from a factory-default listing: names, kinds, decimals and factory values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from asflown.core.catalog import Catalog, CatalogSource, ParameterDef, ValueKind
from asflown.core.listing import Listing
from asflown.core.record import Setting
from asflown.core.values import number
from asflown.formats import placeholder


def learn(listing: Listing) -> Catalog:
    """Learn a catalog from a listing of a board at its factory values.

    Nothing is known then but names, units where the listing prints them, kinds seen in the values,
    and the factory values themselves: no range, no choices, no consequence.
    """
    return learn_settings(listing.settings)


def learn_settings(settings: Iterable[Setting]) -> Catalog:
    """Learn a catalog from the settings of a factory listing."""
    settings = tuple(settings)
    groups: dict[str, list[Setting]] = {}
    for setting in settings:
        groups.setdefault(setting.key.name, []).append(setting)
    made = tuple(_learned(name, items) for name, items in groups.items())
    return Catalog(made, CatalogSource.FACTORY_LISTING, settings)


def _learned(name: str, items: list[Setting]) -> ParameterDef:
    values = [item.value for item in items]
    kind = _kind(values)
    decimals = None
    if kind is ValueKind.REAL:
        decimals = max(len(value.partition(".")[2]) for value in values)
    return ParameterDef(
        name=name,
        kind=kind,
        unit=next((item.unit for item in items if item.unit), None),
        default=values[0] if len(set(values)) == 1 else None,
        decimals=decimals,
        banks=tuple(dict.fromkeys(item.key.bank for item in items if item.key.bank is not None)),
        indexes=tuple(dict.fromkeys(item.key.index for item in items if item.key.index is not None)),
    )


def _kind(values: list[str]) -> ValueKind:
    """What the values look like; whole numbers stay unknown, they may be choices, bits or slots."""
    if all(number(value) is not None for value in values):
        pointed = any("." in value and "e" not in value.casefold() for value in values)
        return ValueKind.REAL if pointed else ValueKind.UNKNOWN
    if any(value and number(value) is None for value in values):
        return ValueKind.TEXT
    return ValueKind.UNKNOWN


def with_factory(catalog: Catalog, learned: Catalog) -> Catalog:
    """Lay a factory listing over a stated catalog: its values win, its unknown names are added.

    A stated name with the placeholder ``{n}`` becomes one definition for each name of the listing it fits.
    """
    places: Mapping[str, ParameterDef] = learned.by_name
    unknown = [item.name for item in learned.parameters if item.name not in catalog.by_name]
    stated = [
        made
        for item in catalog.parameters
        for made in placeholder.expanded(item, placeholder.numbers(item.name, unknown))
    ]
    known = {item.name for item in stated}
    added = tuple(item for item in learned.parameters if item.name not in known)
    parameters = tuple(_placed(item, places.get(item.name)) for item in stated)
    return replace(catalog, parameters=parameters + added, factory=learned.factory)


def _placed(stated: ParameterDef, seen: ParameterDef | None) -> ParameterDef:
    """A stated definition with the indexes a listing shows; a section may be a mere heading."""
    if seen is None:
        return stated
    return replace(stated, indexes=stated.indexes or seen.indexes)
