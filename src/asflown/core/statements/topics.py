"""What safety settings are about: roles, with the words and the unit they are told in.

The words are asflown's own and the same for every release; what a choice means is said in the words of the
release's catalog.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum


class Family(StrEnum):
    """What a group of statements is about."""

    RADIO_LOST = "radio lost"
    ARMING = "arming"
    DISARMING = "disarms by itself"
    BATTERY = "battery"


#: The first word of a role to the family it belongs to.
PREFIXES = {
    "radio_loss": Family.RADIO_LOST,
    "arming": Family.ARMING,
    "disarming": Family.DISARMING,
    "pack": Family.BATTERY,
}


@dataclass(frozen=True, slots=True)
class Way:
    """How a statement's value is had from roles: a role alone, over another or times another."""

    role: str
    over: str | None = None
    times: str | None = None

    @property
    def second(self) -> str | None:
        """The role that it is divided by or multiplied with."""
        return self.over or self.times


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing that settings say.

    Attributes
    ----------
    role
        What it is called in JSON; the role that says it directly.
    title
        Words the value follows.
    unit
        Unit the value is told in; empty for a number; ``None`` where it depends on the catalog.
    ends
        Words after an amount.
    ways
        Further ways to have the value, tried in turn after the role itself.
    for_role
        A topic that says the same in another form: only one of both is compared where that is possible.
    """

    role: str
    family: Family
    title: str
    unit: str | None = ""
    ends: str = ""
    ways: tuple[Way, ...] = ()
    for_role: str | None = None


def _voltage(what: str, title: str) -> Iterator[Topic]:
    """A voltage of each cell and of the whole pack: with the cells known, one says the other."""
    cell, pack = f"pack.cell_{what}_voltage", f"pack.{what}_voltage"
    over, times = (Way(pack, over="pack.cells"),), (Way(cell, times="pack.cells"),)
    yield Topic(cell, Family.BATTERY, f"{title} at a cell voltage of", "V", ways=over, for_role=pack)
    yield Topic(pack, Family.BATTERY, f"{title} at a pack voltage of", "V", ways=times, for_role=cell)


TOPICS: tuple[Topic, ...] = (
    Topic("radio_loss.delay", Family.RADIO_LOST, "acts by itself after", "s"),
    Topic("radio_loss.action", Family.RADIO_LOST, "what it does"),
    Topic("radio_loss.climb", Family.RADIO_LOST, "climbs first by", "m"),
    Topic("radio_loss.throttle", Family.RADIO_LOST, "throttle while it comes down", "%"),
    Topic("radio_loss.motor_stop_delay", Family.RADIO_LOST, "motors stop after", "s"),
    Topic("radio_loss.lands_within", Family.RADIO_LOST, "lands where it is within", "m", "of home"),
    Topic("radio_loss.return_delay", Family.RADIO_LOST, "once back the pilot has it after", "s"),
    Topic("arming.checks", Family.ARMING, "what is checked before"),
    Topic("arming.most_lean", Family.ARMING, "most lean", "deg"),
    Topic("arming.highest_throttle_pulse", Family.ARMING, "highest throttle stick", "us"),
    Topic("disarming.idle_time", Family.DISARMING, "after idling for", "s"),
    Topic("disarming.lean", Family.DISARMING, "at a lean of", "deg"),
    Topic("disarming.free_fall", Family.DISARMING, "after a free fall of", "s"),
    *_voltage("warning", "warning"),
    Topic("pack.warning_delay", Family.BATTERY, "warning after it was low for", "s"),
    Topic("pack.land_share", Family.BATTERY, "time to land with charge left", "%"),
    *_voltage("landing", "lands by itself"),
    Topic("pack.cells", Family.BATTERY, "cells in series"),
    Topic("pack.capacity", Family.BATTERY, "charge of a full pack", "mAh"),
    Topic("pack.most_current", Family.BATTERY, "drive held back above", "A"),
)


def topics_for(roles: Iterable[str]) -> tuple[Topic, ...]:
    """The table's topics, and one for each further role of the same families, family by family.

    Examples
    --------
    >>> topics_for(["pack.spare_time", "rate_loop.rate"])[-1].title
    'spare time'
    """
    known = {topic.role for topic in TOPICS}
    more = [_other(role) for role in sorted(set(roles) - known) if role.partition(".")[0] in PREFIXES]
    order = list(Family)
    return tuple(sorted((*TOPICS, *more), key=lambda topic: order.index(topic.family)))


def _other(role: str) -> Topic:
    prefix, _, rest = role.partition(".")
    words = rest.replace(".", " ").replace("_", " ").strip() or "setting"
    return Topic(role, PREFIXES[prefix], words, None)
