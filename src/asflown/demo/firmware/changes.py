"""What changed between the releases, as data: the whole truth, of which the change notes tell a part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from asflown.demo.firmware.facts import FILTER, SWITCH
from asflown.demo.firmware.parameter import labels

#: The releases, oldest first.
OLD, MIDDLE, NEW = "marram-4.1", "marram-4.2", "marram-5.0"


@dataclass(frozen=True)
class Change:
    """One change.

    Attributes
    ----------
    step
        The release that brought it.
    noted
        Whether the release's change notes speak of it.
    factor
        ``new = old * factor``.
    choices
        Old value to new value.
    expressions
        New name to an expression over the old names.
    """

    step: str
    kind: str
    old: tuple[str, ...]
    new: tuple[str, ...] = ()
    why: str = ""
    consequence: str | None = None
    noted: bool = True
    factor: str | None = None
    unit: tuple[str, str] | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    expressions: Mapping[str, str] = field(default_factory=dict)


def _one(step: str, kind: str, old: str, new: str = "", why: str = "", **more: Any) -> Change:
    return Change(step, kind, (old,), (new,) if new else (), why, **more)


def changes() -> tuple[Change, ...]:
    """Every change of a name, a number's meaning or a factory value, oldest release first."""
    return (*_to_middle(), *_to_new(), *_gains(), *_switches(), *_untold())


def _to_middle() -> tuple[Change, ...]:
    tenths = "times of the silence are whole milliseconds now"
    return (
        *(
            _one(MIDDLE, "convert", name, name, tenths, unit=("0.1s", "ms"), consequence="safety")
            for name in ("silent.wait", "silent.back")
        ),
        Change(
            MIDDLE,
            "merge",
            ("pack.warn", "pack.cells"),
            ("cell.warn",),
            "the warning is given for one cell, and the cells are counted when the pack is plugged in",
            "safety",
            expressions={"cell.warn": "pack.warn * 10 / pack.cells"},
        ),
        _one(MIDDLE, "rename", "charge.land", "charge.down", "named after the stage it starts"),
        _one(MIDDLE, "rename", "radio.bars.warn", "bars.warn", "all warnings end in warn"),
        _one(MIDDLE, "rename", "hum.use", "hum.take", "use is kept for sensors"),
        _one(
            MIDDLE,
            "retire",
            "silent.climb",
            why="coming home no longer climbs first; it flies at the height it has",
            consequence="safety",
        ),
        _one(MIDDLE, "retire", "lens.steady", why="cameras steady themselves", consequence="comfort"),
        _one(MIDDLE, "default", "motor.idle", why="factory value 35 permille, for lighter propellers"),
    )


def _to_new() -> tuple[Change, ...]:
    return (
        _one(NEW, "rename", "charge.down", "charge.go.down", "three stages now: tell, go down, stop"),
        _one(
            NEW,
            "convert",
            "silent.act",
            "silent.act",
            "ordered by how much the aircraft does by itself",
            choices={"0": "3", "1": "0", "2": "2", "3": "1"},
            consequence="safety",
        ),
        _one(
            NEW,
            "convert",
            "silent.shut",
            "silent.shut",
            "milliseconds; at once is 0 and never is -1 now",
            factor="1000",
            consequence="safety",
        ),
        _one(
            NEW,
            "convert",
            "dist.unit",
            "dist.unit",
            "feet come first now",
            choices={"0": "1", "1": "0"},
            consequence="safety",
        ),
        *(
            _one(NEW, "convert", f"hum.{which}.hz", f"hum.{which}.at", "in tenths of a hertz", factor="10")
            for which in "abc"
        ),
        _one(NEW, "convert", "needle.north", "north.turn", "in degrees", factor="0.1"),
        _one(NEW, "rename", "land.sink", "touch.sink", "named after the moment it is for"),
        Change(
            NEW,
            "split",
            ("lean.most",),
            ("roll.lean.most", "nod.lean.most"),
            "one limit for each axis",
            expressions={"roll.lean.most": "old", "nod.lean.most": "old"},
        ),
        _one(
            NEW,
            "meaning",
            "lift.hover",
            why="the drive that holds a full pack in the air; before, a half empty one",
            consequence="handling",
        ),
        _one(NEW, "retire", "hum.count", why="every multiple that can be told apart is taken out"),
        _one(NEW, "default", "motor.talk.rate", why="factory value 960 Hz"),
    )


def _gains() -> tuple[Change, ...]:
    return tuple(
        _one(
            NEW,
            "convert",
            f"{axis}.{part}",
            f"{axis}.{part}",
            "whole 1024ths, for boards that reckon in whole numbers",
            factor="1024",
            consequence="handling",
        )
        for axis in ("roll", "nod", "swing")
        for part in ("firm", "stay", "calm", "lead")
    )


NEW_SWITCH = (
    "0 nothing, 1 make ready, 2 come home, 3 hold the height, 4 hold the place, 5 land, 6 stop the motors, "
    "7 sounder, 8 lamps, 9 camera, 10 choose the set"
)


def by_label(before: str, after: str) -> dict[str, str]:
    """Old value to new value of the choices that both have."""
    there = {label: value for value, label in labels(after).items()}
    return {value: there[label] for value, label in labels(before).items() if label in there}


def _switches() -> tuple[Change, ...]:
    return tuple(
        _one(
            NEW,
            "convert",
            f"switch.{which}.does",
            f"switch.{which}.does",
            "numbered anew; the upside-down start is gone",
            choices=by_label(SWITCH, NEW_SWITCH),
            consequence="safety",
        )
        for which in "abcdef"
    )


#: The names written over the picture.
SHOWN = ("volt", "amp", "charge", "clock", "high", "home", "lean", "bars", "warn", "fast")


