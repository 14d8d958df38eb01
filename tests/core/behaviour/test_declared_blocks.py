"""Each block of a declared controller against scipy.signal.freqz, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from asflown.core.behaviour.declared import KnownController, controller_of
from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.errors import InputError

RATE = 2000.0
AT = np.geomspace(0.1, 950.0, 60)


def one(kind: BlockKind, **constants: float | str) -> KnownController:
    block = Block("drive", kind, ("-rate",), constants=constants)
    return controller_of(ControlStructure("roll", (block,), RATE), {})


def freqz(b: object, a: object) -> np.ndarray:
    return np.asarray(signal.freqz(b, a, worN=AT, fs=RATE)[1])


def one_pole(factor: float) -> np.ndarray:
    return freqz([factor], [1.0, factor - 1.0])


TURN = 2 * math.pi * 80.0 / RATE
BLOCKS = {
    "gain": (one(BlockKind.GAIN, gain=3.0, times=0.5), freqz([1.5], [1.0])),
    "sum": (one(BlockKind.SUM), freqz([1.0], [1.0])),
    "integrator": (one(BlockKind.INTEGRATOR), freqz([1 / RATE], [1.0, -1.0])),
    "forward": (one(BlockKind.INTEGRATOR, rule="forward"), freqz([0.0, 1 / RATE], [1.0, -1.0])),
    "trapezoid": (
        one(BlockKind.INTEGRATOR, rule="trapezoid"),
        freqz(*signal.bilinear([1.0], [1.0, 0.0], RATE)),
    ),
    "derivative": (one(BlockKind.DERIVATIVE), freqz([RATE, -RATE], [1.0])),
    "one pole": (one(BlockKind.ONE_POLE, cutoff=80.0), one_pole(TURN / (1 + TURN))),
    "impulse": (one(BlockKind.ONE_POLE, cutoff=80.0, rule="impulse"), one_pole(1 - math.exp(-TURN))),
    "two stages": (one(BlockKind.ONE_POLE, cutoff=80.0, stages=2), one_pole(TURN / (1 + TURN)) ** 2),
    "biquad": (one(BlockKind.BIQUAD, cutoff=80.0), freqz(*signal.butter(2, 80.0, fs=RATE))),
    "delay": (one(BlockKind.DELAY, steps=3), freqz([0, 0, 0, 1.0], [1.0])),
    "seconds": (one(BlockKind.DELAY, seconds=0.002), freqz([0, 0, 0, 0, 1.0], [1.0])),
    "limit": (one(BlockKind.LIMIT, limit=0.3), freqz([1.0], [1.0])),
    "shaping": (one(BlockKind.SHAPING), freqz([1.0], [1.0])),
}


@pytest.mark.parametrize("name", sorted(BLOCKS))
def test_a_block_is_what_scipy_says(name):
    made, wanted = BLOCKS[name]
    command, rate = made.response(AT)
    np.testing.assert_allclose(rate, wanted, rtol=1e-9)
    assert not command.any()


def test_a_notch_lets_nothing_pass_at_its_centre_and_is_as_wide_as_said():
    """The analogue prototype (s^2 + 1) / (s^2 + s / Q + 1) by scipy's bilinear rule, its centre prewarped."""
    w0 = 2 * RATE * math.tan(math.pi * 200.0 / RATE)
    b, a = signal.bilinear([1.0, 0.0, w0 * w0], [1.0, w0 * 40.0 / 200.0, w0 * w0], RATE)
    for made in (
        one(BlockKind.NOTCH, centre=200.0, width=40.0),
        one(BlockKind.NOTCH, centre=200.0, quality=5.0),
    ):
        np.testing.assert_allclose(made.response(AT)[1], freqz(b, a), rtol=1e-9)
        assert abs(made.response(200.0)[1][0]) < 1e-12


def test_signs_and_scale():
    """drive = Cr command - Cy rate, by hand: 2 (command - rate) + command, halved by the scale."""
    blocks = (
        Block("error", BlockKind.SUM, ("command", "-rate")),
        Block("firm", BlockKind.GAIN, ("error",), constants={"gain": 2.0}),
        Block("drive", BlockKind.SUM, ("firm", "command")),
    )
    made = controller_of(ControlStructure("yaw", blocks, RATE), {}, scale=0.5)
    command, rate = made.response([1.0, 10.0])
    assert command.tolist() == [1.5, 1.5]
    assert rate.tolist() == [1.0, 1.0]
    assert made.scaled(1.0).response(1.0)[0].tolist() == [3.0]


def test_a_block_that_is_switched_off_lets_everything_pass():
    block = Block(
        "drive",
        BlockKind.ONE_POLE,
        ("command",),
        {"cutoff": "filter.cutoff"},
        when={"filter.kind": (1.0, 2.0)},
        unless={"filter.cutoff": (0.0,)},
    )
    structure = ControlStructure("roll", (block,), RATE)
    through = [1.0 + 0.0j]
    on = {"filter.kind": 1.0, "filter.cutoff": 90.0}
    assert abs(controller_of(structure, on, stored=on).response(90.0)[0][0]) < 0.8
    for stored in ({"filter.kind": 3.0, "filter.cutoff": 90.0}, {"filter.kind": 1.0, "filter.cutoff": 0.0}):
        assert controller_of(structure, {}, stored=stored).response(90.0)[0].tolist() == through


