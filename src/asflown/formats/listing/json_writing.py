"""Writing settings as JSON in the layout another JSON listing had."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from asflown.core.listing import Listing
from asflown.core.record import Key, Setting
from asflown.errors import InputError
from asflown.formats.listing.json_listing import _tables, key_of
from asflown.formats.listing.json_text import Scalar, Step

_LITERAL = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][-+]?\d+)?|true|false|null")


class _Raw(str):
    """A literal to print as it stands."""


def write_json(listing: Listing, settings: Sequence[Setting]) -> str:
    """The settings as JSON text."""
    scalars: tuple[Scalar, ...] = listing.writer["scalars"]
    used: dict[int, Key] = listing.writer["used"]
    by_key = {key: scalars[number] for number, key in used.items()}
    tables = _tables(list(scalars))
    top: Any = [] if scalars and scalars[0].path and isinstance(scalars[0].path[0], int) else {}
    tree = _Tree(top)
    quoted = _quotes_numbers(scalars, used)
    rows: dict[tuple[Step, ...], int] = {}
    for setting in settings:
        scalar = by_key.get(setting.key)
        literal = _literal(setting.value, scalar, quoted)
        table = _table_of(setting.key, scalar, tables)
        if table is not None:
            number = rows[table] = rows.get(table, -1) + 1
            for name, field in _row(setting, scalar, scalars, tables[table], literal):
                tree.put((*table, number, name), field)
            continue
        path = scalar.path if scalar is not None else _path(setting.key, by_key)
        tree.put(path, literal)
    text = _dump(tree.done(), listing.writer["json"])
    _check(text, settings)
    return text


def _quotes_numbers(scalars: Sequence[Scalar], used: dict[int, Key]) -> bool:
    numbers = [scalars[n] for n in used if _LITERAL.fullmatch(scalars[n].text)]
    return bool(numbers) and sum(s.is_string for s in numbers) > 0.5 * len(numbers)


def _literal(value: str, scalar: Scalar | None, quoted: bool) -> _Raw:
    string = scalar.is_string if scalar is not None else quoted
    if not string and (_LITERAL.fullmatch(value) or value in ("{}", "[]")):
        return _Raw(value)
    return _Raw(json.dumps(value, ensure_ascii=False))


def _table_of(
    key: Key, scalar: Scalar | None, tables: dict[tuple[Step, ...], tuple[str, str]]
) -> tuple[Step, ...] | None:
    if scalar is not None:
        return scalar.path[:-2] if len(scalar.path) >= 2 and scalar.path[:-2] in tables else None
    return next((p for p in tables if (".".join(map(str, p)) or None) == key.bank), None)


def _row(
    setting: Setting, scalar: Scalar | None, scalars: Sequence[Scalar], keys: tuple[str, str], literal: _Raw
) -> list[tuple[str, _Raw]]:
    fields: dict[str, _Raw] = {keys[0]: _Raw(json.dumps(setting.key.name, ensure_ascii=False))}
    if scalar is not None:
        for other in scalars:
            if other.path[:-1] == scalar.path[:-1]:
                text = json.dumps(other.text, ensure_ascii=False) if other.is_string else other.text
                fields[str(other.path[-1])] = _Raw(text)
    elif setting.unit is not None:
        fields["unit"] = _Raw(json.dumps(setting.unit, ensure_ascii=False))
    fields[keys[1]] = literal
    return list(fields.items())


def _path(key: Key, by_key: dict[Key, Scalar]) -> tuple[Step, ...]:
    size = 1 + (len(key.index.split(",")) if key.index is not None else 0)
    base: tuple[Step, ...] = tuple(key.bank.split(".")) if key.bank else ()
    for other, scalar in by_key.items():
        if other.bank == key.bank:
            depth = 1 + (len(other.index.split(",")) if other.index is not None else 0)
            base = scalar.path[:-depth]
            break
    index: tuple[Step, ...] = (
        tuple(int(part) for part in key.index.split(",")) if size > 1 and key.index else ()
    )
    return (*base, key.name, *index)


class _Tree:
    """Nested dictionaries and lists, filled by path; list places are closed up at the end."""

    def __init__(self, top: Any) -> None:
        self.is_list = isinstance(top, list)
        self.root: dict[Step, Any] = {}

    def put(self, path: tuple[Step, ...], literal: _Raw) -> None:
        node = self.root
        for step in path[:-1]:
            node = node.setdefault(step, {})
            if not isinstance(node, dict):
                raise InputError(
                    f"{path[-1]!r} would stand inside a plain value", next_step="rename one of the two"
                )
        node[path[-1]] = literal

    def done(self) -> Any:
        if not self.root:
            return [] if self.is_list else {}
        return _close(self.root)


def _close(node: Any) -> Any:
    if isinstance(node, _Raw):
        return node
    if node and all(isinstance(step, int) for step in node):
        return [_close(node[step]) for step in sorted(node)]
    return {str(step): _close(value) for step, value in node.items()}


def _dump(tree: Any, original: str) -> str:
    found = re.search(r"[{\[]\n([ \t]+)\S", original)
    if found is None:
        comma = ", " if ", " in original else ","
        colon = ": " if '": ' in original else ":"
        return _flat(tree, comma, colon) + "\n"
    return _deep(tree, found.group(1), "") + "\n"


def _flat(node: Any, comma: str, colon: str) -> str:
    if isinstance(node, _Raw):
        return str(node)
    if isinstance(node, list):
        return "[" + comma.join(_flat(item, comma, colon) for item in node) + "]"
    rows = (f"{json.dumps(k, ensure_ascii=False)}{colon}{_flat(v, comma, colon)}" for k, v in node.items())
    return "{" + comma.join(rows) + "}"


def _deep(node: Any, step: str, lead: str) -> str:
    if isinstance(node, _Raw):
        return str(node)
    inner = lead + step
    if isinstance(node, list):
        rows = [inner + _deep(item, step, inner) for item in node]
        return "[\n" + ",\n".join(rows) + f"\n{lead}]" if rows else "[]"
    rows = [f"{inner}{json.dumps(k, ensure_ascii=False)}: {_deep(v, step, inner)}" for k, v in node.items()]
    return "{\n" + ",\n".join(rows) + f"\n{lead}}}" if rows else "{}"


def _check(text: str, settings: Sequence[Setting]) -> None:
    from asflown.formats.listing.reading import read

    back = {s.key: s.value for s in read(text.encode()).settings} if settings else {}
    wrong = [s for s in settings if back.get(s.key) != s.value]
    if wrong:
        raise InputError(
            f"{len(wrong)} setting(s) cannot be written in this JSON's layout, first: {wrong[0].key}",
            next_step="see that indexes count from 0 without gap and banks are objects of the original",
        )


__all__ = ["key_of", "write_json"]
