"""The scale of a declared controller's drive: found on a drive made by it, refused on one that is not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from asflown.core.behaviour.declared_scale import drive_scale

RATE = 500.0


def signals(seconds: float = 40.0) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(8)
    noise = random.normal(size=(2, round(seconds * RATE)))
    command = lfilter([0.05], [1, -0.95], noise[0])
    return command, lfilter([0.04], [1, -0.96], command) + 0.2 * lfilter([0.1], [1, -0.9], noise[1])


def responses(gain: float, corner: float):
    """A gain on the command and a low-passed gain on the rate, with the discrete filter's own response."""
    share = 1 - np.exp(-2 * np.pi * corner / RATE)

    def at(f: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        z = np.exp(-2j * np.pi * f / RATE)
        return np.full(f.shape, gain, dtype=complex), gain * share / (1 - (1 - share) * z)

    def drive(command: np.ndarray, rate: np.ndarray) -> np.ndarray:
        return gain * command - gain * lfilter([share], [1, share - 1], rate)

    return at, drive


@pytest.mark.parametrize("scale", [0.25, 1.0, 3.0])
def test_the_scale_of_the_declared_drive_is_found(scale):
    command, rate = signals()
    at, drive = responses(0.08, 60.0)
    found = drive_scale([(scale * drive(command, rate), command, rate)], RATE, at)
    assert found is not None
    assert found.scale == pytest.approx(scale, rel=2e-4)
    assert found.explained > 0.9999
    assert found.holds


def test_a_drive_that_the_declaration_does_not_make_is_refused():
    command, rate = signals()
    at, _ = responses(0.08, 60.0)
    _, slow = responses(0.08, 1.0)
    other = drive_scale([(slow(command, rate), command, rate)], RATE, at)
    assert other is not None
    assert not other.holds
    turned = drive_scale([(-responses(0.08, 60.0)[1](command, rate), command, rate)], RATE, at)
    assert turned is not None
    assert not turned.holds


def test_nothing_is_said_of_nothing():
    at, _ = responses(0.08, 60.0)
    short = np.ones(100)
    assert drive_scale([(short, short, short)], RATE, at) is None
    flat = np.ones(5000)
    assert drive_scale([(flat, flat, flat)], RATE, at) is None
