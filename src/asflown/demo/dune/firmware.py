"""The invented firmware dune: its parameters in two releases, as tables."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

OLD, NEW, BOARD = "dune-1.4", "dune-2.0", "wrackline-2"
#: MAV_PARAM_TYPE by the word of a parameter file, and the standard's word in the description.
TYPES = {"uint8": "Uint8", "int8": "Int8", "uint16": "Uint16", "int16": "Int16", "int32": "Int32"}


@dataclass(frozen=True)
class Item:
    """One parameter.

    Attributes
    ----------
    type
        ``uint8`` … ``int32``, ``real32``.
    choices
        Words by number.
    redo
        How its value is made on the aircraft.
    """

    name: str
    type: str
    unit: str
    low: float
    high: float
    factory: float
    text: str
    group: str
    consequence: str = "handling"
    belonging: str = "airframe"
    role: str = ""
    factor: float = 1.0
    choices: Mapping[str, str] | None = None
    redo: str = ""


def _real(
    name: str, unit: str, low: float, high: float, factory: float, text: str, group: str, **more: Any
) -> Item:
    return Item(name, "real32", unit, low, high, factory, text, group, **more)


def _axis(axis: str, firm: float, stay: float, calm: float) -> Iterator[Item]:
    word = axis.lower()
    yield _real(f"{axis}_FIRM", "", 0, 2, firm, f"how firmly the {word} rate is held", "hand")
    yield _real(f"{axis}_STAY", "", 0, 2, stay, f"how the {word} rate is brought back when pushed", "hand")
    yield _real(f"{axis}_CALM", "", 0, 0.1, calm, f"how {word} swings are damped", "hand")
    yield _real(f"{axis}_MOST", "deg/s", 50, 1200, 400, f"fastest {word}", "hand", belonging="pilot")


_LEVEL = "rest it on a table, turn it by half a turn, and take the level: asflown calibrate level"
_SIDES = "lay it on each of its six sides: asflown calibrate accelerometer"
_ROUND = "turn it slowly about every axis, outdoors: asflown calibrate magnetometer"
_METER = "hold the shown value against a meter: asflown calibrate meter"


def _calibrations() -> Iterator[Item]:
    for axis in "XYZ":
        low = axis.lower()
        yield _real(
            f"ACCEL_OFF_{axis}",
            "m/s/s",
            -5,
            5,
            0,
            f"offset of the accelerometer along {low}",
            "sensors",
            consequence="safety",
            belonging="board",
            role=f"calibration.accelerometer.offset.{low}",
            redo=_SIDES,
        )
        yield _real(
            f"ACCEL_SIZE_{axis}",
            "",
            0.8,
            1.2,
            1,
            f"scale of the accelerometer along {low}",
            "sensors",
            consequence="safety",
            belonging="board",
            role=f"calibration.accelerometer.scale.{low}",
            redo=_SIDES,
        )
        yield _real(
            f"NORTH_OFF_{axis}",
            "uT",
            -200,
            200,
            0,
            f"hard iron along {low}",
            "sensors",
            consequence="safety",
            belonging="airframe",
            role=f"calibration.magnetometer.offset.{low}",
            redo=_ROUND,
        )
    for axis in ("ROLL", "PITCH"):
        yield _real(
            f"LEVEL_{axis}",
            "deg",
            -20,
            20,
            0,
            f"trim of level in {axis.lower()}",
            "sensors",
            consequence="safety",
            belonging="board",
            role=f"calibration.level.{axis.lower()}",
            redo=_LEVEL,
        )
    yield _real(
        "VOLT_SIZE",
        "",
        0.5,
        2,
        1,
        "scale of the shown pack voltage",
        "power",
        consequence="safety",
        belonging="board",
        role="calibration.voltage.scale",
        redo=_METER,
    )


def old() -> tuple[Item, ...]:
    """Parameters of dune 1.4."""
    outputs = (
        Item(
            f"SPIN_{place}",
            "uint8",
            "",
            1,
            8,
            n + 1,
            f"output of the {text} motor",
            "motors",
            "safety",
            "wiring",
        )
        for n, (place, text) in enumerate(
            (("FR", "front right"), ("BR", "back right"), ("BL", "back left"), ("FL", "front left"))
        )
    )
    return (
        *outputs,
        _real(
            "IDLE_PART",
            "",
            0,
            0.2,
            0.05,
            "share of full drive while idling",
            "motors",
            consequence="safety",
            role="motor.idle_drive",
        ),
        *_axis("ROLL", 0.42, 0.30, 0.0042),
        *_axis("PITCH", 0.46, 0.32, 0.0046),
        *_axis("YAW", 0.60, 0.20, 0.0),
        _real("TILT_MOST", "deg", 10, 60, 35, "largest tilt", "hand", belonging="pilot"),
        _real("CLIMB_MOST", "m/s", 0.5, 10, 3, "fastest climb", "hand", belonging="pilot"),
        _real("SINK_MOST", "m/s", 0.3, 5, 1.5, "fastest descent", "hand", belonging="pilot"),
        _real(
            "LOST_WAIT",
            "s",
            0,
            10,
            1.5,
            "time from radio silence until it acts",
            "silence",
            consequence="safety",
            belonging="pilot",
            role="radio_loss.delay",
        ),
        Item(
            "LOST_DOES",
            "uint8",
            "",
            0,
            3,
            1,
            "what it does without a radio",
            "silence",
            "safety",
            "pilot",
            "radio_loss.action",
            choices={"0": "motors stop", "1": "land", "2": "return", "3": "hold and land"},
        ),
        _real(
            "PACK_WARN",
            "V",
            6,
            30,
            14.0,
            "pack voltage of the warning",
            "power",
            consequence="safety",
            belonging="device",
            role="pack.warning_voltage",
        ),
        _real(
            "PACK_LAND",
            "V",
            6,
            30,
            13.2,
            "pack voltage at which it lands",
            "power",
            consequence="safety",
            belonging="device",
            role="pack.landing_voltage",
        ),
        Item(
            "PACK_CELLS", "uint8", "", 1, 6, 4, "cells in series", "power", "safety", "device", "pack.cells"
        ),
        _real(
            "BOARD_YAW",
            "deg",
            -180,
            180,
            0,
            "how the board is turned in the frame",
            "sensors",
            consequence="safety",
            belonging="board",
            role="board.orientation.yaw",
        ),
        *_calibrations(),
        Item("GYRO_CUT", "uint16", "Hz", 20, 500, 120, "low pass of the gyro", "hand"),
        Item(
            "STICK_REST",
            "uint16",
            "us",
            1400,
            1600,
            1500,
            "middle of the sticks",
            "sticks",
            belonging="device",
        ),
        Item("LAMP_HUE", "uint16", "deg", 0, 360, 120, "hue of the lamps", "lamps", "none", "pilot"),
        Item(
            "LAMP_BEAT", "uint16", "ms", 50, 5000, 400, "time between two flashes", "lamps", "none", "pilot"
        ),
        Item("LOG_RATE", "uint16", "Hz", 0, 1000, 100, "rows a second in the log", "log", "none", "pilot"),
    )


#: What dune 2.0 changed: renamed, in other units, dealt out anew, gone, new, with another factory value.
_RENAMED = {"GYRO_CUT": "GYRO_PASS", "CLIMB_MOST": "RISE_MOST", "SINK_MOST": "FALL_MOST"}


def new() -> tuple[Item, ...]:
    """Parameters of dune 2.0."""
    made = []
    for item in old():
        if item.name in ("LAMP_BEAT", "PACK_CELLS"):
            continue
        made.append(_changed(item))
    made.append(
        Item(
            "LOST_CLIMB",
            "uint16",
            "cm",
            0,
            5000,
            0,
            "climb before it returns",
            "silence",
            "safety",
            "pilot",
            "radio_loss.climb",
            0.01,
        )
    )
    made.append(Item("LOG_BENCH", "uint8", "", 0, 1, 0, "log on the bench too", "log", "none", "pilot"))
    return tuple(made)


def _changed(item: Item) -> Item:
    if item.name in _RENAMED:
        return replace(item, name=_RENAMED[item.name])
    if item.name == "LOST_WAIT":
        return replace(item, type="uint16", unit="ms", low=0, high=10_000, factory=1000)
    if item.name == "LOST_DOES":
        words = {"0": "land", "1": "hold and land", "2": "return", "3": "motors stop"}
        return replace(item, choices=words, factory=0)
    if item.name == "PACK_WARN":
        return replace(
            item,
            name="CELL_WARN",
            low=2.5,
            high=4.3,
            factory=3.5,
            role="pack.cell_warning_voltage",
            text="cell voltage of the warning",
        )
    if item.name == "LOG_RATE":
        return replace(item, factory=200)
    return item


NOTES = f"""\
from = "{OLD}"
to = "{NEW}"
complete = true

