"""Balance, limits, headroom and lost steps on made signals whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.measured import Measured, unmeasured
from asflown.core.motors.balance import balance
from asflown.core.motors.limits import headroom, saturation
from asflown.core.motors.lost_steps import desynchronisation
from asflown.core.motors.mixer import MotorMixer
from asflown.core.motors.mixer_by_rates import FOUR

RATE = 200.0
MIXER = MotorMixer(FOUR / 4, (0.9, 0.9, 0.9), "controls")


def hover(offsets, seconds=30.0, seed=0, level=0.4, noise=0.02, memory=0.3):
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    kept = np.exp(-1 / (memory * RATE))
    drive = rng.normal(size=(3, n)) * np.sqrt(1 - kept**2)
    for k in range(1, n):
        drive[:, k] += kept * drive[:, k - 1]
    return level + np.asarray(offsets)[:, None] + FOUR.T @ (noise * drive) + 0.01 * rng.normal(size=(4, n))


def everywhere(motors):
    return np.ones(motors.shape[1], dtype=bool)


def test_intervals_of_offsets_cover_the_truth():
    truth = np.array([0.03, -0.01, 0.0, -0.02])
    hits = []
    for seed in range(150):
        motors = hover(truth, seed=seed, seconds=20)
        found = balance(motors, everywhere(motors), RATE, MIXER)
        hits += [o.low <= t <= o.high for o, t in zip(found.offsets, truth, strict=True)]
        hits += [p.low <= t <= p.high for p, t in zip(found.patterns, FOUR @ truth / 4, strict=True)]
    # Seven figures a flight hang together, so about 300 independent ones: 95 % +- 2.5 sd.
    assert 0.92 <= np.mean(hits) <= 0.98


@pytest.mark.parametrize(
    ("offsets", "words", "never"),
    [
        (0.04 * FOUR[0], ["motors on the left work 10 % above"], ["one motor alone", "front", "nose"]),
        (-0.04 * FOUR[0], ["motors on the right"], ["left"]),
        (0.04 * FOUR[1], ["motors at the front", "centre of gravity"], ["one motor alone"]),
        (-0.04 * FOUR[1], ["motors at the rear"], ["front"]),
        (0.04 * FOUR[2], ["nose to the right", "twisted arm"], ["gravity"]),
        ([0, 0, 0.08, 0], ["motor 3 is given 15 % more", "weaker motor", "looks the same"], ["motor 1 is"]),
        ([0, -0.08, 0, 0], ["motor 2 is given", "less than", "stronger"], ["weaker motor, "]),
        ([0, 0, 0, 0], ["work alike within 3 %"], ["gravity"]),
    ],
)
def test_what_an_offset_means(offsets, words, never):
    motors = hover(offsets, noise=0.01)
    told = " ".join(balance(motors, everywhere(motors), RATE, MIXER).meanings)
    assert all(word in told for word in words), told
    assert not any(word in told for word in never), told


def test_balance_without_mixer_or_hover():
    motors = hover([0.1, 0, 0, -0.1], noise=0.002)
    found = balance(motors, everywhere(motors), RATE)
    assert "not known" in found.patterns[0].reason
    assert found.meanings == (
        "motor 1 gets 25 % more than the mean",
        "motor 4 gets 25 % less than the mean",
    )
    assert "hover for 30 s" in balance(motors, ~everywhere(motors), RATE).mean.reason


def test_shares_and_spans_at_the_limits():
    motors = np.tile(0.4 + 0.1 * np.sin(np.arange(2000) / 30), (4, 1))
    motors[1, 300:400] = 1.0
    motors[2, 402:420] = 1.0
    motors[3, 1000:1010] = 0.05
    found = saturation(motors, RATE, start=5.0)
    assert (found.idle, found.full) == (0.05, 1.0)
    assert found.at_full == pytest.approx((0, 0.05, 0.009, 0))
    assert found.at_idle == pytest.approx((0, 0, 0, 0.005))
    assert found.total == pytest.approx(0.064)
    spans = [(s.start, s.end) for s in found.spans]
    assert spans == [pytest.approx((6.5, 7.1)), pytest.approx((10.0, 10.05))]


def test_a_chance_extreme_is_no_limit():
    motors = np.random.default_rng(0).normal(0.4, 0.05, (4, 5000))
    found = saturation(motors, RATE)
    assert found.idle is None
    assert found.full is None
    assert found.total == 0.0
    assert saturation(motors, RATE, idle=0.3, full=0.5).total > 0.1
    assert saturation(motors[:, :0], RATE).spans == ()


def test_headroom_and_thrust_ratio():
    motors = hover([0.05, 0, 0, -0.05])
    found = headroom(motors, everywhere(motors), RATE, exponent=Measured(2.0, 1.9, 2.1))
    assert found.hover.low <= 0.4 <= found.hover.high
    assert found.above.low <= 0.55 <= found.above.high
    assert found.thrust_ratio.value == pytest.approx(6.25, rel=0.02)
    assert found.thrust_ratio.low < 6.25 * 0.4**0.1 * 1.05
    assert "not estimated" in headroom(motors, everywhere(motors), RATE).thrust_ratio.reason
    unknown = headroom(motors, everywhere(motors), RATE, exponent=unmeasured("no punches"))
    assert "no punches" in unknown.thrust_ratio.reason


def lagged(motors, lag=0.03):
    out = np.empty_like(motors)
    state = motors[:, 0].copy()
    for k in range(motors.shape[1]):
        state += (motors[:, k] - state) / (lag * RATE)
        out[:, k] = state
    return out


def test_a_motor_out_of_step_is_seen_in_its_speed_and_nowhere_else():
    rng = np.random.default_rng(3)
    motors = hover([0, 0, 0, 0], seconds=40, noise=0.04, memory=0.1)
    motors[:, 2000:2100] += 0.3
    speed = 500 * np.sqrt(np.clip(lagged(motors), 0.01, None)) + rng.normal(size=motors.shape)
    rates = rng.normal(size=(3, motors.shape[1])) * 0.1
    assert desynchronisation(motors, speed, rates, RATE) == ()
    speed[2, 4000:4030] = 90.0
    found = desynchronisation(motors, speed, rates, RATE, start=1.0)
    assert [sign.motor for sign in found] == [3]
    assert found[0].span.start == pytest.approx(21.0, abs=0.03)
    assert "out of step" in found[0].sign


def test_without_speed_a_motor_at_full_that_does_not_lift_is_seen():
    motors = np.clip(hover([0, 0, 0, 0], seconds=20), 0, 1)
    rates = np.zeros((3, motors.shape[1]))
    motors[1, 1000:1060] = 1.0
    assert desynchronisation(motors, None, rates, RATE, MIXER) == ()
    away = np.linspace(0, 5, 60)
    rates[0, 1000:1060], rates[1, 1000:1060] = -FOUR[0, 1] * away, -FOUR[1, 1] * away
    found = desynchronisation(motors, None, rates, RATE, MIXER)
    assert [sign.motor for sign in found] == [2]
    assert desynchronisation(motors, None, rates, RATE) == ()
