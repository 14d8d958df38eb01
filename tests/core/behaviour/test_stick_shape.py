"""Stick curves against digits worked by hand and polynomials that scipy makes from their end conditions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import interpolate

from asflown.core.behaviour.stick_shape import SLIGHT_RATE, KnownStick, stick_change, stick_of
from asflown.core.stick import DeadBand, StickForm, StickShape
from asflown.errors import InputError

X = np.linspace(-1.0, 1.0, 41)
deg = math.radians


def expo(full: float, share: float, **more: float) -> KnownStick:
    return KnownStick("roll", StickForm.EXPO, {"full_rate": full, "expo": share, **more})


def test_digits_by_hand():
    # 360 ((1 - 0.35) 0.5 + 0.35 0.125) = 360 * 0.36875 = 132.75 deg/s
    assert expo(deg(360), 0.35).rate(0.5) == pytest.approx(deg(132.75), rel=1e-12)
    assert expo(deg(360), 0.35).rate(-0.5) == pytest.approx(deg(-132.75), rel=1e-12)
    assert expo(deg(360), 0.35).rate([0.0, 1.0, 1.7]) == pytest.approx([0.0, deg(360), deg(360)])
    line = KnownStick("yaw", StickForm.LINEAR, {"full_rate": deg(180)})
    assert line.rate([-1.0, 0.25]) == pytest.approx([deg(-180), deg(45)])
    # 90 * 0.5 + (400 - 90) 0.125 = 45 + 38.75
    cubic = KnownStick("roll", StickForm.CUBIC, {"centre_rate": deg(90), "full_rate": deg(400)})
    assert cubic.rate(0.5) == pytest.approx(deg(83.75))
    # half way between 0.2 at 0.4 and 1 at 1: 0.6 of 300
    table = KnownStick("roll", StickForm.TABLE, {"full_rate": deg(300)}, ((0.0, 0.0), (0.4, 0.2), (1.0, 1.0)))
    assert table.rate([0.7, -0.7]) == pytest.approx([deg(180), deg(-180)])


def odd(slope: float, end: float) -> np.ndarray:
    """The cubic with slope and no bend at 0 and an end at 1, by scipy's Bernstein polynomials."""
    made = interpolate.BPoly.from_derivatives([0.0, 1.0], [[0.0, slope, 0.0], [end]])
    return np.sign(X) * made(np.abs(X))


@pytest.mark.parametrize(("full", "share"), [(6.0, 0.0), (6.0, 0.4), (12.5, 1.0), (3.0, -0.3)])
def test_expo_is_the_cubic_of_its_end_conditions(full, share):
    np.testing.assert_allclose(expo(full, share).rate(X), odd(full * (1 - share), full), atol=1e-12)


def test_cubic_has_the_slope_and_the_end_asked_for():
    made = KnownStick("roll", StickForm.CUBIC, {"centre_rate": 1.7, "full_rate": 7.0})
    np.testing.assert_allclose(made.rate(X), odd(1.7, 7.0), atol=1e-12)


def test_a_table_with_sides_of_its_own_is_the_spline_of_degree_one():
    points = ((-1.0, -0.8), (-0.3, -0.1), (0.1, 0.0), (1.0, 1.0))
    made = KnownStick("roll", StickForm.TABLE, {"full_rate": 5.0}, points)
    places, shares = np.array(points).T
    np.testing.assert_allclose(made.rate(X), 5.0 * interpolate.make_interp_spline(places, shares, k=1)(X))


@pytest.mark.parametrize(
    ("rule", "half", "full"),
    [
        # (0.5 - 0.2) / (1 - 0.2) = 0.375; 0.5 - 0.2; 0.5
        (DeadBand.STRETCHED, 0.375, 1.0),
        (DeadBand.SHIFTED, 0.3, 0.8),
        (DeadBand.CUT, 0.5, 1.0),
    ],
)
def test_what_is_left_beyond_the_dead_band(rule, half, full):
    made = KnownStick("roll", StickForm.LINEAR, {"full_rate": 10.0, "dead_band": 0.2}, rule=rule)
    assert made.rate([-0.2, 0.1, 0.5, -0.5, 1.0]) == pytest.approx(
        [0.0, 0.0, 10 * half, -10 * half, 10 * full]
    )


