"""The settings that are new in marram 5.0."""

from __future__ import annotations

from asflown.demo.firmware.facts import LAMP, OFF_ON, Facts
from asflown.demo.firmware.parameter import Parameter, table


def tables() -> tuple[Parameter, ...]:
    """Every new parameter, without the facts of :func:`facts`."""
    return (
        *table(
            "pack",
            "safety airframe",
            """
cell.stop | u16 | 0 | 0..400 | 0.01V | | voltage of one cell at which the aircraft comes down by itself
cell.tell | u16 | 360 | 100..450 | 0.01V | comfort airframe | voltage of one cell at which the pilot is told
pack.know | u8 | 1 | 0..1 | | none device | whether the pack's own reckoner is asked
""",
        ),
        *table(
            "silence",
            "safety pilot",
            """
silent.tell | u8 | 1 | 0..1 | | | whether the sounder tells that the radio is silent
""",
        ),
        *table(
            "senses",
            "safety board",
            """
push.{x,y,z}.even | i16 | 0 | -4000..4000 | | | reading of the push sensor along * that stands for no push
push.trust.fast | f4 | 0.0625 | 0.0..1.0 | | handling airframe | how far the push sensor is believed at speed
""",
        ),
        *table(
            "notices",
            "comfort pilot",
            """
lamp.{e,f}.hue     | u16 | 40   | 0..359     | deg      |  | colour of lamp *
lamp.{e,f}.does    | u8  | 0    | 0..4       |          |  | what lamp * shows
lamp.sleep         | u16 | 300  | 0..3600    | s        |  | time after which the lamps go out
""",
        ),
        *table(
            "picture",
            "comfort pilot",
            """
show.{wind,cell,sets,north}.on     | u8 | 0 | 0..1  |  |  | whether * is written over the picture
show.{wind,cell,sets,north}.left | u8 | 2 2 14 14 | 0..29 |  |  | column of * in the picture
show.{wind,cell,sets,north}.down | u8 | 8 9 3 1 | 0..15 |  |  | row of * in the picture
show.blink         | u8  | 5    | 0..20      | 0.1s     |  | time of one blink in the picture
""",
        ),
        *table(
            "diary",
            "none pilot",
            """
diary.wait         | u8  | 2    | 0..30      | s        |  | time before the diary starts
diary.close        | u8  | 3    | 0..30      | s        |  | time after which the diary is closed
diary.room | u16 | 64 | 1..1024 | | | room left on the card at which the diary stops, megabytes
craft.group        | u8  | 0    | 0..99      |          | none airframe | group the aircraft belongs to
""",
        ),
        *table(
            "wind",
            "comfort place",
            """
wind.guess         | u8  | 1    | 0..1       |          |  | whether wind is reckoned from lean
wind.over          | u16 | 30   | 1..300     | s        |  | time the wind is averaged over
wind.tell          | f1  | 8.0  | 0.0..30.0  | m/s      |  | wind from which the pilot is told
""",
        ),
    )


def facts() -> Facts:
    """Facts by parameter name."""
    even = "lay the aircraft on each of its six sides and take the six readings"
    return {
        "cell.stop": {
            "plain": "0 off",
            "why": "comes down by itself wherever it is",
            "role": "pack.cell_landing_voltage",
        },
        "silent.tell": {
            "choices": OFF_ON,
            "why": "without the sound nobody near knows that it acts by itself",
        },
        "pack.know": {"choices": OFF_ON},
        **{
            f"push.{axis}.even": {"redo": even, "role": f"calibration.accelerometer.scale.{axis}"}
            for axis in "xyz"
        },
        **{f"lamp.{which}.does": {"choices": LAMP} for which in "ef"},
        **{f"show.{item}.on": {"choices": OFF_ON} for item in ("wind", "cell", "sets", "north")},
        "lamp.sleep": {"plain": "0 never"},
        "wind.guess": {"choices": OFF_ON},
        "wind.over": {"needs": ("wind.guess",)},
    }
