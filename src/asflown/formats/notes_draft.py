"""Change notes drafted for a person: entries with comments above them, and entries that are only comments."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from asflown.core.catalog import ChangeNote
from asflown.formats.notes import change_lines, toml_text

#: Columns of a comment.
WIDE = 100
#: The most signs a name in a note has.
LONGEST_NAME = 200


@dataclass(frozen=True)
class Entry:
    """One change of a draft.

    Attributes
    ----------
    above
        Comments above it.
    to_check
        What a person must look at, in sentences; empty where nothing.
    is_out
        Whether the entry itself is written as a comment, for a person to take in.
    """

    change: ChangeNote
    above: tuple[str, ...] = ()
    to_check: tuple[str, ...] = ()
    is_out: bool = False


@dataclass(frozen=True)
class Part:
    """Entries under one heading."""

    title: str
    entries: tuple[Entry, ...]


def write(from_release: str, to_release: str, head: Sequence[str], parts: Sequence[Part]) -> bytes:
    """Write a draft; :func:`asflown.formats.notes.read` reads the entries that are no comments.

    Parameters
    ----------
    head
        Comments at the top.

    Raises
    ------
    InputError
        When a name or a text holds half a character.
    """
    lines = [row for text in head for row in comment(text)]
    lines += [f"from = {toml_text(from_release)}", f"to = {toml_text(to_release)}"]
    lines += ["complete = false  # true promises that every renamed, rescaled and removed parameter is named"]
    for part in parts:
        if part.entries:
            lines += ["", "", *comment(f"---- {part.title}")]
            lines += [row for entry in part.entries for row in ("", *_entry(entry))]
    return ("\n".join(lines) + "\n").encode()


def fits(change: ChangeNote) -> bool:
    """Whether its names are ones a note can have."""
    return all(0 < len(name) <= LONGEST_NAME for name in (*change.old, *change.new))


def _entry(entry: Entry) -> Iterator[str]:
    for text in entry.above:
        yield from comment(text)
    for text in entry.to_check:
        yield from comment(f"to check: {text}")
    for line in change_lines(entry.change):
        yield f"# {line}" if entry.is_out else line


def comment(text: str) -> Iterator[str]:
    """A text as comment lines; signs that a TOML comment must not hold are shown as escapes."""
    plain = "".join(sign if sign.isprintable() else f"\\x{ord(sign):02x}" for sign in text)
    for line in textwrap.wrap(plain, WIDE - 2, break_on_hyphens=False, break_long_words=False) or [""]:
        yield f"# {line}".rstrip()
