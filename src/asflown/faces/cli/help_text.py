"""The help of one command: paragraphs and options wrapped once, to the width of the terminal."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any

from cyclopts.help.formatters import PlainFormatter

if TYPE_CHECKING:
    from cyclopts.help import HelpEntry, HelpPanel
    from rich.console import Console, ConsoleOptions

#: Column where the words about an option begin.
COLUMN = 24


class HelpText(PlainFormatter):
    """Plain help without colour or frames; a docstring's own line breaks are not kept."""

    def __call__(self, console: Console, options: ConsoleOptions, panel: HelpPanel) -> None:
        """Print one panel: its title, then a row for each entry."""
        if not panel.entries:
            return
        self._print_plain(console, f"{panel.title}:")
        for entry in panel.entries:
            self._print_plain(console, _row(entry, console))
        console.print()

    def render_description(self, console: Console, options: ConsoleOptions, description: Any) -> None:
        """Print what the command does, paragraph by paragraph."""
        text = _plain(description, console)
        for paragraph in re.split(r"\n\s*\n", text):
            if paragraph.strip():
                self._print_plain(console, textwrap.fill(" ".join(paragraph.split()), _width(console)))
                console.print()


def _plain(thing: Any, console: Console) -> str:
    from cyclopts.help.formatters.plain import _to_plain_text

    return str(_to_plain_text(thing, console) or "")


def _width(console: Console) -> int:
    return min(console.width, 100)


def _row(entry: HelpEntry, console: Console) -> str:
    """``  --option WORD     what it does``, wrapped below itself."""
    labels = ", ".join(entry.display_labels_with_metavar or (*entry.positive_names, *entry.positive_shorts))
    facts = [" ".join(_plain(entry.description, console).split())]
    if entry.choices:
        facts.append(f"[{' | '.join(entry.choices)}]")
    if entry.env_var:
        facts.append(f"[{', '.join(entry.env_var)}]")
    if entry.required:
        facts.append("[needed]")
    if entry.default not in (None, "", '""', "()", "False", False, ()):
        facts.append(f"[default: {entry.default}]")
    says = " ".join(fact for fact in facts if fact)
    head = f"  {labels}"
    first = head.ljust(COLUMN) if len(head) < COLUMN - 1 else head + "\n" + " " * COLUMN
    body = textwrap.fill(says, max(20, _width(console) - COLUMN)).replace("\n", "\n" + " " * COLUMN)
    return (first + body).rstrip()
