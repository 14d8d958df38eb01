"""Reading what people write by hand: TOML and JSON with every fault at once and its line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from asflown.errors import Fault, InputError
from asflown.formats import toml_places

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

    Model = TypeVar("Model", bound=BaseModel)

#: Largest hand-written file read, bytes.
LIMIT = 64 * 1024 * 1024

#: The range of a 64-bit float with its denormals (IEEE 754 binary64); plain notation stays short.
_WIDEST_EXPONENT = 330

_Path = tuple[str | int, ...]


def text_of(data: bytes, name: str) -> str:
    """UTF-8 text, with or without a byte order mark.

    Raises
    ------
    InputError
        When it is too large or no UTF-8.
    """
    if len(data) > LIMIT:
        raise InputError(f"{len(data)} bytes; at most {LIMIT} are read", where=name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(
            f"byte {data[error.start]:#04x} is no UTF-8 text",
            where=f"{name}:{line}",
            next_step="save the file as UTF-8",
        ) from None


class _NotStored(ValueError):
    """A number no device stores."""

    def __init__(self, literal: str, why: str, quote: str = "'") -> None:
        super().__init__(f"{quote}{literal[:40]}{quote} {why}")
        self.literal = literal


def _number(text: str) -> Decimal:
    if not re.search(r"\d", text):
        raise _NotStored(text, "is no number that can be stored")
    try:
        value: Decimal | None = Decimal(text)
    except InvalidOperation:
        value = None
    if value is None or abs(value.adjusted()) > _WIDEST_EXPONENT:
        raise _NotStored(text, "is beyond what any device stores")
    return value


def _place(name: str, text: str, error: Exception) -> str:
    line = toml_places.line_of(text, error.literal) if isinstance(error, _NotStored) else None
    return f"{name}:{line}" if line else name


def load_toml(data: bytes, name: str) -> dict[str, Any]:
    """Parse TOML; numbers with a point become exact decimals; duplicate keys and NaN are refused."""
    text = text_of(data, name)
    deep = toml_places.too_deep(text)
    if deep is not None:
        what = f"a dotted key of more than {toml_places.DEEPEST} names"
        raise InputError(what, where=f"{name}:{deep}", next_step="correct the line")
    try:
        return tomllib.loads(text, parse_float=_number)
    except (ValueError, RecursionError) as error:
        twice = _written_twice(text) if "overwrite" in str(error) else None
        if twice is not None:
            what = f"{twice[0]} is written twice, first in line {twice[1]}"
            raise InputError(what, where=f"{name}:{twice[2]}", next_step="keep one of them") from None
        where = _toml_place(name, text, error)
        raise InputError(_toml_words(error), where=where, next_step="correct the line") from None


def _toml_words(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "nested too deep"
    words = re.sub(r"\s*\(at .*\)$", "", str(error).partition(";")[0])[:200]
    words = words[:1].lower() + words[1:]
    return words.replace(
        "invalid value", "a value is wanted here: a number, true, false, a text in quotes, a list"
    )


def _toml_place(name: str, text: str, error: Exception) -> str:
    match = re.search(r"at line (\d+)", str(error))
    if match:
        return f"{name}:{match[1]}"
    if "at end of document" in str(error):
        return f"{name}:{len(text.splitlines()) or 1}"
    return _place(name, text, error)


def load_json(data: bytes, name: str) -> Any:
    """Parse JSON; numbers with a point become exact decimals; duplicate keys and NaN are refused."""
    text = text_of(data, name)

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        made = dict(items)
        if len(made) < len(items):
            seen: set[str] = set()
            twice = next(key for key, _ in items if key in seen or seen.add(key))  # type: ignore[func-returns-value]
            raise InputError(f"the key '{twice[:80]}' stands twice in one object", where=name)
        return made

    def refuse(word: str) -> NoReturn:
        raise _NotStored(word, "is no number that can be stored", quote="")

    half = _half_a_character(text)
    if half is not None:
        what = "a text holds half a character (a lone surrogate), which no file or terminal can show"
        raise InputError(what, where=f"{name}:{half}", next_step="take it out of the text")
    try:
        return json.loads(text, object_pairs_hook=pairs, parse_float=_number, parse_constant=refuse)
    except json.JSONDecodeError as error:
        where = f"{name}:{error.lineno} column {error.colno}"
        raise InputError(error.msg.lower(), where=where, next_step="correct the line") from None
    except RecursionError:
        raise InputError("cannot be read: nested too deep", where=name) from None
    except ValueError as error:
        what = str(error).partition(";")[0][:120]
        raise InputError(f"cannot be read: {what}", where=_place(name, text, error)) from None


_ESCAPE = re.compile(
    r"(?:\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2})|(\\u[dD][89a-fA-F][0-9a-fA-F]{2})|\\.",
    re.DOTALL,
)


def _half_a_character(text: str) -> int | None:
    """The line of an escape that stands for half of a surrogate pair (RFC 8259, 8.2)."""
    if "\\u" not in text:
        return None
    half = next((match for match in _ESCAPE.finditer(text) if match[1]), None)
    return None if half is None else text.count("\n", 0, half.start()) + 1


def checked(model: type[Model], tree: object, name: str, lines: Mapping[_Path, int] | None = None) -> Model:
    """Validate against a model; every fault at once, with its line where it is known.

    Raises
    ------
    InputError
        With one `Fault` for each thing wrong.
    """
    from pydantic import ValidationError

    try:
        return model.model_validate(tree)
    except ValidationError as error:
        faults = _faults(error, tree, name, lines or {})
    raise InputError(
        f"{len(faults)} thing{'s' if len(faults) > 1 else ''} to correct",
        where=name,
        faults=faults,
        next_step="correct the file and bring it again",
    )


def _faults(error: ValidationError, tree: object, name: str, lines: Mapping[_Path, int]) -> tuple[Fault, ...]:
    made: dict[Fault, None] = {}
    for item in error.errors(include_url=False):
        path = _in_file(item["loc"], tree)
        made[Fault(_words(item), _where(path, name, lines))] = None
    return tuple(made)


def _in_file(path: _Path, tree: object) -> _Path:
    """A fault's path without the parts that name a branch of a union: those are no places in the file."""
    node, made = tree, []
    for number, part in enumerate(path):
        if isinstance(node, dict) and (part in node or number == len(path) - 1):
            node = node.get(part)
        elif isinstance(node, list) and isinstance(part, int) and part < len(node):
            node = node[part]
        else:
            continue
        made.append(part)
    return tuple(made)


