"""The worked example: a bird-count group on a salt marsh, its three aircraft, and how they were found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from asflown.core.record import Key
from asflown.demo.device import SimulatedBoard
from asflown.demo.firmware import listing, releases
from asflown.demo.firmware.boards import BOARD, OTHER_BOARD, for_board
from asflown.demo.firmware.changes import NEW, OLD, changes
from asflown.demo.firmware.parameter import Parameter, spoken
from asflown.demo.firmware.releases import SETS, Firmware

GROUP = "the Saltings bird count"
#: Who does the refit, who flies plover, who looks after the group's aircraft.
KEEPER, PILOT, CHAIR = "Ines Halloran", "Tobias Wendt", "Marit Oosting"
OLD_RELEASE, NEW_RELEASE = OLD, NEW
PROMPT = "wrackline> "


@dataclass(frozen=True)
class Craft:
    """One of the group's aircraft.

    Attributes
    ----------
    plain
        What differs from factory outside the sets, by name (``name[index]`` in a group).
    by_set
        What differs from factory in a set.
    """

    id: str
    title: str
    text: str
    plain: Mapping[str, str]
    by_set: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def differing(self) -> Mapping[Key, str]:
        """What differs from factory, by key, as the terminal prints it."""
        firmware = releases.old()
        made = {_key(name): value for name, value in self.plain.items()}
        made |= {Key(n, bank): v for bank, values in self.by_set.items() for n, v in values.items()}
        return {key: firmware.by_name[key.name].printed(value) for key, value in made.items()}

    def values(self) -> Mapping[Key, str]:
        """Every setting, as the terminal prints it."""
        return {**releases.old().factory, **self.differing()}


def _key(name: str) -> Key:
    base, bracket, index = name.partition("[")
    return Key(base, None, index.rstrip("]")) if bracket else Key(base)


_PLOVER_PLAIN = {
    "motor.top": "950",
    "motor.b.add": "4",
    "motor.a.way": "1",
    "motor.b.way": "0",
    "motor.c.way": "1",
    "motor.d.way": "0",
    "silent.wait": "15",
    "silent.act": "3",
    "silent.lift": "365",
    "silent.shut": "0",
    "silent.climb": "35",
    "silent.near": "30",
    "lift.silent": "1000",
    "ready.checks": "27",
    "ready.lift": "1040",
    "radio.kind": "4",
    "radio.port": "2",
    "radio.smooth.hz": "0",
    "radio.bars.warn": "55",
    "radio.pair.word": "3141707",
    "stick.order[3]": "4",
    "stick.order[4]": "3",
    "switch.b.does": "3",
    "switch.c.does": "7",
    "switch.d.does": "6",
    "switch.e.does": "9",
    "switch.b.from": "1600",
    "pack.warn": "140",
    "charge.full": "3300",
    "charge.land": "30",
    "charge.from": "2",
    "volt.scale": "1087",
    "amp.scale": "264",
    "amp.zero": "-11",
    "mount.swing": "90",
    "level.roll": "-7",
    "level.nod": "12",
    "still.roll": "31",
    "still.nod": "-18",
    "still.swing": "6",
    "needle.x": "-143",
    "needle.y": "88",
    "needle.z": "210",
    "needle.turn": "270",
    "needle.north": "15",
    "push.trust": "0.125",
    "shake.cut": "2",
    "shake.cut.hz": "135",
    "hum.use": "1",
    "hum.a.hz": "212",
    "hum.a.wide": "40",
    "hold.firm": "0.875",
    "hold.quick": "400",
    "rise.quick": "200",
    "sink.quick": "125",
    "land.sink": "120",
    "home.high": "45",
    "lift.hover": "385",
    "home.north": "536214870",
    "home.east": "83917420",
    "sky.least": "10",
    "bound.far": "450",
    "bound.top": "110",
    "bound.act": "3",
    "chirp.on": "47",
    "lamp.a.hue": "200",
    "show.amp.on": "0",
    "snap.every": "25",
    "craft.number": "1",
    "craft.hours": "1260",
    "craft.flights": "97",
    "set.in.use": "2",
}

_PLOVER_SETS = {
    SETS[0]: {"roll.firm": "0.203125", "nod.firm": "0.21875"},
    SETS[1]: {
        "roll.firm": "0.234375",
        "nod.firm": "0.25",
        "swing.firm": "0.3125",
        "roll.stay": "0.28125",
        "nod.stay": "0.296875",
        "roll.calm": "0.01171875",
        "nod.calm": "0.015625",
        "roll.quick": "300",
        "nod.quick": "300",
        "lean.most": "35",
        "lift.calm": "25",
    },
    SETS[2]: {"lean.most": "25", "swing.quick": "120"},
}

_DUNLIN_PLAIN = {
    "silent.wait": "10",
    "silent.act": "2",
    "pack.cells": "3",
    "pack.warn": "105",
    "charge.full": "1500",
    "charge.land": "35",
    "volt.scale": "1112",
    "level.roll": "4",
    "level.nod": "-3",
    "needle.x": "61",
    "needle.y": "-40",
    "needle.z": "187",
    "radio.pair.word": "2718281",
    "switch.b.does": "3",
    "hold.firm": "0.8125",
    "shake.cut.hz": "150",
    "home.north": "536214950",
    "home.east": "83917100",
    "craft.number": "2",
    "craft.hours": "655",
    "craft.flights": "58",
}

_KNOT_PLAIN = {"craft.number": "3", "pack.cells": "4", "radio.pair.word": "1618033", "volt.scale": "1095"}


def _described(craft: str, title: str, owner: str, mass: float, cells: int, charge: float) -> str:
    return f"""\
