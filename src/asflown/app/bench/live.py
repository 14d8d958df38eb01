"""Values of a card that the aircraft itself says, over MAVLink: attitude, supply, receiver, settings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from asflown.app.bench.readings import Read, find_measure, keep, meant_card
from asflown.app.calibrate.live import refuse_armed
from asflown.app.link.live import record
from asflown.app.link.talk import Talk
from asflown.app.needs import Links
from asflown.app.workplace import Workplace
from asflown.core.bench.live_value import LiveValue, changed, channels, held
from asflown.core.cards import Card, Measure
from asflown.core.link.values import Encoding, ParamType, decoded
from asflown.core.refit import Reading
from asflown.errors import NeedsPerson, UsageError

#: Samples a second.
_RATE = 50.0
#: s that a value is read which is held, or which a person moves meanwhile.
HOLDING, MOVING = 3.0, 8.0


@dataclass(frozen=True)
class LiveAsk:
    """What is to be read.

    Attributes
    ----------
    names
        How the boxes begin; none: every box of the card that a link can fill.
    seconds
        For how long each; ``None``: as long as its kind usually takes.
    ready
        Told a box before it is read, where several need the aircraft held differently; ``None``: nobody is
        there to hold it.
    """

    address: str
    system: int | None
    names: Sequence[str]
    seconds: float | None = None
    ready: Callable[[Measure], None] | None = None


def read_live(work: Workplace, aircraft: str, said: str, ask: LiveAsk, links: Links) -> Read:
    """Read boxes of a card from the aircraft, and keep what it said.

    Raises
    ------
    UsageError
        When the card has no such box, or a link cannot say it.
    NeedsPerson
        When the motors are armed, it was not held still, or it must be said which box is read.
    DeviceError
        When the link is gone, or the aircraft does not tell it.
    """
    card = meant_card(work, aircraft, said)
    wanted = _wanted(card, ask)
    readings = []
    with Talk(links, ask.address, ask.system) as talk:
        found = talk.greet()
        refuse_armed(talk)
        for measure in wanted:
            value = _one(talk, measure, ask, found.encoding)
            refuse_armed(talk)
            at = work.clock.now()
            readings.append(
                Reading(measure.what, value.value, measure.unit, True, at, work.who, says=value.says)
            )
    return keep(work, aircraft, card.id, readings)


def told_by(card: Card, names: Sequence[str], can: Callable[[Measure], bool]) -> tuple[Measure, ...]:
    """The boxes that are meant: by name, or every one that can be told.

    Raises
    ------
    UsageError
        When a named one cannot be told.
    """
    if not names:
        return tuple(one for one in card.all_measures if can(one))
    wanted = tuple(dict.fromkeys(find_measure(card, name) for name in names))
    for one in wanted:
        if not can(one):
            raise UsageError(
                f"no link says {one.what!r}", next_step=f'read it yourself, and write "{one.what}=VALUE"'
            )
    return wanted


def _wanted(card: Card, ask: LiveAsk) -> tuple[Measure, ...]:
    wanted = told_by(card, ask.names, lambda one: bool(one.live or one.setting))
    if not wanted:
        raise UsageError(f"no box of card {card.id} is one that a link says", next_step="read it yourself")
    if ask.ready is None and _are_posed(wanted, ask.names):
        raise NeedsPerson(
            f"the boxes of card {card.id} want the aircraft held differently",
            next_step=f'say which one is read now, e.g.: asflown bench read {card.id} "{wanted[0].what}"'
            f" --link {ask.address}",
        )
    return wanted


def _are_posed(wanted: Sequence[Measure], names: Sequence[str]) -> bool:
    """Whether these boxes cannot be read one after the other without a person who moves something."""
    signals = [one.live for one in wanted if one.live]
    posed = [one for one in signals if one == "channels" or one.startswith("attitude.")]
    return len(set(signals)) < len(signals) or (not names and len(posed) > 1)


def seconds_of(measure: Measure) -> float:
    """How long a box is read: a value that is held briefly, one that has to be moved longer."""
    return MOVING if measure.is_change or measure.live == "channels" else HOLDING


def _one(talk: Talk, measure: Measure, ask: LiveAsk, encoding: Encoding) -> LiveValue:
    if measure.setting:
        return _setting(talk, measure.setting, encoding)
    if ask.ready is not None:
        ask.ready(measure)
    family = "channel" if measure.live == "channels" else measure.live.partition(".")[0]
    made = record(talk, family, ask.seconds or seconds_of(measure), rate=_RATE)
    try:
        if measure.live == "channels":
            return channels(made.values)
        values = made.values.get(measure.live, made.time[:0])
        return changed(measure.live, values) if measure.is_change else held(measure.live, values)
    except ValueError as error:
        raise NeedsPerson(
            f"{measure.what}: {error}", next_step="nothing is noted; the same command again"
        ) from None


def _setting(talk: Talk, name: str, encoding: Encoding) -> LiveValue:
    came = talk.read_one(name)
    if came is None:
        raise NeedsPerson(
            f"the aircraft has no parameter {name!r}",
            next_step="read it in the firmware's own display, and write it with =VALUE",
        )
    try:
        value = decoded(came.raw, ParamType(came.kind), encoding)
    except ValueError as error:
        raise NeedsPerson(f"{name}: the link does not carry its value: {error}") from None
    return LiveValue(f"{value:f}", "parameter, read over MAVLink")
