"""What a controller amounts to: against the closed forms of simple controllers and scipy's responses."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import freqz

from asflown.core.behaviour.amounts import amounts, change
from asflown.core.behaviour.declared import KnownController, controller_of
from asflown.core.control import Block, BlockKind, ControlStructure

RATE = 2000.0


def controller(
    gain: float = 0.2, cutoff: float = 100.0, steps: float = 0.0, calm: float = 0.0, axis: str = "roll"
) -> KnownController:
    """A gain on the error of a rate through a one-pole filter, a derivative of it, and whole steps of delay."""
    blocks = (
        Block("clean", BlockKind.ONE_POLE, ("rate",), {"cutoff": "cut"}, {"rule": "impulse"}),
        Block("error", BlockKind.SUM, ("command", "-clean")),
        Block("p", BlockKind.GAIN, ("error",), {"gain": "p"}),
        Block("slope", BlockKind.DERIVATIVE, ("clean",)),
        Block("d", BlockKind.GAIN, ("slope",), {"gain": "d"}),
        Block("total", BlockKind.SUM, ("p", "-d")),
        Block("drive", BlockKind.DELAY, ("total",), constants={"steps": steps}),
    )
    values = {"p": gain, "cut": cutoff, "d": calm}
    return controller_of(ControlStructure(axis, blocks, rate_hz=RATE), values)


def test_noise_of_a_one_pole_filter_is_the_textbooks():
    """A first-order recursion x += (1 - a) (n - x) of white n has (1 - a) / (1 + a) of its variance."""
    pole = np.exp(-2 * np.pi * 100.0 / RATE)
    wanted = 0.2 * np.sqrt(RATE / 2 * (1 - pole) / (1 + pole))
    assert amounts(controller()).noise == pytest.approx(wanted, rel=1e-6)


def test_responses_are_scipys():
    made = amounts(controller(calm=0.001))
    pole = np.exp(-2 * np.pi * 100.0 / RATE)
    _, clean = freqz([1 - pole], [1, -pole], worN=made.frequencies, fs=RATE)
    _, slope = freqz([RATE, -RATE], [1], worN=made.frequencies, fs=RATE)
    np.testing.assert_allclose(made.rate, clean * (0.2 + 0.001 * slope), rtol=1e-9)
    np.testing.assert_allclose(made.command, 0.2 * np.ones(made.frequencies.size), rtol=1e-12)
    assert (made.frequencies[0], made.frequencies[-1]) == (0.1, RATE / 2)


def test_nothing_changes_from_a_controller_to_itself():
    found = change(controller(), controller(), at=12.0)
    assert found.is_none
    assert (found.firmness, found.noise) == pytest.approx((1.0, 1.0), rel=1e-12)


def test_twice_the_gain_is_six_decibels_everywhere():
    found = change(controller(), controller(gain=0.4), at=12.0)
    for largest in (found.command, found.rate, found.passed):
        assert largest.decibels == pytest.approx(20 * np.log10(2), rel=1e-12)
    assert found.firmness == pytest.approx(2.0)
    assert found.noise == pytest.approx(2.0)
    assert found.delay == pytest.approx(0.0, abs=1e-12)
    assert not found.is_none


@pytest.mark.parametrize("steps", [1.0, 40.0, 300.0])
def test_delay_is_told_whole_also_beyond_a_turn(steps):
    found = change(controller(), controller(steps=steps), at=12.0)
    assert found.delay == pytest.approx(steps / RATE, rel=1e-9)
    assert found.firmness == pytest.approx(1.0)


def test_a_derivative_passes_more_noise_the_higher_the_more():
    """By hand at half the loop's rate: the difference is 2 x 2000 there, so 1 + 0.001 x 4000 / 0.2 = 21."""
    found = change(controller(), controller(calm=0.001), at=12.0)
    assert found.passed.frequency == RATE / 2
    assert found.passed.decibels == pytest.approx(20 * np.log10(21.0), rel=1e-9)
    assert found.noise > 3


def test_other_axes_and_frequencies_are_refused():
    with pytest.raises(ValueError, match="one axis"):
        change(controller(), controller(axis="yaw"), at=12.0)
    with pytest.raises(ValueError, match="answers the rate"):
        change(controller(), controller(gain=0.0), at=12.0)
    with pytest.raises(ValueError, match="below 1000 Hz"):
        change(controller(), controller(), at=1000.0)