[[change]]
kind = "convert"
old = "LOST_WAIT"
unit = {{ from = "s", to = "ms" }}
why = "times are whole milliseconds now"
consequence = "safety"

[[change]]
kind = "convert"
old = "LOST_DOES"
choices = {{ "0" = "3", "1" = "0", "2" = "2", "3" = "1" }}
why = "landing comes first, stopping the motors last"
consequence = "safety"

[[change]]
kind = "merge"
old = ["PACK_WARN", "PACK_CELLS"]
new = "CELL_WARN"
expression = "PACK_WARN / PACK_CELLS"
why = "the warning is for one cell; it counts the cells itself now"
consequence = "safety"

[[change]]
kind = "rename"
old = "GYRO_CUT"
new = "GYRO_PASS"

[[change]]
kind = "rename"
old = "CLIMB_MOST"
new = "RISE_MOST"

[[change]]
kind = "rename"
old = "SINK_MOST"
new = "FALL_MOST"

[[change]]
kind = "retire"
old = "LAMP_BEAT"
why = "the lamps are steady now"
consequence = "none"

[[change]]
kind = "default"
old = "LOG_RATE"
why = "200 rows a second"
"""


def description(release: str) -> bytes:
    """How the firmware describes its parameters: the open parameter metadata JSON."""
    return json.dumps(
        {"version": 1, "parameters": [_described(item) for item in items(release)]}, indent=1
    ).encode()


def _described(item: Item) -> dict[str, Any]:
    made: dict[str, Any] = {
        "name": item.name,
        "type": TYPES.get(item.type, "Float"),
        "shortDesc": item.text,
        "group": item.group,
        "default": item.factory,
        "min": item.low,
        "max": item.high,
    }
    if item.unit:
        made["units"] = item.unit
    if item.choices:
        made["values"] = [{"value": int(n), "description": word} for n, word in item.choices.items()]
    return made


def overlay(release: str) -> bytes:
    """What the description has no room for."""
    rows = []
    for item in items(release):
        rows += [
            f'[parameter."{item.name}"]',
            f'consequence = "{item.consequence}"',
            f'belonging = "{item.belonging}"',
        ]
        if item.role:
            rows.append(f'role = "{item.role}"')
        if item.factor != 1.0:
            rows.append(f"factor = {item.factor}")
        if item.redo:
            rows.append(f'redo = "{item.redo}"')
        rows.append("")
    return "\n".join(rows).encode()


def release_toml(release: str) -> bytes:
    """The release's own file."""
    firmware, _, version = release.partition("-")
    follows = f'follows = ["{OLD}"]\n' if release == NEW else ""
    return f'firmware = "{firmware}"\nversion = "{version}"\nboards = ["{BOARD}"]\n{follows}'.encode()


