"""The mixer read back from flights of a small closed loop whose mixer is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from asflown.core.motors.mixer import mixer_from
from asflown.core.motors.mixer_by_rates import FOUR

SHARED = Path(__file__).resolve().parents[4] / "shared" / "data"
SIX = np.array(
    [
        [1.0, 0.5, -0.5, -1, -0.5, 0.5],
        [0, 0.866, 0.866, 0, -0.866, -0.866],
        [1, -1, 1, -1, 1, -1],
    ]
)
RATE = 500.0


def flown(mixer, seconds=24.0, seed=0, full=1.0, busy=1.0):
    """One flight: rate loop, rotor lag, wind, noise. Returns motors, controls, rates, commands."""
    rng = np.random.default_rng(seed)
    n, count = int(seconds * RATE), mixer.shape[1]
    slow = np.exp(-np.arange(250) / 40)
    slow /= np.sqrt(np.sum(slow**2))
    commands = np.array([np.convolve(rng.normal(size=n), slow, "same") for _ in range(3)]) * busy
    wind = np.array([np.convolve(rng.normal(size=n), slow, "same") for _ in range(3)]) * 5
    authority = np.array([600.0, 500.0, 60.0]) / count
    rates, speed = np.zeros(3), np.full(count, 0.4)
    kept = {"motors": np.zeros((count, n)), "control": np.zeros((3, n)), "rates": np.zeros((3, n))}
    gains = np.array([0.06, 0.06, 0.25])
    for k in range(n):
        measured = rates + 0.02 * rng.normal(size=3)
        control = gains * (commands[:, k] - measured)
        motors = np.clip(0.4 + 0.05 * np.sin(k / 700) + control @ mixer, 0.02, full)
        speed += (motors - speed) / (0.03 * RATE)
        rates = rates + (authority * (mixer @ speed) + wind[:, k] - 2 * rates) / RATE
        kept["motors"][:, k], kept["control"][:, k], kept["rates"][:, k] = motors, control, measured
    return kept["motors"], kept["control"], kept["rates"], commands


def shuffled(mixer, seed):
    rng = np.random.default_rng(seed)
    return mixer[:, rng.permutation(mixer.shape[1])] * rng.choice([-1.0, 1.0], size=(3, 1))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("base", [FOUR, SIX], ids=["four", "six"])
def test_logged_controls_give_the_exact_inverse_though_motors_saturate(base, seed):
    mixer = shuffled(base, seed)
    motors, control, rates, _ = flown(mixer, seed=seed, full=0.62, busy=2)
    assert np.mean(motors >= 0.62) > 0.005
    found = mixer_from(motors, control, rates, RATE)
    assert found.reason is None
    assert found.route == "controls"
    np.testing.assert_allclose(found.matrix, np.linalg.pinv(mixer.T), atol=2e-3)
    assert min(found.certainty) == pytest.approx(0.9)
    free = ((motors > 0.03) & (motors < 0.61)).all(axis=0)
    np.testing.assert_allclose(found.differential(motors)[:, free], control[:, free], atol=5e-3)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("known", [True, False], ids=["command known", "rates alone"])
def test_four_motors_by_their_rates_alone(seed, known):
    mixer = shuffled(FOUR, seed)
    motors, _, rates, commands = flown(mixer, seed=seed)
    found = mixer_from(motors, None, rates, RATE, commands if known else None)
    np.testing.assert_array_equal(found.matrix, mixer / 4)
    assert min(found.certainty) >= 0.7


def test_six_motors_by_their_rates_with_the_command_as_instrument():
    mixer = shuffled(SIX, 5)
    motors, _, rates, commands = flown(mixer, seconds=60, seed=5)
    found = mixer_from(motors, None, rates, RATE, commands)
    wanted = mixer / np.sum(np.abs(mixer), axis=1, keepdims=True)
    np.testing.assert_allclose(found.matrix, wanted, atol=0.05)


def test_a_control_of_the_wrong_sign_is_told():
    motors, control, rates, commands = flown(FOUR, seed=1)
    control[2] *= -1
    found = mixer_from(motors, control, rates, RATE, commands)
    assert any("yaw" in caveat and "sign" in caveat for caveat in found.caveats)
    control[2] *= -1
    assert mixer_from(motors, control, rates, RATE, commands).caveats == ()


def test_too_little_says_what_to_log():
    motors, control, rates, _ = flown(FOUR, seconds=2)
    assert "three" not in (mixer_from(motors[:3], control, rates, RATE).reason or "four")
    assert "log controls" in (mixer_from(motors, None, rates, RATE).reason or "")
    control[1] = 0
    told = mixer_from(np.tile(motors, 6), np.tile(control, 6), np.tile(rates, 6) * 0, RATE)
    assert told.matrix is None
    assert told.route == "controls"
    assert "pitch control moved no motor" in told.reason


@pytest.mark.parametrize("base", [FOUR, SIX], ids=["four", "six"])
def test_rates_or_commands_that_stand_still_give_a_reason_and_no_matrix_of_zeros(base):
    motors, control, rates, commands = flown(base, seconds=12)
    stuck = rates.copy()
    stuck[2] = 0.25
    for measured, wanted, words in [
        (None, commands, "log roll, pitch and yaw rate"),
        (rates * 0, commands, "roll and pitch and yaw rate never changes"),
        (stuck, commands, "measured yaw rate never changes"),
        (stuck, None, "measured yaw rate never changes"),
        (rates * np.nan, commands, "never changes"),
        (rates, commands * 0, "no commanded rate ever changes"),
    ]:
        told = mixer_from(motors, None, measured, RATE, wanted)
        assert told.matrix is None
        assert words in told.reason
        assert mixer_from(motors, control, measured, RATE, wanted).route == "controls"


def test_a_long_pause_of_the_pilot_is_a_part_that_does_not_agree():
    motors, _, rates, commands = (np.tile(rows, 2) for rows in flown(SIX, seconds=24, seed=5))
    commands[:, commands.shape[1] // 2 :] = 0.0
    found = mixer_from(motors, None, rates, RATE, commands)
    assert found.matrix is not None
    assert max(found.certainty) < 0.8


@pytest.mark.shared_data
@pytest.mark.parametrize("name", ["A_seed1", "A_seed2", "B_gain10_seed3"])
def test_flights_of_the_public_simulator(name):
    """rotorpy 3.0.0 (MIT): parameter set hummingbird, arms at 45 deg, x forward, y left, z up.

    Rotor 1 front left, 2 front right, 3 rear right, 4 rear left, turning +, -, +, - (its source).
    """
    polars = pytest.importorskip("polars")
    path = SHARED / "rotorpy_sim" / f"{name}.parquet"
    if not path.exists():
        pytest.skip(f"no {path.name} beside the project")
    table = polars.read_parquet(path)
    motors = np.array([table[f"m{i}_cmd_rads"] for i in (1, 2, 3, 4)], dtype=float)
    rates, commands = (
        np.radians(np.array([table[f"{head}_{axis}_dps"] for axis in "pqr"], dtype=float))
        for head in ("gyro", "cmd")
    )
    for known in (commands, None):
        found = mixer_from(motors / motors.max(), None, rates, 500.0, known)
        left_up = [1, -1, -1, 1]
        rear_up = [-1, -1, 1, 1]
        turning = [1, -1, 1, -1]
        np.testing.assert_array_equal(found.matrix * 4, [left_up, rear_up, turning])
