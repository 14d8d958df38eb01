"""The JSON Schemas of the files people write, and of the evidence that is printed."""

from __future__ import annotations

from typing import Any

from asflown.errors import UsageError

#: What is printed, not written by people, and has a schema too.
EVIDENCE = "evidence"


def names() -> tuple[str, ...]:
    """Names of the files that have a schema."""
    from asflown.formats.schemas import FILES

    return (*FILES, EVIDENCE)


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
    if name == EVIDENCE:
        from asflown.app.views.flight_json import evidence_schema

        return evidence_schema()
    return json_schema(name)
