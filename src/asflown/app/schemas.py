"""The JSON Schemas of the files people write."""

from __future__ import annotations

from typing import Any

from asflown.errors import UsageError


def names() -> tuple[str, ...]:
    """Names of the files that have a schema."""
    from asflown.formats.schemas import FILES

    return tuple(FILES)


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema of one kind of file.

    Raises
    ------
    UsageError
        When there is none of that name.
    """
    from asflown.formats.schemas import json_schema

    if name not in names():
        raise UsageError(f"there is no schema {name!r}", next_step=f"there are: {', '.join(names())}")
    return json_schema(name)
