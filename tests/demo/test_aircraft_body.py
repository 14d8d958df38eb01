"""The simulated aircraft's body against closed forms of rigid-body mechanics.

Sources: Newton and Euler's equations as any textbook has them (e.g. Goldstein, *Classical Mechanics*, chapter 5:
a free symmetric top precesses at (J3 - J1) / J1 times its spin; from memory); scipy's integrator and rotations
as independent references.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from asflown.demo.aircraft.body import GRAVITY, RATES, ROTORS, SPEED, STEP, TURN, Body, Frame, angles, matrix
from asflown.demo.aircraft.hands import Hands, Pose, Turned, half_turn, six_sides
from asflown.demo.aircraft.pilot import BEFORE, HEIGHT, Flight
from asflown.demo.aircraft.sensors import PERFECT

NOTHING = np.zeros(4)
BARE = Frame(drag=(0.0, 0.0, 0.0))


def in_the_air(frame: Frame = BARE) -> Body:
    return Body(frame, on_ground=False)


def run(body: Body, commands, seconds: float) -> None:
    for _ in range(round(seconds / STEP)):
        body.step(np.asarray(commands, dtype=float))


def test_free_fall():
    body = in_the_air()
    run(body, NOTHING, 1.0)
    assert body.state[2] == pytest.approx(GRAVITY / 2, rel=1e-9)
    assert body.state[5] == pytest.approx(GRAVITY, rel=1e-9)
    assert np.abs(body.force).max() == 0.0  # an accelerometer in free fall reads nothing


def test_terminal_speed():
    frame = Frame()
    body = in_the_air(frame)
    run(body, NOTHING, 20.0)
    assert body.state[5] == pytest.approx(math.sqrt(frame.mass * GRAVITY / frame.drag[2]), rel=1e-4)


def test_a_free_symmetric_top_precesses():
    frame = Frame(inertia=(0.006, 0.006, 0.011), drag=(0.0, 0.0, 0.0))
    body = in_the_air(frame)
    body.state[RATES] = (1.0, 0.0, 8.0)
    run(body, NOTHING, 0.5)
    turned = (frame.inertia[2] - frame.inertia[0]) / frame.inertia[0] * 8.0 * 0.5
    # Euler: (p, q) turn about the axis at that rate
    assert body.state[10] == pytest.approx(math.cos(turned), abs=1e-6)
    assert body.state[11] == pytest.approx(math.sin(turned), abs=1e-6)


def test_a_free_body_keeps_energy_and_momentum():
    body = in_the_air()
    body.state[RATES] = (3.0, -2.0, 5.0)
    inertia = np.array(BARE.inertia)

    def kept():
        rates = body.state[RATES]
        return float(inertia @ rates**2), matrix(body.state[TURN]) @ (inertia * rates)

    energy, momentum = kept()
    run(body, NOTHING, 3.0)
    after, moment = kept()
    assert after == pytest.approx(energy, rel=1e-9)
    np.testing.assert_allclose(moment, momentum, rtol=1e-8)


def test_the_attitude_is_scipys():
    body = in_the_air()
    body.state[RATES] = (0.8, -0.5, 0.4)
    inertia = np.array(BARE.inertia)
    whole = solve_ivp(
        lambda _, w: np.cross(inertia * w, w) / inertia, (0, 2), [0.8, -0.5, 0.4], rtol=1e-10, atol=1e-12
    )
    run(body, NOTHING, 2.0)
    np.testing.assert_allclose(body.state[RATES], whole.y[:, -1], rtol=1e-7)
    w, x, y, z = body.state[TURN]
    yaw, pitch, roll = Rotation.from_quat([x, y, z, w]).as_euler("ZYX")
    assert angles(body.state[TURN]) == pytest.approx((roll, pitch, yaw), abs=1e-12)
    np.testing.assert_allclose(
        matrix(body.state[TURN]), Rotation.from_quat([x, y, z, w]).as_matrix(), atol=1e-12
    )


def test_a_rotor_is_a_first_order_lag():
    body = in_the_air()
    run(body, [0.5, 0.5, 0.5, 0.5], BARE.lag)
    reached = body.state[ROTORS] / (0.5 * BARE.fastest)
    assert reached == pytest.approx([1 - math.exp(-1)] * 4, rel=1e-6)


def test_it_hovers_where_lift_is_weight_and_turns_as_its_rotors_say():
    body = in_the_air()
    hover = BARE.hover
    body.state[ROTORS] = hover * BARE.fastest
    run(body, [hover] * 4, 1.0)
    assert np.abs(body.state[SPEED]).max() < 1e-9
    assert body.force[2] == pytest.approx(-GRAVITY, rel=1e-9)
    # more on the left: right side down; more in front: nose up; more on those that turn left: nose right
    for more, place in (([0, 0, 1, 1], 10), ([1, 0, 0, 1], 11), ([1, 0, 1, 0], 12)):
        turned = in_the_air()
        turned.state[ROTORS] = hover * BARE.fastest
        run(turned, hover * (1 + 0.02 * np.array(more)), 0.3)
        assert turned.state[place] > 0.05
        assert np.abs(np.delete(turned.state[10:13], place - 10)).max() < 0.02


def test_rotor_and_frame_keep_their_angular_momentum_together():
    """Without drag on the rotors, what they gain the frame loses."""
    frame = Frame(torque=0.0, drag=(0.0, 0.0, 0.0))
    body = in_the_air(frame)
    run(body, [0.4, 0.0, 0.4, 0.0], 0.2)
    rotors = frame.rotor_inertia * float(np.array(frame.spins) @ body.state[ROTORS])
    assert frame.inertia[2] * body.state[12] == pytest.approx(-rotors, rel=1e-9)


def test_it_stands_on_the_ground():
    body = Body()
    run(body, NOTHING, 2.0)
    assert 0 <= body.state[2] < 0.01
    assert body.force == pytest.approx([0, 0, -GRAVITY], abs=1e-3)


def test_a_flight_rises_turns_and_lands():
    flight = Flight()
    flight.to(BEFORE + 7.0)
    assert flight.is_armed
    assert -flight.body.state[2] == pytest.approx(HEIGHT, abs=0.3)
    tilts = []
    for now in np.arange(BEFORE + 8.0, 48.0, 0.2):
        flight.to(float(now))
        tilts.append(np.degrees(angles(flight.body.state[TURN])[:2]))
        assert np.linalg.norm(flight.body.state[:3]) < 60
    assert np.abs(tilts).max(axis=0) == pytest.approx([19, 19], abs=12)
    flight.to(60.0)
    assert not flight.is_armed
    assert flight.body.state[2] > -0.01
    assert np.abs(flight.body.state[SPEED]).max() < 0.05


def test_hands_hold_what_they_are_asked_to():
    hands = Hands(six_sides(10.0), tremble=0.0)
    numbers = np.random.default_rng(0)
    ups = []
    for begin in np.arange(6) * 12.0:
        hands.to(begin + 5.0)
        force, rates, _ = PERFECT.motion(hands.body, 20.0, numbers)
        assert np.abs(rates).max() < 1e-9
        ups.append(force / GRAVITY)
    wanted = [(0, 0, -1), (0, 0, 1), (0, 1, 0), (0, -1, 0), (-1, 0, 0), (1, 0, 0)]
    np.testing.assert_allclose(ups, wanted, atol=1e-9)
    # on the way the gyro integrates to the turn: 180 degrees about roll
    hands = Hands(six_sides(1.0)[:2], tremble=0.0)
    turned = 0.0
    for now in np.arange(0.0, 5.0, 0.005):
        hands.to(float(now))
        turned += hands.body.state[10] * 0.005
    assert abs(turned) == pytest.approx(math.pi, abs=0.01)


def test_the_slope_of_a_table_turns_with_the_aircraft():
    hands = Hands(half_turn(3.0), tremble=0.0)
    means = []
    for now in (1.0, 6.5):
        hands.to(now)
        means.append(hands.body.force[:2].copy())
    np.testing.assert_allclose(means[0], -means[1], atol=1e-6)


def test_turned_shows_every_side():
    turned = Turned()
    seen = []
    for now in np.arange(0, 60, 0.1):
        turned.to(float(now))
        seen.append(turned.body.force / GRAVITY)
    assert np.max(seen, axis=0).min() > 0.9
    assert np.min(seen, axis=0).max() < -0.9
    assert Pose((0, 0, 0), 1.0).seconds == 1.0
