"""A bench log is told from a flight, the motors' pattern is found, and what stands at its end is left out."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from asflown.core.behaviour.from_log.bench import LogKind, free_rows, kind_of, pattern_of

RATE = 200.0
GRAVITY = 9.80665
MIXER = np.array([[-1.0, 1.0, -1.0], [-1.0, -1.0, 1.0], [1.0, 1.0, 1.0], [1.0, -1.0, -1.0]])


def swings(seconds: float = 30.0, seed: int = 1) -> np.ndarray:
    """(3, n) rad/s."""
    time = np.arange(round(seconds * RATE)) / RATE
    random = np.random.default_rng(seed)
    made = [
        sum(
            a * np.sin(2 * np.pi * f * time + p)
            for a, f, p in random.uniform([0.3, 0.4, 0], [1, 3, 6], (5, 3))
        )
        for _ in range(3)
    ]
    return np.stack(made)


def gravity_seen(rates: np.ndarray) -> np.ndarray:
    """(3, n) specific force of a frame that turns in a hand, by scipy's rotations."""
    turns = Rotation.from_rotvec(rates.T / RATE)
    held = Rotation.identity()
    made = []
    for turn in turns:
        held = held * turn
        made.append(held.inv().apply([0.0, 0.0, -GRAVITY]))
    return np.array(made).T


def test_a_frame_in_a_hand_is_told_by_gravity():
    rates = swings()
    noise = np.random.default_rng(2).normal(0.0, 0.3, rates.shape)
    told = kind_of(rates, gravity_seen(rates) + noise, RATE, armed=None, output_moves=True)
    assert told.kind is LogKind.BENCH


def test_a_flight_is_told_by_a_force_that_turns_with_the_frame():
    rates = swings()
    random = np.random.default_rng(3)
    force = np.stack([random.normal(0.0, 0.4, rates.shape[1]) for _ in range(3)])
    force[2] -= GRAVITY
    assert kind_of(rates, force, RATE, armed=None, output_moves=True).kind is LogKind.FLIGHT


def test_never_armed_and_yet_moving_is_a_bench():
    assert kind_of(None, None, RATE, armed=False, output_moves=True).kind is LogKind.BENCH


def test_without_evidence_nothing_is_told():
    assert kind_of(None, None, RATE, armed=None, output_moves=True).kind is LogKind.UNKNOWN
    still = np.full((3, 3000), 1e-3)
    assert kind_of(still, still - 9.8, RATE, armed=True, output_moves=True).kind is LogKind.UNKNOWN


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1)])
def test_the_pattern_is_that_of_the_mixer(order):
    rates, commands = swings(seed=4), 0.2 * swings(seed=5)
    error = commands - rates
    control = 0.1 * error + 0.2 * np.cumsum(error, axis=1) / RATE
    mixer = MIXER[:, order]
    motors = 0.5 + mixer @ control
    found, why = pattern_of(motors, rates, commands, RATE)
    assert why == ""
    np.testing.assert_allclose(found, np.linalg.pinv(mixer), atol=1e-12)
    np.testing.assert_allclose(np.abs(found).sum(axis=1), 1.0)


def test_six_motors_are_read_too():
    rates = swings(seed=6)
    angles = np.radians([30, 90, 150, 210, 270, 330])
    mixer = np.stack([-np.sin(angles), np.cos(angles), [1, -1, 1, -1, 1, -1]], axis=1)
    motors = 0.5 + mixer @ (-0.1 * rates)
    found, _ = pattern_of(motors, rates, None, RATE)
    wanted = np.linalg.pinv(mixer)
    np.testing.assert_allclose(found, wanted / np.abs(wanted).sum(axis=1, keepdims=True), atol=1e-6)


def test_an_axis_that_did_not_move_is_named():
    rates = swings(seed=7)
    random = np.random.default_rng(8)
    motors = (
        0.5 + MIXER @ (-0.1 * rates * np.array([[1.0], [1.0], [0.0]])) + random.normal(0, 0.01, (4, 6000))
    )
    found, why = pattern_of(motors, rates, None, RATE)
    assert found is None
    assert "yaw" in why


def test_rows_at_an_end_are_left_out_and_single_touches_stay():
    random = np.random.default_rng(9)
    motor = np.clip(random.normal(0.5, 0.02, 5000), 0.0, 0.9)
    motor[1000:1200] = 0.9
    motor[3000] = 0.9
    free = free_rows([motor], 1000.0, moving=motor)
    assert not free[990:1210].any()
    assert free[3000]
    assert free[:900].all()


def test_an_output_that_stands_still_is_left_out():
    values = np.sin(np.arange(4000) / 30.0)
    values[1000:2000] = values[1000]
    free = free_rows([values], 1000.0, moving=values)
    assert not free[1001:2000].any()
    assert free[2001:].all()