def test_a_limit_cuts_the_command():
    assert expo(10.0, 0.0, limit=6.0).rate([0.5, 0.9, -0.9]) == pytest.approx([5.0, 6.0, -6.0])


def test_the_largest_difference_of_two_shares_is_where_calculus_puts_it():
    """full de (x - x^3) is largest at 1 / sqrt 3, where it is 2 / (3 sqrt 3) full de."""
    made = stick_change(expo(6.0, 0.35), expo(6.0, 0.15))
    assert made.deflection == pytest.approx(1 / math.sqrt(3), abs=1e-3)
    assert made.largest == pytest.approx(6.0 * 0.2 * 2 / (3 * math.sqrt(3)), rel=1e-6)
    assert not made.is_none
    assert made.before[3] == pytest.approx(6.0)
    back = stick_change(expo(6.0, 0.15), expo(6.0, 0.35))
    assert (back.largest, back.deflection) == pytest.approx((-made.largest, made.deflection))


def test_the_same_curve_in_another_form_changes_nothing():
    as_cubic = KnownStick("roll", StickForm.CUBIC, {"centre_rate": 6.0 * 0.65, "full_rate": 6.0})
    assert stick_change(expo(6.0, 0.35), as_cubic).is_none
    assert stick_change(expo(6.0, 0.35), expo(6.0 + 0.9 * SLIGHT_RATE, 0.35)).is_none
    assert not stick_change(expo(6.0, 0.35), expo(6.0 + 1.1 * SLIGHT_RATE, 0.35)).is_none


def test_more_stick_that_asks_for_less_is_seen():
    assert expo(6.0, 1.0).rises
    assert not expo(6.0, 1.2).rises  # slope 6 (1 - 1.2) < 0 in the middle
    assert expo(6.0, 0.3, dead_band=0.1).rises


@given(st.floats(0.5, 20), st.floats(0, 1), st.floats(0, 0.3), st.floats(-1, 1))
def test_either_side_is_alike_and_the_whole_way_asks_for_the_whole_rate(full, share, band, x):
    made = expo(full, share, dead_band=band)
    assert made.rate(-x) == pytest.approx(-made.rate(x))
    assert made.rate(1.0) == pytest.approx(full)
    assert made.rises


SHAPE = StickShape(
    "roll", StickForm.EXPO, {"full_rate": "stick.roll.full", "expo": "stick.roll.expo"}, {"dead_band": 0.1}
)


def test_numbers_come_from_the_settings():
    made = stick_of(SHAPE, {"stick.roll.full": 4.0, "stick.roll.expo": 0.25, "other": 1.0})
    assert made.numbers == {"full_rate": 4.0, "expo": 0.25, "dead_band": 0.1}
    table = StickShape(
        "roll", StickForm.TABLE, {"full_rate": "full"}, points=((0.0, 0.0), (0.5, "half"), (1.0, 1.0))
    )
    assert stick_of(table, {"full": 4.0, "half": 0.3}).rate(0.5) == pytest.approx(1.2)


def test_what_is_missing_is_all_named():
    with pytest.raises(InputError) as caught:
        stick_of(SHAPE, {}, {"stick.roll.expo": "bend is 'soft', no number"})
    told = [fault.what for fault in caught.value.faults]
    assert told == ["stick.roll.expo: bend is 'soft', no number", "no setting has the role stick.roll.full"]


def test_numbers_that_cannot_be_are_refused():
    wrong = StickShape("roll", StickForm.LINEAR, {"full_rate": "full", "dead_band": "band"}, {"limit": 0.0})
    with pytest.raises(InputError) as caught:
        stick_of(wrong, {"full": 4.0, "band": 1.0})
    told = [fault.what for fault in caught.value.faults]
    assert [one.partition(" is ")[0] for one in told] == ["a dead band", "a limit"]
