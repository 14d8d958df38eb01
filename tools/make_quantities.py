#!/usr/bin/env python3
"""Write the tables of quantities into docs/reference/flight-json.md; with --check only say if it is stale."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from asflown.core.study.quantities import METHODS, QUANTITIES

PAGE = Path(__file__).resolve().parents[1] / "docs" / "reference" / "flight-json.md"
BLOCK = re.compile(r"(<!-- made by tools/make_quantities\.py -->\n).*?(<!-- end -->)", re.DOTALL)


def tables() -> str:
    """The tables, Markdown."""
    lines = ["", "| quantity | unit | what it says | method |", "| --- | --- | --- | --- |"]
    lines += [f"| `{q.name}` | {q.unit} | {q.says} | {q.method} |" for q in QUANTITIES]
    lines += ["", "| method | how | source |", "| --- | --- | --- |"]
    lines += [f"| {m.key} | {m.text} | {m.source} |" for m in METHODS.values()]
    return "\n".join([*lines, "", ""])


def wanted(text: str) -> str:
    """The page with fresh tables."""
    return BLOCK.sub(lambda found: found[1] + tables() + found[2], text)


def main(arguments: list[str]) -> int:
    text = PAGE.read_text(encoding="utf-8")
    if arguments == ["--check"]:
        if wanted(text) == text:
            return 0
        print(f"{PAGE.name} is stale; run tools/make_quantities.py", file=sys.stderr)
        return 1
    PAGE.write_text(wanted(text), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
