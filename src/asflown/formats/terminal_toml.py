"""The words of a firmware's text terminal (``terminal.toml``)."""

from __future__ import annotations

import re

from asflown.core.link.words import TerminalWords
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines


def read(data: bytes, name: str) -> TerminalWords:
    """Read the words.

    Raises
    ------
    InputError
        Naming every fault with its line: an unknown key, an empty word, a pattern that is none.
    """
    from asflown.formats.schemas_terminal import TerminalFile

    written = checked(TerminalFile, load_toml(data, name), name, toml_lines(data))
    faults = []
    for pattern in written.never:
        try:
            re.compile(pattern)
        except re.error as error:
            faults.append(Fault(f"{pattern!r} is no pattern: {error}", f"{name} never"))
    if faults:
        raise InputError("cannot be read", where=name, faults=tuple(faults), next_step="correct the file")
    return TerminalWords(
        written.firmware,
        written.listing,
        written.store,
        written.restart,
        written.enter,
        written.prompt,
        tuple(written.complaint),
        tuple(written.never),
        written.line_end,
        written.quiet,
        written.restarts_in,
        written.speed,
    )
