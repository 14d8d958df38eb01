"""Precedents: what persons decided earlier about a setting, between the same two releases.

A decision is carried over as the *rule* it was (the same value, converted, the new factory value, left
behind); the value follows from what was found on the next aircraft.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.carry.before import Origin
from asflown.core.carry.dispositions import Cause, Disposition, Line, Option
from asflown.core.carry.settle import Decision, chosen_option
from asflown.core.record import Key


class How(StrEnum):
    """How the value came about."""

    SAME = "the same value"
    CONVERTED = "the value that means the same"
    FACTORY = "the new factory value"
    NEAREST = "the nearest allowed value"
    TYPED = "a typed value"
    BEHIND = "left behind"


@dataclass(frozen=True)
class Precedent:
    """What a person decided earlier about one setting, between the same two releases.

    Attributes
    ----------
    old, found
        The old settings, and what was found there; ``found`` is empty where it is private.
    new
        The new settings a value was decided for.
    typed
        The value typed; ``None`` for every other way, and where it is private.
    """

    old: tuple[Key, ...]
    found: tuple[str, ...]
    cause: Cause
    option: str
    disposition: Disposition
    new: tuple[Key, ...]
    how: How
    origin: Origin
    typed: str | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the new settings."""
        return tuple(key.name for key in self.new)


_HOWS = {"factory": How.FACTORY, "nearest": How.NEAREST, "value": How.TYPED, "keep": How.SAME}


def precedents_of(lines: Iterable[Line], decisions: Sequence[Decision], origin: Origin) -> list[Precedent]:
    """What the decisions of one refit settled: those still in force, about the facts the lines have.

    Parameters
    ----------
    lines
        Of the refit's plan before any decision.
    origin
        The refit; person, time and reason are taken from each decision.
    """
    last = {id: (one, mark) for one in decisions for id, mark in one.lines.items()}
    made = []
    for line in lines:
        if line.id not in last or not line.is_open or line.cause is None:
            continue
        decision, fingerprint = last[line.id]
        option = chosen_option(line, decision)
        if option is not None and fingerprint == line.fingerprint:
            who = replace(origin, who=decision.who, at=decision.at, reason=decision.reason)
            made.append(_precedent(line, line.cause, decision.option, option, who))
    return made


def _precedent(line: Line, cause: Cause, word: str, option: Option, origin: Origin) -> Precedent:
    how = how_of(line, option)
    return Precedent(
        old=tuple(item.key for item in line.old),
        found=tuple(item.value for item in line.old),
        cause=cause,
        option=word,
        disposition=option.disposition,
        new=tuple(item.key for item in option.new),
        how=how,
        origin=origin,
        typed=option.new[0].value if how is How.TYPED and option.new else None,
    )


def how_of(line: Line, option: Option) -> How:
    """How an option of a line comes to its value."""
    if option.disposition is Disposition.RETIRE:
        return How.BEHIND
    if option.id in _HOWS:
        return _HOWS[option.id]
    is_same = [item.value for item in option.new] == [item.value for item in line.old]
    return How.CONVERTED if option.id == "convert" or not is_same else How.SAME
