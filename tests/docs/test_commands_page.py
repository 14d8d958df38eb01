"""Every command stands in docs/reference/commands.md with its help. ASFLOWN_DOCS_UPDATE=1 adds what is missing."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cyclopts import App

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "reference" / "commands.md"
UPDATE = bool(os.environ.get("ASFLOWN_DOCS_UPDATE"))
HEADING = re.compile(r"^#{2,3} `asflown ([a-z -]+)`$", re.MULTILINE)


def commands() -> tuple[str, ...]:
    """Every command of the CLI, parts after their command: ``release``, ``release add``, …"""
    from asflown.faces.cli.main import build

    return tuple(words(build(), ()))


def words(app: App, before: tuple[str, ...]):
    for name in app:
        if not name.startswith("-"):
            path = (*before, name)
            yield " ".join(path)
            yield from words(app[name], path)


def sections(text: str) -> tuple[str, dict[str, str]]:
    """What stands before the first command, and the section of each command, headings included."""
    found = list(HEADING.finditer(text))
    ends = [*(match.start() for match in found[1:]), len(text)][: len(found)]
    first = found[0].start() if found else len(text)
    parts = {match[1]: text[match.start() : end] for match, end in zip(found, ends, strict=True)}
    return text[:first], parts


def section(command: str) -> str:
    """A new section; running the page fills in what the help says."""
    marks = "###" if " " in command else "##"
    return f"{marks} `asflown {command}`\n\n```console\n$ asflown {command} --help\n```\n\n"


def arranged(text: str, names: tuple[str, ...]) -> str:
    """The page with one section a command, in the order of the CLI; what a person wrote stays."""
    start, parts = sections(text)
    body = "".join(parts.get(name, section(name)) for name in names)
    return start.rstrip("\n") + "\n\n" + body.rstrip("\n") + "\n"


def test_every_command_is_on_the_page():
    names = commands()
    assert len(names) > 10
    if UPDATE:
        PAGE.write_text(arranged(PAGE.read_text("utf-8"), names), "utf-8")
    _, parts = sections(PAGE.read_text("utf-8"))
    missing = [name for name in names if f"$ asflown {name} --help" not in parts.get(name, "")]
    assert not missing, f"not in {PAGE.name}: {', '.join(missing)}; `make docs-update` adds them"
    gone = [name for name in parts if name not in names]
    assert not gone, f"no longer a command, but in {PAGE.name}: {', '.join(gone)}"


def test_arranging_keeps_what_was_written():
    page = "# Commands\n\nFirst.\n\n## `asflown old`\n\nx\n\n## `asflown plan`\n\nWritten by hand.\n"
    made = arranged(page, ("found", "plan", "plan show"))
    start, parts = sections(made)
    assert start == "# Commands\n\nFirst.\n\n"
    assert list(parts) == ["found", "plan", "plan show"]
    assert "Written by hand." in parts["plan"]
    assert "$ asflown plan show --help" in parts["plan show"]
    assert arranged(made, ("found", "plan", "plan show")) == made
