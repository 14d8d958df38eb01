"""One part of a measurement: its evidence, what is to be said, and the result figures are described from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asflown.core.evidence import Evidence
from asflown.core.finding import Finding
from asflown.core.measured import unmeasured
from asflown.core.signals import AXES
from asflown.core.study.make import evidence_of
from asflown.core.study.quantities import QUANTITIES

if TYPE_CHECKING:
    from asflown.app.flights.bench import Bench


@dataclass(frozen=True, eq=False)
class Part:
    """What one part found.

    Attributes
    ----------
    name
        The group of its quantities.
    statements
        What was done with the log on the way.
    result
        What the computing package returned.
    """

    name: str
    evidence: tuple[Evidence, ...]
    statements: tuple[str, ...] = ()
    result: Any = None
    findings: tuple[Finding, ...] = ()


def not_measured(group: str, reason: str, bench: Bench) -> Part:
    """A part that could not be measured: the reason stands in place of each of its quantities."""
    return Part(group, reasons(group, reason, bench))


def reasons(group: str, reason: str, bench: Bench) -> tuple[Evidence, ...]:
    """The reason in place of every quantity of a group that does not count rotors or orders."""
    made = []
    for one in QUANTITIES:
        if one.group != group or any(place in one.name for place in ("{n}", "{order}", "{route}")):
            continue
        for name in _names(one.name):
            made.append(evidence_of(name, unmeasured(reason, one.unit), source=bench.flight.source))
    return tuple(made)


def _names(name: str) -> tuple[str, ...]:
    for place, words in (("{axis}", AXES), ("{xyz}", ("x", "y", "z"))):
        if place in name:
            return tuple(name.replace(place, word) for word in words)
    return (name,)
