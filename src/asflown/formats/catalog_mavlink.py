"""Catalogs in the open MAVLink component-metadata parameter JSON, plain or ``.xz``."""

from __future__ import annotations

import lzma
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from asflown.core.catalog import Catalog, CatalogSource, Choice, ParameterDef, ValueKind
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import LIMIT, load_json

#: Type words of the standard (component_metadata/parameter.schema.json of the MAVLink project, draft-07).
TYPES = frozenset({"Uint8", "Int8", "Uint16", "Int16", "Uint32", "Int32", "Float"})
#: The only keys the standard allows (additionalProperties is false there).
KEYS = frozenset(
    {"name", "type", "shortDesc", "longDesc", "units", "default", "decimalPlaces", "min", "max", "increment"}
    | {"rebootRequired", "group", "category", "volatile", "values", "bitmask", "readOnly"}
)
NAME = re.compile(r"[.\-a-zA-Z0-9_{}]{1,16}")
#: The standard's own default of decimalPlaces.
_DEFAULT_DECIMALS = 7
#: More than any 32-bit float holds; a bound of ours, the standard states none.
_MOST_DECIMALS = 30


def read(data: bytes, name: str) -> Catalog:
    """Read a catalog.

    A name with the index placeholder ``{n}`` stands for a group of parameters; how many there are is
    said by the overlay or by a factory listing, so it is kept as an index group without indexes.

    Raises
    ------
    InputError
        With every fault: keys the standard does not have (role, factor, consequence and needs belong
        into an overlay file beside the catalog), wrong types, a name twice, NaN.
    """
    tree = load_json(unpacked(data, name), name)
    items = _items(tree, name)
    faults: list[Fault] = []
    parameters: list[ParameterDef] = []
    seen: set[str] = set()
    for number, item in enumerate(items, 1):
        found = list(_faults(item, f"{name} parameters[{number}]", seen))
        faults += found
        if not found:
            seen.add(item["name"])
            parameters.append(_parameter(item))
    if faults:
        raise InputError(
            f"{len(faults)} {'thing is' if len(faults) == 1 else 'things are'}"
            " not as the open parameter metadata standard has it",
            where=name,
            faults=tuple(faults[:50]),
            next_step="role, factor, consequence, belonging and needs go into overlay.toml beside it",
        )
    return Catalog(tuple(parameters), CatalogSource.STATED)


def looks_like(tree: object) -> bool:
    """Whether a JSON document is of this kind: an object with ``parameters``."""
    return isinstance(tree, dict) and isinstance(tree.get("parameters"), list)


def unpacked(data: bytes, name: str) -> bytes:
    """Decompress ``.xz``; at most :data:`LIMIT` bytes come out."""
    if not data.startswith(b"\xfd7zXZ\x00"):
        return data
    try:
        unpacker = lzma.LZMADecompressor(format=lzma.FORMAT_XZ, memlimit=256 * 1024 * 1024)
        made = unpacker.decompress(data, max_length=LIMIT + 1)
    except (lzma.LZMAError, MemoryError) as error:
        raise InputError(f"is damaged as an xz file: {error}", where=name) from None
    if len(made) > LIMIT:
        raise InputError(f"unpacks to more than {LIMIT} bytes", where=name)
    if not unpacker.eof:
        raise InputError("is cut short as an xz file", where=name, next_step="fetch the file again")
    return made


def _items(tree: object, name: str) -> list[Any]:
    if not isinstance(tree, dict) or not isinstance(tree.get("parameters"), list):
        raise InputError("has no list 'parameters'", where=name)
    version = tree.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(f"'version' must be a whole number, got {str(version)[:40]!r}", where=name)
    return list(tree["parameters"])


_EXPECTED: dict[str, tuple[tuple[type, ...], str]] = {
    "type": ((str,), "a type word"),
    "shortDesc": ((str,), "a text"),
    "longDesc": ((str,), "a text"),
    "units": ((str,), "a text"),
    "group": ((str,), "a text"),
    "category": ((str,), "a text"),
    "default": ((int, Decimal), "a number"),
    "min": ((int, Decimal), "a number"),
    "max": ((int, Decimal), "a number"),
    "increment": ((int, Decimal), "a number"),
    "decimalPlaces": ((int,), "a whole number"),
    "rebootRequired": ((bool,), "true or false"),
    "volatile": ((bool,), "true or false"),
    "readOnly": ((bool,), "true or false"),
    "values": ((list,), "a list"),
    "bitmask": ((list,), "a list"),
}


