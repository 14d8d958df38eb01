"""Reading what people write by hand: TOML and JSON with every fault at once and its line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from asflown.errors import Fault, InputError

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


def _number(text: str) -> Decimal:
    if not re.search(r"\d", text):
        raise ValueError(f"'{text}' is no number that can be stored")
    value = Decimal(text)
    if abs(value.adjusted()) > _WIDEST_EXPONENT:
        raise ValueError(f"'{text[:40]}' is beyond what any device stores")
    return value


def load_toml(data: bytes, name: str) -> dict[str, Any]:
    """Parse TOML; numbers with a point become exact decimals; duplicate keys and NaN are refused."""
    text = text_of(data, name)
    try:
        return tomllib.loads(text, parse_float=_number)
    except (ValueError, RecursionError) as error:
        twice = _written_twice(data) if "overwrite" in str(error) else None
        if twice is not None:
            what = f"{twice[0]} is written twice, first in line {twice[1]}"
            raise InputError(what, where=f"{name}:{twice[2]}", next_step="keep one of them") from None
        raise InputError(
            _toml_words(str(error)), where=_toml_place(name, str(error)), next_step="correct the line"
        ) from None


def _toml_words(message: str) -> str:
    words = re.sub(r"\s*\(at .*\)$", "", message)[:200] or "nested too deep"
    return words[:1].lower() + words[1:]


def _toml_place(name: str, message: str) -> str:
    match = re.search(r"at line (\d+)", message)
    return f"{name}:{match[1]}" if match else name


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
        raise InputError(f"{word} is no number that can be stored", where=name)

    try:
        return json.loads(text, object_pairs_hook=pairs, parse_float=_number, parse_constant=refuse)
    except json.JSONDecodeError as error:
        where = f"{name}:{error.lineno} column {error.colno}"
        raise InputError(error.msg.lower(), where=where, next_step="correct the line") from None
    except (RecursionError, ValueError) as error:
        raise InputError(f"cannot be read: {str(error)[:120] or 'nested too deep'}", where=name) from None


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
        faults = _faults(error, name, lines or {})
    raise InputError(
        f"{len(faults)} thing{'s' if len(faults) > 1 else ''} to correct",
        where=name,
        faults=faults,
        next_step="correct the file and bring it again",
    )


def _faults(error: ValidationError, name: str, lines: Mapping[_Path, int]) -> tuple[Fault, ...]:
    made: dict[Fault, None] = {}
    for item in error.errors(include_url=False):
        path = tuple(part for part in item["loc"] if not _is_branch(part))
        made[Fault(_words(item), _where(path, name, lines))] = None
    return tuple(made)


def _is_branch(part: str | int) -> bool:
    """Whether a part of a fault's path names one branch of a union, not a place in the file."""
    return isinstance(part, str) and bool(
        re.match(r"(str|int|float|decimal|list|tuple|dict|constrained|function-|lax)\b", part)
    )


def _words(item: Any) -> str:
    kind, given = item["type"], item.get("input")
    if kind == "extra_forbidden":
        return "is no key of this file"
    if kind == "missing":
        return "is missing"
    message = str(item["msg"]).removeprefix("Value error, ")
    shown = "" if isinstance(given, dict | list) else f", got {str(given)[:60]!r}"
    return message[:1].lower() + message[1:] + shown


def _where(path: _Path, name: str, lines: Mapping[_Path, int]) -> str:
    line = next((lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in lines), None)
    field = ""
    for part in path:
        field += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if field else str(part)
    return f"{name}:{line} {field}" if line else f"{name} {field}".strip()


_HEADER = re.compile(r"\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(
    r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*="""
)


def toml_lines(data: bytes) -> dict[_Path, int]:
    """Line number of each table and key of a TOML file, by path; arrays of tables count from 0."""
    lines: dict[_Path, int] = {}
    for path, number in _places(data):
        lines.setdefault(path, number)
    return lines


def _written_twice(data: bytes) -> tuple[str, int, int] | None:
    """A key or table that stands twice: its name and both lines."""
    lines: dict[_Path, int] = {}
    for path, number in _places(data):
        if path in lines:
            return ".".join(map(str, path)), lines[path], number
        lines[path] = number
    return None


def _places(data: bytes) -> Iterator[tuple[_Path, int]]:
    """Path and line of each table header and key, in order."""
    counts: dict[_Path, int] = {}
    here: _Path = ()
    for number, text in enumerate(data.decode("utf-8-sig", "replace").split("\n"), 1):
        header = _HEADER.match(text.rstrip("\r"))
        if header:
            here = _header_path(header, counts)
            yield here, number
            continue
        key = _KEY.match(text)
        if key:
            yield (*here, *_names(key[1])), number


def _header_path(header: re.Match[str], counts: dict[_Path, int]) -> _Path:
    names = _names(header[2])
    path: _Path = ()
    for depth, part in enumerate(names):
        path = (*path, part)
        is_last = depth == len(names) - 1
        if header[1] == "[[" and is_last:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _names(text: str) -> tuple[str, ...]:
    parts = re.findall(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""", text)
    return tuple(part.strip("\"'") for part in parts)
