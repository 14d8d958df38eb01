"""Catalogs as a CSV table or a plain JSON list, one entry a parameter, most columns optional."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from asflown.core.catalog import (
    Belonging,
    Catalog,
    CatalogSource,
    Choice,
    Consequence,
    ParameterDef,
    ValueKind,
)
from asflown.core.values import number
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import load_json, text_of

COLUMNS = frozenset(
    {"name", "group", "type", "units", "min", "max", "default", "choices", "description", "role", "factor"}
    | {"consequence", "belonging", "decimals", "banks", "indexes", "plain"}
)
#: Type words met in catalogs (common practice, no source).
_KINDS = {
    ValueKind.FLAG: "bool boolean flag onoff switch",
    ValueKind.INTEGER: "int integer uint uint8 uint16 uint32 uint64 int8 int16 int32 int64 long short byte",
    ValueKind.REAL: "float real double number decimal float32 float64",
    ValueKind.CHOICE: "enum choice choices option",
    ValueKind.BITS: "bits bitmask bitfield mask",
    ValueKind.TEXT: "str string text list dict multi multistr uri host hostaddr path json",
}
_KIND_OF = {word: kind for kind, words in _KINDS.items() for word in words.split()}


def read(data: bytes, name: str) -> Catalog:
    """Read a catalog; JSON when the text begins with a bracket, CSV otherwise.

    Raises
    ------
    InputError
        With every fault.
    """
    rows = list(
        _json_rows(data, name)
        if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"[", b"{")
        else _csv_rows(data, name)
    )
    faults: list[Fault] = []
    made: list[ParameterDef] = []
    seen: set[str] = set()
    remarks: list[str] = []
    for where, row in rows:
        if row.get("name") == "" and any(value for value in row.values()):
            remarks.append(f"{where}: an entry without a name is passed over")
            continue
        found = list(_faults(row, where, seen))
        faults += found
        if not found:
            seen.add(row["name"])
            made.append(_parameter(row))
    if faults:
        raise InputError(
            f"{len(faults)} thing{'s' if len(faults) > 1 else ''} to correct",
            where=name,
            faults=tuple(faults[:50]),
            next_step="correct the table",
        )
    if not made:
        raise InputError("holds no parameter", where=name, next_step="give a catalog that names some")
    return Catalog(tuple(made), CatalogSource.STATED, remarks=tuple(remarks))


def _json_rows(data: bytes, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    tree = load_json(data, name)
    if isinstance(tree, dict):
        tree = tree.get("parameters")
    if not isinstance(tree, list):
        raise InputError(
            "is no list of parameters", where=name, next_step="make it a list of objects, each with a name"
        )
    for position, item in enumerate(tree, 1):
        where = f"{name} [{position}]"
        if not isinstance(item, dict):
            raise InputError("is no object", where=where, next_step="make it an object with a name")
        yield where, item


def _csv_rows(data: bytes, name: str) -> Iterator[tuple[str, dict[str, Any]]]:
    text = text_of(data, name)
    sample = text[:4096]
    separator = max(",;\t", key=lambda sign: sample.split("\n", 1)[0].count(sign))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        header = [cell.strip().casefold() for cell in next(reader, [])]
        if "name" not in header:
            raise InputError(
                "the first line has no column 'name'", where=f"{name}:1", next_step="name the columns in it"
            )
        if len(set(header)) < len(header):
            raise InputError("a column stands twice", where=f"{name}:1", next_step="leave each column once")
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            if len(row) > len(header):
                raise InputError(
                    f"{len(row)} cells, the head has {len(header)}", where=f"{name}:{reader.line_num}"
                )
            cells = {key: cell.strip() or None for key, cell in zip(header, row, strict=False)}
            yield f"{name}:{reader.line_num}", cells
    except csv.Error as error:
        raise InputError(str(error), where=f"{name}:{reader.line_num}") from None


def _faults(row: Mapping[str, Any], where: str, seen: set[str]) -> Iterator[Fault]:
    name = row.get("name")
    if not isinstance(name, str) or not name.strip():
        yield Fault("has no name", where)
    elif name in seen:
        yield Fault(f"the name '{name}' stands twice", where)
    for key in row:
        if key not in COLUMNS:
            yield Fault(f"'{str(key)[:40]}' is none of the columns {', '.join(sorted(COLUMNS))}", where)
    for key in ("min", "max", "factor"):
        if row.get(key) is not None and _number(row[key]) is None:
            yield Fault(f"{key} must be a number, got {str(row[key])[:40]!r}", where)
    decimals = row.get("decimals")
    if decimals is not None and not re.fullmatch(r"\d|1[0-2]", str(decimals)):
        yield Fault(f"decimals must be a whole number from 0 to 12, got {str(decimals)[:40]!r}", where)
    for key, allowed in (("consequence", Consequence), ("belonging", Belonging)):
        if row.get(key) is not None and str(row[key]) not in set(allowed):
            yield Fault(f"{key} must be one of {', '.join(allowed)}, got {str(row[key])[:40]!r}", where)


def _number(value: object) -> Decimal | None:
    if isinstance(value, bool):
        return None
    return value if isinstance(value, Decimal) else number(str(value))


def _parameter(row: Mapping[str, Any]) -> ParameterDef:
    choices = _choices(row.get("choices"))
    word = row.get("type")
    kind = _KIND_OF.get(re.sub(r"[^a-z0-9]", "", str(word).casefold().removesuffix("opt")), ValueKind.UNKNOWN)
    if choices and kind in (ValueKind.UNKNOWN, ValueKind.INTEGER, ValueKind.TEXT):
        kind = ValueKind.CHOICE
    decimals = _number(row.get("decimals"))
    return ParameterDef(
        name=row["name"],
        group=_plain(row.get("group")),
        kind=kind,
        type=_plain(word),
        unit=_plain(row.get("units")),
        minimum=_number(row["min"]) if row.get("min") is not None else None,
        maximum=_number(row["max"]) if row.get("max") is not None else None,
        default=_value(row.get("default")),
        choices=choices if kind is not ValueKind.BITS else (),
        bits=choices if kind is ValueKind.BITS else (),
        description=_plain(row.get("description")),
        role=_plain(row.get("role")),
        factor=_number(row["factor"]) if row.get("factor") is not None else None,
        consequence=Consequence(row.get("consequence") or Consequence.UNKNOWN),
        belonging=Belonging(row.get("belonging") or Belonging.UNKNOWN),
        decimals=int(decimals) if decimals is not None else None,
        banks=tuple(_split(row.get("banks"))),
        indexes=tuple(_split(row.get("indexes"))),
        plain_values=_choices(row.get("plain")),
    )


def _plain(value: object) -> str | None:
    return None if value is None or value == "" else str(value)


def _value(value: object) -> str | None:
    """A default as a listing would print it."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value) if isinstance(value, int) else json.dumps(value, default=str, ensure_ascii=False)


def _split(value: object) -> Iterable[str]:
    if value is None:
        return ()
    if isinstance(value, list):
        return (str(item) for item in value)
    return (part.strip() for part in re.split(r"[|;]", str(value)) if part.strip())


def _choices(value: object) -> tuple[Choice, ...]:
    """Choices of a list, a mapping, pairs, or a text such as ``0=off|1=on`` or ``off|on``."""
    if isinstance(value, Mapping):
        return tuple(Choice(str(key), str(label)) for key, label in value.items())
    if isinstance(value, list):
        return tuple(_one_choice(item) for item in value)
    made = []
    for part in _split(value):
        key, sign, label = part.partition("=")
        made.append(Choice(key.strip(), label.strip() if sign else key.strip()))
    return tuple(made)


def _one_choice(item: object) -> Choice:
    if isinstance(item, Mapping):
        value = str(item.get("value", item.get("name", "")))
        return Choice(value, str(item.get("label") or item.get("description") or value))
    if isinstance(item, list) and item:
        return Choice(str(item[0]), str(item[1] if len(item) > 1 else item[0]))
    text = _value(item) or ""
    return Choice(text, text)
