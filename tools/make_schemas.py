#!/usr/bin/env python3
"""Write the JSON Schemas of files and of evidence to docs/schemas; with --check only say what is stale."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from asflown.app.schemas import names, schema

FOLDER = Path(__file__).resolve().parents[1] / "docs" / "schemas"


def wanted() -> dict[str, str]:
    """Text of each schema file by its name."""
    return {
        f"{word}.schema.json": json.dumps(schema(word), indent=2, ensure_ascii=False) + "\n"
        for word in sorted(names())
    }


def stale(folder: Path = FOLDER) -> list[str]:
    """Names of files that are missing, differ from what the models say, or have no model."""
    files = wanted()
    there = {path.name: path.read_text(encoding="utf-8") for path in folder.glob("*.json")}
    return sorted(name for name in files.keys() | there.keys() if files.get(name) != there.get(name))


def main(arguments: list[str]) -> int:
    if arguments == ["--check"]:
        names = stale()
        for name in names:
            print(f"docs/schemas/{name} is stale; run tools/make_schemas.py", file=sys.stderr)
        return 1 if names else 0
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in wanted().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