id = "{craft}"
title = "{title}"
board = "{BOARD}"
release = "{OLD}"
mass_kg = {mass}
owner = "{owner}"
remarks = "of {GROUP}; flown over mud and shallow water, low, in the breeding season not at all"

[motors]
count = 4
layout = "quad X"
model = "2205, slow wind"
poles = 14

[propellers]
diameter_m = 0.178
pitch_m = 0.114
blades = 2

[battery]
cells = {cells}
capacity_ah = {charge}
chemistry = "Li-ion polymer"

[[device]]
name = "escs"
kind = "speed controller"
model = "four in one, 30 A"
version = "1.7"
port = "outputs 1 to 4"

[[device]]
name = "receiver"
kind = "receiver"
model = "long range, two antennas"
version = "2.4"
port = "serial port b"

[[device]]
name = "sky"
kind = "satellite receiver"
model = "with a compass of its own, not used"
port = "serial port c"

[[device]]
name = "diary"
kind = "logger"
port = "serial port e"

[[device]]
name = "lamps"
kind = "lamps"
port = "output 6"

[[device]]
name = "camera-link"
kind = "video transmitter"
model = "25 mW"
port = "picture line"
"""


PLOVER = Craft(
    "plover",
    "Plover, the survey quad",
    _described("plover", "Plover, the survey quad", PILOT, 0.94, 4, 3.3),
    _PLOVER_PLAIN,
    _PLOVER_SETS,
)
DUNLIN = Craft(
    "dunlin",
    "Dunlin, the training quad",
    _described("dunlin", "Dunlin, the training quad", KEEPER, 0.71, 3, 1.5),
    _DUNLIN_PLAIN,
    {SETS[0]: {"roll.firm": "0.171875", "lean.most": "30"}},
)
KNOT = Craft(
    "knot",
    "Knot, built last winter",
    _described("knot", "Knot, built last winter", KEEPER, 0.92, 4, 3.3),
    _KNOT_PLAIN,
)
CRAFTS = (PLOVER, DUNLIN, KNOT)


def craft(name: str) -> Craft:
    """One of the three aircraft.

    Raises
    ------
    KeyError
        For another name.
    """
    return {item.id: item for item in CRAFTS}[name]


def found_listing(name: str = "plover", *, changes_only: bool = False) -> bytes:
    """The terminal capture of an aircraft as it was found: prompt, typed command, noise at both ends."""
    item = craft(name)
    values = item.values()
    return captured(
        releases.old(),
        values,
        changes_only=changes_only,
        in_use=SETS[int(values[Key("set.in.use")]) - 1],
    )


def bench_listing(board: str = BOARD) -> bytes:
    """The capture of the bench board, already running the new release, everything at factory."""
    firmware = for_board(releases.new(), board)
    return captured(firmware, firmware.factory, in_use=SETS[0], board=board)


def old_factory_listing() -> bytes:
    """The capture of a board at the old release's factory values."""
    return captured(releases.old(), releases.old().factory, in_use=SETS[0])


