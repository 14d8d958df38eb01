"""The two sides of a carry-over: what was found, and what the new release has."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from asflown.core.carry.dispositions import Found
from asflown.core.catalog import Catalog, ParameterDef
from asflown.core.record import Extent, Key, Record


@dataclass(frozen=True)
class _Places:
    """Keys that can be found though a listing's section words differ from the catalog's."""

    keys: tuple[Key, ...]

    @cached_property
    def exact(self) -> frozenset[Key]:
        return frozenset(self.keys)

    @cached_property
    def by_part(self) -> Mapping[tuple[str, str | None], tuple[Key, ...]]:
        found: dict[tuple[str, str | None], list[Key]] = {}
        for key in self.keys:
            found.setdefault((key.name, key.index), []).append(key)
        return {part: tuple(keys) for part, keys in found.items()}

    def locate(self, key: Key) -> Key | None:
        """The key itself, or the only one of that name and index when the section is a mere heading."""
        if key in self.exact:
            return key
        same = self.by_part.get((key.name, key.index), ())
        return same[0] if len(same) == 1 else None


@dataclass(frozen=True)
class OldSide:
    """What was found, with what is known of its parameters.

    Attributes
    ----------
    found
        Every setting, those that a changes-only listing implies included.
    """

    record: Record
    catalog: Catalog | None
    found: tuple[Found, ...]

    @cached_property
    def by_name(self) -> Mapping[str, tuple[Found, ...]]:
        """Found settings by name, in the order they were found."""
        groups: dict[str, list[Found]] = {}
        for item in self.found:
            groups.setdefault(item.key.name, []).append(item)
        return {name: tuple(items) for name, items in groups.items()}

    @cached_property
    def _places(self) -> _Places:
        return _Places(self.catalog_keys)

    @cached_property
    def catalog_keys(self) -> tuple[Key, ...]:
        """Keys with a factory value known from a listing, or else from the definitions."""
        if self.catalog is None:
            return ()
        return tuple(setting.key for setting in self.catalog.factory) or self.catalog.keys

    def definition(self, name: str) -> ParameterDef:
        """The definition, or an empty one where nothing is stated."""
        stated = self.catalog.by_name.get(name) if self.catalog else None
        return stated or ParameterDef(name)

    def factory(self, key: Key) -> str | None:
        """The old factory value, ``None`` where not stated."""
        if self.catalog is None:
            return None
        return self.catalog.factory_value(self._places.locate(key) or key)


def old_side(record: Record, catalog: Catalog | None) -> OldSide:
    """Complete a record with the settings a changes-only listing leaves at their factory values."""
    explicit = tuple(Found(setting.key, setting.value) for setting in record.settings)
    side = OldSide(record, catalog, explicit)
    if record.extent is not Extent.CHANGES_ONLY or catalog is None:
        return side
    shown = _Places(tuple(record.values))
    own = frozenset(side.catalog_keys)
    implied = tuple(
        Found(key, value, implied=True)
        for key in side.catalog_keys
        if not _is_shown(key, shown, own) and (value := side.factory(key)) is not None
    )
    return OldSide(record, catalog, explicit + implied)


def _is_shown(key: Key, shown: _Places, own: frozenset[Key]) -> bool:
    """Whether a listing shows a setting; what it shows of another bank is not this one."""
    there = shown.locate(key)
    return there is not None and (there == key or there not in own)


@dataclass(frozen=True)
class NewSide:
    """What the new release has.

    Attributes
    ----------
    keys
        Every setting the board will show; empty and ``is_known`` false when nobody has said.
    seen
        Names that the board's own factory listing shows; ``None`` when there is none.
    """

    catalog: Catalog | None
    factory_values: Mapping[Key, str]
    keys: tuple[Key, ...]
    is_known: bool
    is_seen: bool = False
    places: _Places = field(default_factory=lambda: _Places(()))

    @cached_property
    def names(self) -> frozenset[str]:
        """Names the new release has."""
        return frozenset(key.name for key in self.keys)

    def definition(self, name: str) -> ParameterDef:
        """The definition, or an empty one where nothing is stated."""
        stated = self.catalog.by_name.get(name) if self.catalog else None
        return stated or ParameterDef(name)

    def locate(self, key: Key) -> Key | None:
        """Where a setting stands in the new release; the key itself while nothing is known."""
        return self.places.locate(key) if self.is_known else key

    def factory(self, key: Key) -> str | None:
        """The new factory value, ``None`` where not stated."""
        if key in self.factory_values:
            return self.factory_values[key]
        return self.catalog.factory_value(key) if self.catalog else None


def new_side(catalog: Catalog | None, captured: Record | None) -> NewSide:
    """The new release, as its catalog states it and the board's own factory listing shows it."""
    shown: dict[Key, str] = {}
    if captured is not None:
        shown = dict(captured.values)
    elif catalog is not None:
        shown = dict(catalog.factory_values)
    keys = tuple(shown) or (catalog.keys if catalog else ())
    if shown and catalog and captured is not None and captured.extent is Extent.CHANGES_ONLY:
        keys = tuple(dict.fromkeys([*catalog.keys, *shown]))
    return NewSide(catalog, shown, keys, bool(keys), captured is not None, _Places(keys))


def unique(keys: Iterable[Key]) -> tuple[Key, ...]:
    """Each key once, in order."""
    return tuple(dict.fromkeys(keys))