def test_everything_that_is_missing_is_said_at_once():
    blocks = (
        Block("smooth", BlockKind.BIQUAD, ("rate",), {"cutoff": "filter.cutoff"}),
        Block("firm", BlockKind.GAIN, ("command", "-smooth"), {"gain": "loop.gain"}),
        Block("drive", BlockKind.DELAY, ("firm",), {"seconds": "loop.delay"}, when={"loop.kind": (1.0,)}),
    )
    structure = ControlStructure("roll", blocks, rate_role="loop.rate", holds={"loop.mode": (0.0, 1.0)})
    with pytest.raises(InputError, match="cannot be computed") as caught:
        controller_of(structure, {"loop.mode": 2.0}, unusable={"filter.cutoff": "shown as off, a word"})
    told = [str(fault) for fault in caught.value.faults]
    assert told == [
        "holds: loop.mode is 2; the structure is declared for 0 or 1 alone",
        "rate: no setting has the role loop.rate",
        "block 'smooth' cutoff: filter.cutoff: shown as off, a word",
        "block 'firm' gain: no setting has the role loop.gain",
        "block 'drive': no setting has the role loop.kind",
    ]
    assert caught.value.next_step


@pytest.mark.parametrize(
    ("kind", "constants", "says"),
    [
        (BlockKind.ONE_POLE, {"cutoff": 1000.0}, "below 1000 Hz"),
        (BlockKind.ONE_POLE, {"cutoff": 0.0}, "frequency above 0"),
        (BlockKind.BIQUAD, {"cutoff": 50.0, "quality": 0.0}, "Q above 0"),
        (BlockKind.ONE_POLE, {"cutoff": 50.0, "stages": 1.5}, "whole number"),
        (BlockKind.NOTCH, {"centre": 50.0, "width": 0.0}, "width above 0"),
        (BlockKind.DELAY, {"seconds": -1.0}, "delay of 0 or more"),
        (BlockKind.GAIN, {}, "needs its gain"),
        (BlockKind.NOTCH, {"centre": 50.0}, "needs one of quality, width"),
        (BlockKind.NOTCH, {"centre": 50.0, "width": 9.0, "quality": 3.0}, "needs one of quality, width"),
        (BlockKind.SUM, {"gain": 2.0}, "has no gain"),
        (BlockKind.GAIN, {"gain": "two"}, "gain is a number"),
        (BlockKind.INTEGRATOR, {"rule": "sideways"}, "one of backward, forward, trapezoid"),
        (BlockKind.SUM, {"rule": "backward"}, "rule of a sum is none"),
        (BlockKind.MIXER, {}, "comes after the drive"),
        (BlockKind.MOTOR_CURVE, {}, "comes after the drive"),
    ],
)
def test_what_a_block_cannot_be(kind, constants, says):
    with pytest.raises(InputError) as caught:
        one(kind, **constants)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("blocks", "says"),
    [
        ((Block("firm", BlockKind.SUM, ("rate",)),), "no block is called 'drive'"),
        ((Block("drive", BlockKind.SUM, ("speed",)),), "'speed' is neither a block nor"),
        ((Block("drive", BlockKind.SUM, ()),), "takes nothing"),
        (
            (Block("drive", BlockKind.SUM, ("a",)), Block("a", BlockKind.SUM, ("-drive", "rate"))),
            "makes itself",
        ),
        ((Block("drive", BlockKind.SUM, ("rate",)), Block("rate", BlockKind.SUM, ("command",))), "is taken"),
        ((Block("drive", BlockKind.SUM, ("rate",)), Block("drive", BlockKind.SUM, ("rate",))), "is taken"),
    ],
)
def test_what_a_structure_cannot_be(blocks, says):
    with pytest.raises(InputError) as caught:
        controller_of(ControlStructure("roll", blocks, RATE), {})
    assert says in str(caught.value)


def test_the_rate_is_said_once_and_is_a_rate():
    block = Block("drive", BlockKind.SUM, ("rate",))
    for structure in (
        ControlStructure("roll", (block,)),
        ControlStructure("roll", (block,), RATE, "loop.rate"),
    ):
        with pytest.raises(InputError, match="cannot be computed"):
            controller_of(structure, {"loop.rate": RATE})
    with pytest.raises(InputError) as caught:
        controller_of(ControlStructure("roll", (block,), rate_role="loop.rate"), {"loop.rate": 0.0})
    assert "above 0 Hz, got 0" in str(caught.value)


@pytest.mark.parametrize("wrong", [0.0, -1.0, 1000.1, math.nan])
def test_a_frequency_outside_the_loops_range_is_refused(wrong):
    with pytest.raises(ValueError, match="up to 1000 Hz"):
        one(BlockKind.SUM).response([10.0, wrong])