#: What differs from factory on sanderling: whoever built it set it so.
SANDERLING: Mapping[str, float] = {
    "SPIN_BR": 3,
    "SPIN_BL": 2,
    "IDLE_PART": 0.0625,
    "ROLL_FIRM": 0.375,
    "ROLL_CALM": 0.0048828125,
    "PITCH_FIRM": 0.40625,
    "PITCH_MOST": 320,
    "YAW_STAY": 0.28125,
    "TILT_MOST": 28,
    "CLIMB_MOST": 2.5,
    "SINK_MOST": 1.25,
    "LOST_WAIT": 0.75,
    "LOST_DOES": 3,
    "PACK_WARN": 14.5,
    "PACK_LAND": 13.75,
    "BOARD_YAW": 90,
    "ACCEL_OFF_X": 0.171875,
    "ACCEL_OFF_Y": -0.109375,
    "ACCEL_OFF_Z": 0.28125,
    "ACCEL_SIZE_Z": 1.0078125,
    "LEVEL_ROLL": 0.875,
    "LEVEL_PITCH": -1.25,
    "NORTH_OFF_X": 10.5,
    "NORTH_OFF_Y": -8.25,
    "NORTH_OFF_Z": 18.75,
    "VOLT_SIZE": 0.9921875,
    "GYRO_CUT": 95,
    "STICK_REST": 1502,
    "LAMP_HUE": 30,
    "LOG_RATE": 250,
}


def parameters(release: str, values: Mapping[str, float] | None = None) -> bytes:
    """The aircraft's stored parameters as the file the simulated one keeps."""
    said = values or {}
    rows = [f"# {release}", "name,type,value"]
    rows += [f"{one.name},{one.type},{float(said.get(one.name, one.factory))!r}" for one in items(release)]
    return ("\n".join(rows) + "\n").encode()


def items(release: str) -> tuple[Item, ...]:
    """The parameters of a release."""
    return new() if release == NEW else old()