def _faults(item: object, where: str, seen: set[str]) -> Iterator[Fault]:
    if not isinstance(item, dict):
        yield Fault("is no object", where)
        return
    name = item.get("name")
    if not isinstance(name, str) or not NAME.fullmatch(name):
        yield Fault(f"name {str(name)[:40]!r} does not match {NAME.pattern}", where)
    elif name in seen:
        yield Fault(f"the name '{name}' stands twice", where)
    for key, value in item.items():
        if key not in KEYS:
            yield Fault(f"'{key}' is no key of the standard", where)
        elif key in _EXPECTED:
            kinds, says = _EXPECTED[key]
            if not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds):
                yield Fault(f"{key} must be {says}, got {str(value)[:40]!r}", where)
    if isinstance(item.get("type"), str) and item["type"] not in TYPES:
        yield Fault(f"type '{item['type'][:40]}' is none of {', '.join(sorted(TYPES))}", where)
    decimals = item.get("decimalPlaces")
    if isinstance(decimals, int) and not 0 <= decimals <= _MOST_DECIMALS:
        yield Fault(f"decimalPlaces must be from 0 to {_MOST_DECIMALS}, got {str(decimals)[:40]}", where)
    yield from _choice_faults(item, where)


def _choice_faults(item: dict[str, Any], where: str) -> Iterator[Fault]:
    for key, field in (("values", "value"), ("bitmask", "index")):
        entries = item.get(key)
        for entry in entries if isinstance(entries, list) else ():
            number = entry.get(field) if isinstance(entry, dict) else None
            if not isinstance(number, int | Decimal) or isinstance(number, bool):
                yield Fault(f"{key} has an entry without a number '{field}'", where)
            elif field == "index" and not (isinstance(number, int) and 0 <= number < 64):
                yield Fault(f"bit {number} is not between 0 and 63", where)


def _parameter(item: dict[str, Any]) -> ParameterDef:
    word = item.get("type", "Float")
    values = tuple(
        Choice(_text(entry["value"]), str(entry.get("description", ""))) for entry in item.get("values", ())
    )
    bits = tuple(
        Choice(_text(entry["index"]), str(entry.get("description", ""))) for entry in item.get("bitmask", ())
    )
    description = " ".join(text for text in (item.get("shortDesc"), item.get("longDesc")) if text)
    low, high = _decimal(item.get("min")), _decimal(item.get("max"))
    kind = _kind(word, values, bits, low, high)
    default = item.get("default")
    decimals = item.get("decimalPlaces", _DEFAULT_DECIMALS if kind is ValueKind.REAL else None)
    return ParameterDef(
        name=item["name"],
        group=item.get("group"),
        kind=kind,
        type=word,
        unit=item.get("units") or None,
        minimum=low,
        maximum=high,
        default=None if default is None else _text(default),
        choices=values if kind is ValueKind.CHOICE else (),
        plain_values=values if kind in (ValueKind.INTEGER, ValueKind.REAL) else (),
        bits=bits,
        decimals=decimals if kind is ValueKind.REAL else None,
        increment=_decimal(item.get("increment")),
        description=description or None,
        volatile=bool(item.get("volatile")),
        read_only=bool(item.get("readOnly")),
        reboot=bool(item.get("rebootRequired")),
    )


def _kind(
    word: str, values: tuple[Choice, ...], bits: tuple[Choice, ...], low: Decimal | None, high: Decimal | None
) -> ValueKind:
    """How values are understood.

    Named values of a whole number are its choices, unless its range goes well beyond them: then they
    are plain values (off, automatic) of a number.
    """
    if bits:
        return ValueKind.BITS
    if word == "Float":
        return ValueKind.REAL
    is_wider = low is not None and high is not None and high - low + 1 > 2 * len(values)
    return ValueKind.CHOICE if values and not is_wider else ValueKind.INTEGER


def _decimal(value: int | Decimal | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _text(value: int | Decimal) -> str:
    return f"{value:f}" if isinstance(value, Decimal) else str(value)
