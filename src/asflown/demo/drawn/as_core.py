"""Firmware definitions as the core's own catalog and notes."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from asflown.core.catalog import (
    Belonging,
    Catalog,
    CatalogSource,
    ChangeNotes,
    Choice,
    Consequence,
    ParameterDef,
    Release,
    ValueKind,
)
from asflown.demo.firmware.parameter import WIDTHS, Parameter
from asflown.demo.firmware.releases import Firmware


def definition_of(item: Parameter, *, bare: bool = False) -> ParameterDef:
    """A parameter as a catalog would state it.

    Parameters
    ----------
    bare
        As a bare factory listing would show it: name, places, factory value, nothing of its meaning.
    """
    default = item.printed(item.default[0]) if len(item.default) == 1 else None
    if bare:
        return ParameterDef(item.name, default=default, banks=item.banks, indexes=item.indexes)
    kind = _kind(item)
    is_number = item.type != "word"
    return ParameterDef(
        name=item.name,
        group=item.group,
        kind=kind,
        type=_type(item),
        unit=item.unit or None,
        minimum=item.low if is_number else None,
        maximum=item.high if is_number else None,
        default=default,
        choices=_labelled(item.choices),
        bits=_labelled(item.bits),
        decimals=item.decimals if item.is_float else None,
        description=item.text,
        role=item.role,
        factor=Decimal(item.factor) if item.factor else None,
        consequence=Consequence(item.consequence),
        consequence_why=item.why,
        belonging=Belonging(item.belonging),
        plain_values=_labelled(item.plain),
        unit_from=item.unit_from,
        slots=item.slots,
        redo=item.redo,
        needs=item.needs,
        banks=item.banks,
        indexes=item.indexes,
        volatile=item.volatile,
        read_only=item.read_only,
        reboot=item.reboot,
        private=item.private,
    )


def _labelled(labels: Mapping[str, str]) -> tuple[Choice, ...]:
    return tuple(Choice(value, label) for value, label in labels.items())


def _type(item: Parameter) -> str | None:
    if item.type == "word":
        return None
    return "Float" if item.is_float else f"{'Uint' if item.type[0] == 'u' else 'Int'}{WIDTHS[item.type]}"


def _kind(item: Parameter) -> ValueKind:
    if item.choices:
        return ValueKind.CHOICE
    if item.bits:
        return ValueKind.BITS
    return ValueKind.REAL if item.is_float else ValueKind.INTEGER


def release_of(firmware: Firmware, notes: ChangeNotes | None = None, *, bare: bool = False) -> Release:
    """A release as its folder would be read."""
    parameters = tuple(definition_of(item, bare=bare) for item in firmware.parameters)
    source = CatalogSource.FACTORY_LISTING if bare else CatalogSource.STATED
    return Release(
        firmware.id,
        firmware.family,
        firmware.version,
        Catalog(parameters, source),
        notes=(notes,) if notes else None,
    )