def _words(item: Any) -> str:
    kind, given = item["type"], item.get("input")
    if kind == "extra_forbidden":
        return "is no key of this file"
    if kind == "missing":
        return "is missing"
    message = str(item["msg"]).removeprefix("Value error, ")
    shown = "" if isinstance(given, dict | list) else f", got {_short(given)!r}"
    return message[:1].lower() + message[1:] + shown


def _short(given: object) -> str:
    """What was given, cut; a whole number too long for Python to print is told as hexadecimal."""
    if isinstance(given, int) and given.bit_length() > 400:
        return hex(given)[:60]
    return str(given)[:60]


def _where(path: _Path, name: str, lines: Mapping[_Path, int]) -> str:
    line = next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), None)
    field = ""
    for part in path:
        field += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if field else str(part)
    return f"{name}:{line} {field}" if line else f"{name} {field}".strip()


def toml_lines(data: bytes) -> dict[_Path, int]:
    """Line number of each table and key of a TOML file, by path; arrays of tables count from 0."""
    lines: dict[_Path, int] = {}
    for path, number in toml_places.places(data.decode("utf-8-sig", "replace")):
        lines.setdefault(path, number)
    return lines


def _written_twice(text: str) -> tuple[str, int, int] | None:
    """A key or table that stands twice: its name and both lines."""
    lines: dict[_Path, int] = {}
    for path, number in toml_places.places(text):
        if path in lines:
            return ".".join(map(str, path)), lines[path], number
        lines[path] = number
    return None
