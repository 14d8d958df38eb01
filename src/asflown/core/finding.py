"""Findings: what any part noticed that a person should know."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.catalog import Consequence


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person should know.

    Attributes
    ----------
    source
        The part that noticed it: ``listing``, ``carry-over``, ``ports``, ``image`` …
    subject
        What it is about: a setting, a line, a device.
    statement
        The fact, in one sentence with its number.
    ways_out
        What can be done, best first.
    blocks
        Whether the job may not go on before it is settled.
    """

    source: str
    subject: str
    consequence: Consequence
    statement: str
    ways_out: tuple[str, ...] = ()
    blocks: bool = False