def _untold() -> tuple[Change, ...]:
    """Changes that the notes leave out."""
    return (
        *(
            _one(NEW, "rename", f"hold.{part}", f"station.{part}", noted=False)
            for part in ("firm", "stay", "calm", "quick", "lean", "rest")
        ),
        *(
            _one(NEW, "rename", f"show.{item}.{before}", f"show.{item}.{after}", noted=False)
            for item in SHOWN
            for before, after in (("col", "left"), ("row", "down"))
        ),
        *(
            _one(NEW, "convert", name, name, unit=("cm/s", "m/s"), noted=False)
            for name in ("rise.quick", "sink.quick")
        ),
        _one(NEW, "convert", "snap.every", "snap.every", unit=("0.1s", "ms"), noted=False),
        _one(NEW, "rename", "push.trust", "push.trust.slow", noted=False),
        _one(NEW, "convert", "shake.cut", "shake.cut", choices=by_label(FILTER, NEW_FILTER), noted=False),
        _one(NEW, "convert", "ready.checks", "ready.checks", noted=False),
        _one(NEW, "convert", "chirp.on", "chirp.on", noted=False),
        _one(NEW, "convert", "radio.smooth.hz", "radio.smooth.hz", choices={"0": "-1"}, noted=False),
        *(_one(NEW, "default", name, noted=False) for name in ("chirp.loud", "lamp.bright")),
    )


NEW_FILTER = "0 none, 1 sharp, 2 one step, 3 two steps, 4 following"


def redefined() -> Mapping[str, Mapping[str, Any]]:
    """What a parameter is in marram 5.0 where that differs, by its new name."""
    whole = {"type": "u16", "low": Decimal(0), "high": Decimal(2048), "factor": "0.0009765625"}
    factory = {"roll": (192, 256, 8, 128), "nod": (192, 256, 8, 128), "swing": (256, 128, 0, 64)}
    gains = {
        f"{axis}.{part}": {**whole, "default": (str(value),)}
        for axis, values in factory.items()
        for part, value in zip(("firm", "stay", "calm", "lead"), values, strict=True)
    }
    hums = {
        f"hum.{which}.at": {"unit": "0.1Hz", "high": Decimal(9000), "needs": ("hum.take",), "factor": "0.1"}
        for which in "abc"
    }
    switches = {
        f"switch.{which}.does": {"choices": labels(NEW_SWITCH), "high": Decimal(10)} for which in "abcdef"
    }
    return {**gains, **hums, **switches, **_redefined_safety(), **_redefined_rest()}


def _redefined_safety() -> Mapping[str, Mapping[str, Any]]:
    return {
        "motor.idle": {"default": ("35",)},
        "motor.talk.rate": {"default": ("960",)},
        "silent.wait": _milliseconds("1000", 10, 10000),
        "silent.back": {**_milliseconds("1500", 0, 10000), "factor": None},
        "silent.act": {
            "choices": labels("0 come down level, 1 come home, 2 hold the place, 3 stop the motors"),
            "default": ("0",),
        },
        "silent.shut": {
            **_milliseconds("20000", -1, 120000),
            "type": "i32",
            "plain": labels("-1 never, 0 at once"),
            "factor": "0.001",
        },
        "cell.warn": {
            "type": "u16",
            "default": ("340",),
            "low": Decimal(100),
            "high": Decimal(450),
            "unit": "0.01V",
            "text": "voltage of one cell at which the pilot is warned",
            "role": "pack.cell_warning_voltage",
            "factor": "0.01",
        },
        "ready.checks": {
            "bits": labels("0 radio, 1 level, 2 pack, 3 place, 4 switches, 5 compass, 6 diary, 7 motors"),
            "default": ("47",),
            "high": Decimal(255),
        },
        "dist.unit": {"choices": labels("0 ft, 1 m"), "default": ("1",)},
        "touch.sink": {"low": Decimal(10), "high": Decimal(100)},
        "sink.quick": _metres("1.5", "0.25", "6.0"),
    }


def _milliseconds(default: str, low: int, high: int) -> dict[str, Any]:
    return {
        "type": "u32",
        "default": (default,),
        "low": Decimal(low),
        "high": Decimal(high),
        "unit": "ms",
        "factor": "0.001",
    }


def _metres(default: str, low: str, high: str) -> dict[str, Any]:
    return {"type": "f2", "default": (default,), "low": Decimal(low), "high": Decimal(high), "unit": "m/s"}


def _redefined_rest() -> Mapping[str, Mapping[str, Any]]:
    return {
        "rise.quick": _metres("2.5", "0.25", "10.0"),
        "north.turn": {
            "type": "f1",
            "default": ("0.0",),
            "low": Decimal(-30),
            "high": Decimal(30),
            "unit": "deg",
        },
        "shake.cut": {"choices": labels(NEW_FILTER), "default": ("2",), "high": Decimal(4)},
        "chirp.loud": {"default": ("50",)},
        "lamp.bright": {"default": ("40",)},
        "chirp.on": {
            "bits": labels(
                "0 ready, 1 idle, 2 pack, 3 radio silent, 4 place lost, 5 place found, "
                "6 set chosen, 7 diary full"
            )
        },
        "radio.smooth.hz": {
            "type": "i16",
            "low": Decimal(-1),
            "plain": labels("-1 automatic, 0 off"),
            "default": ("60",),
        },
        "snap.every": {"type": "u32", "unit": "ms", "high": Decimal(60000)},
        "push.trust.slow": {"text": "how far the push sensor is believed against the turning sensor at rest"},
        "roll.lean.most": {"text": "most lean in roll when lean is held"},
        "nod.lean.most": {"text": "most lean in nod when lean is held"},
    }
