"""The commanded rate at half and full stick, against curves that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.behaviour.stick import commanded


def flown(curve, *, seconds: float = 60.0, noise: float = 0.0, sense: float = 1.0):  # type: ignore[no-untyped-def]
    """A stick moved about, sent 50 times a second and logged 1,000 times."""
    random = np.random.default_rng(4)
    sent = np.clip(np.cumsum(random.normal(0, 0.12, int(50 * seconds))), None, None)
    sent = np.sin(sent)  # wanders over its whole way
    stick = np.repeat(np.round(sent, 3), 20)
    return stick, sense * curve(stick) + noise * random.standard_normal(stick.size)


def test_a_straight_stick_and_a_bent_one() -> None:
    """Rate 8 x, and 8 ((1 - e) x + e x³) with e = 0.4: at half 2.8, at full 8 rad/s."""
    straight = commanded(*flown(lambda x: 8.0 * x))
    assert straight["command_at_half_stick"].value == pytest.approx(4.0, rel=1e-3)
    assert straight["command_at_full_stick"].value == pytest.approx(8.0, rel=1e-3)
    bent = commanded(*flown(lambda x: 8.0 * (0.6 * x + 0.4 * x**3)))
    assert bent["command_at_half_stick"].value == pytest.approx(2.8, rel=0.02)
    assert bent["command_at_full_stick"].value == pytest.approx(8.0, rel=0.02)


def test_the_interval_holds_and_either_sense_will_do() -> None:
    made = commanded(*flown(lambda x: 8.0 * x, noise=0.05, sense=-1.0))
    for name, true in (("command_at_half_stick", 4.0), ("command_at_full_stick", 8.0)):
        found = made[name]
        assert found.low <= true <= found.high  # type: ignore[operator]
        assert found.high - found.low < 0.05  # type: ignore[operator]


def test_a_command_that_the_stick_does_not_make_alone_is_not_told() -> None:
    stick, command = flown(lambda x: 8.0 * x, noise=1.0)
    assert "stick alone" in str(commanded(stick, command)["command_at_half_stick"].reason)


def test_a_stick_that_was_never_there_is_not_told() -> None:
    stick, _ = flown(lambda x: x)
    made = commanded(0.3 * stick, 2.4 * stick)
    assert "hardly at 50%" in str(made["command_at_half_stick"].reason)
    assert made["command_at_full_stick"].value is None
    assert commanded(np.zeros(50), np.zeros(50))["command_at_full_stick"].value is None