def replacement_listing() -> bytes:
    """The capture of the other board, bought after a crash, on the old release and at factory."""
    firmware = for_board(releases.old(), OTHER_BOARD)
    return captured(firmware, firmware.factory, in_use=SETS[0], board=OTHER_BOARD)


def simulated(name: str = "plover") -> SimulatedBoard:
    """The board of one of the aircraft as it was found."""
    return SimulatedBoard(OLD, craft(name).differing(), board=BOARD)


def captured(
    firmware: Firmware,
    values: Mapping[Key, str],
    *,
    in_use: str,
    board: str = BOARD,
    changes_only: bool = False,
) -> bytes:
    """A listing as a terminal program saves it: lines end in CR LF, with what stands around them."""
    rows = listing.lines(firmware, values, board=board, in_use=in_use, changes_only=changes_only)
    command = "list changed" if changes_only else "list all"
    head = ["\x1b[2J\x1b[H\x1b[1m# wrackline ready\x1b[0m", f"{PROMPT}{command}"]
    text = "\r\n".join([*head, *rows, f"{PROMPT}\x1b[0m"])
    return text.encode()


@dataclass(frozen=True)
class Copied:
    """What a number-for-number copy would have done with one setting.

    Attributes
    ----------
    setting
        As found.
    meant, would_mean
        The number in the old release's words, and in the new one's.
    """

    setting: Key
    value: str
    new_name: str
    meant: str
    would_mean: str

    @property
    def says(self) -> str:
        """In one sentence."""
        place = "" if self.new_name == self.setting.name else f" as {self.new_name}"
        return f"{self.setting} = {self.value}{place}: {self.meant} before, {self.would_mean} now"


def naive_copy(values: Mapping[Key, str]) -> tuple[Copied, ...]:
    """What typing the found numbers into the new release would have done, where the meaning differs.

    Parameters
    ----------
    values
        Settings of the old release; names that moved are taken where they moved to.
    """
    return tuple(_copied(values))


def _copied(values: Mapping[Key, str]) -> Iterator[Copied]:
    old, new, names = releases.old(), releases.new(), releases.successors()
    joined = {name for change in changes() if change.kind == "merge" for name in change.old[1:]}
    for key, value in values.items():
        before = old.by_name.get(key.name)
        if before is None or before.read_only or before.redo or key.name in joined:
            continue
        meant = _in_words(old, before, value, values)
        if not names[key.name]:
            if value != before.factory(key):
                yield Copied(key, value, key.name, meant, "gone, and the line is refused")
            continue
        after = new.by_name[names[key.name][0]]
        would = _refusal(after, value) or _in_words(new, after, value, values)
        if would != meant:
            yield Copied(key, value, after.name, meant, would)


def _in_words(firmware: Firmware, parameter: Parameter, value: str, values: Mapping[Key, str]) -> str:
    """A number in a release's words; its unit may depend on another number, copied too."""
    words = parameter.meaning(value)
    if parameter.unit_from is None or value in parameter.plain:
        return words
    controller = firmware.by_name[parameter.unit_from]
    return f"{words} {controller.meaning(values[Key(controller.name)])}"


def _refusal(parameter: Parameter, value: str) -> str | None:
    """Why the new release would not take a number, ``None`` where it would."""
    number = Decimal(value)
    if not parameter.is_float and number != number.to_integral_value():
        return "refused, and the factory value stays"
    if parameter.low <= number <= parameter.high:
        return None
    return f"refused, it takes {parameter.low} to {parameter.high} {spoken(parameter.unit)}".rstrip()
