"""Samples become a value for a card's box: held, changed, channels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.bench.live_value import changed, channels, held

NUMBERS = np.random.default_rng(1)


def test_a_held_angle_in_degrees():
    one = held("attitude.roll", np.radians(30.0 + 0.3 * NUMBERS.standard_normal(150)))
    assert float(one.value) == pytest.approx(30.0, abs=0.1)
    assert "150 samples" in one.says


def test_an_angle_that_moved_is_no_value():
    with pytest.raises(ValueError, match="hold it still"):
        held("attitude.pitch", np.radians(np.linspace(0, 20, 100)))
    with pytest.raises(ValueError, match="did not tell"):
        held("pack_voltage", np.array([np.nan]))


def test_a_supply_keeps_two_figures():
    assert held("pack_voltage", 15.917 + 0.004 * NUMBERS.standard_normal(60)).value == "15.92"
    assert held("attitude.roll", np.full(9, -1e-5)).value == "0.0"


def test_a_turn_through_north_is_no_jump():
    yaw = np.radians(np.linspace(340, 380, 200)) % (2 * np.pi)
    assert float(changed("attitude.yaw", yaw).value) == pytest.approx(36, abs=1)  # medians of its ends


def row(*pieces):
    return np.concatenate([np.full(n, float(value)) for value, n in pieces])


def test_one_stick_moves_one_channel():
    one = channels(
        {
            "channel.1": row((1500, 40), (1010, 20), (1990, 20), (1502, 40)),
            "channel.2": np.full(120, 1500.0),
            "attitude.roll": np.full(120, 3.0),
        }
    )
    assert one.value == "channel 1: 1010 to 1990, rest 1502"
    two = channels({"channel.1": row((1500, 9), (1900, 9)), "channel.4": row((1500, 9), (1100, 9))})
    assert two.value.count("channel ") == 2


@given(st.floats(-50, 50), st.integers(4, 400))
def test_a_channel_at_rest_says_nothing(wobble, count):
    with pytest.raises(ValueError, match="no channel moved"):
        channels({"channel.3": 1500 + wobble * np.sin(np.arange(count))})


def test_no_receiver():
    with pytest.raises(ValueError, match="does not tell"):
        channels({})
