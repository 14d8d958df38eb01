"""A controller written with scipy.signal.lfilter is read back from its log: gains, filters, intervals."""

from __future__ import annotations

import numpy as np
import pytest
from from_log_read import read, rows_of

from asflown.core.behaviour.from_log.read import read_controller

FREQUENCIES = np.array([1.0, 3.0, 10.0, 25.0, 50.0])


def held(figure, value):
    """Whether a figure's 95 % interval, twice as wide, holds a value: one seed is not to fail for chance."""
    assert figure.value is not None, figure.reason
    half = figure.high - figure.low
    return figure.low - half / 2 <= value <= figure.high + half / 2


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"rate": (2, 110.0), "derivative": (1, 60.0)},
        {"derivative": (2, 70.0), "kf": 0.0},
        {"command": (1, 20.0)},
        {"ki": 0.02, "kd": 0.0012, "rate": (1, 90.0)},
    ],
)
def test_gains_and_filters_are_read_back(truth, more):
    one = truth.Truth(**more)
    found = read(truth.rocked(one, 5, seconds=30.0), loop_rate=4000.0)
    assert found.check.holds, found.check.reason
    assert found.check.explained > 0.999
    figures = found.figures
    assert held(figures["proportional"], one.kp)
    assert held(figures["integral"], one.ki)
    assert held(figures["derivative"], one.kd)
    assert held(figures["feed_forward"], one.kf)
    if one.command[0]:
        assert held(figures["command_cutoff"], one.command[1])
    _, answer = truth.responses(one, FREQUENCIES)
    _, drawn = found.drawn(FREQUENCIES)
    assert drawn.shape == (301, FREQUENCIES.size)
    away = np.abs(drawn[0] / answer - 1)
    spread = np.std(drawn[1:] / drawn[0], axis=0)
    assert np.all(away < 4 * spread + 1e-3), (away, spread)
    assert np.all(away[:4] < 0.01)


def test_cut_offs_are_told_where_every_step_is_logged(truth):
    one = truth.Truth(rate=(2, 120.0), derivative=(2, 70.0), loop_rate=1000.0)
    found = read(truth.rocked(one, 2, seconds=30.0), loop_rate=1000.0)
    assert held(found.figures["rate_cutoff"], 120.0)
    assert held(found.figures["derivative_cutoff"], 70.0)
    assert found.figures["rate_cutoff"].value == pytest.approx(120.0, rel=0.01)
    assert found.highest > 200.0


@pytest.mark.parametrize(
    ("more", "log"),
    [
        ({"notch": (60.0, 2.0)}, {}),
        ({"notch": (180.0, 3.0), "loop_rate": 1000.0}, {}),
        ({"lead": 0.01}, {}),
    ],
)
def test_what_is_not_of_the_family_is_told(truth, more, log):
    found = read(truth.rocked(truth.Truth(**more), 3, seconds=30.0, **log))
    assert not found.check.holds
    assert "no member of the family" in found.check.reason


def test_output_of_another_axis_is_told(truth):
    log = truth.rocked(truth.Truth(), 3, seconds=30.0)
    other = truth.rocked(truth.Truth(), 4, seconds=30.0)
    swapped = truth.Rocked(log.rate, other.command, other.response, log.output)
    found = read(swapped)
    assert not found.check.holds


def test_gains_that_change_are_told(truth):
    log = truth.rocked(truth.Truth(), 3, seconds=40.0)
    scheduled = log.output * np.where(np.arange(log.output.size) < 20_000, 1.0, 1.25)
    found = read(truth.Rocked(log.rate, log.command, log.response, scheduled))
    assert not found.check.holds
    assert "change over the log" in found.check.reason or found.left_out > 0


def test_wrong_sign_is_told(truth):
    log = truth.rocked(truth.Truth(), 3, seconds=30.0)
    found = read(truth.Rocked(log.rate, log.command, -log.response, log.output))
    assert not found.check.holds


def test_a_still_stick_leaves_its_terms_unknown(truth):
    found = read(truth.rocked(truth.Truth(), 4, seconds=30.0, moved=False))
    assert not found.commanded
    assert found.figures["feed_forward"].value is None
    assert "move the stick" in found.figures["feed_forward"].reason
    assert held(found.figures["proportional"], 0.03)


def test_no_derivative_is_read_as_none(truth):
    found = read(truth.rocked(truth.Truth(kd=0.0), 4, seconds=40.0), loop_rate=4000.0)
    assert found.figures["derivative"].value == pytest.approx(0.0, abs=2e-5)
    assert found.figures["derivative_cutoff"].value is None


def test_saturated_stretches_are_left_out(truth):
    one = truth.Truth()
    log = truth.rocked(one, 6, seconds=40.0, taps=0.0)
    limit = np.quantile(np.abs(log.output), 0.98)
    cut = np.clip(log.output, -limit, limit)
    free = np.convolve(np.abs(log.output) > limit, np.ones(61), mode="same") < 0.5
    found = read_controller(
        "roll", [rows_of(truth.Rocked(log.rate, log.command, log.response, cut), free)], loop_rate=4000.0
    )
    assert not isinstance(found, str)
    assert held(found.figures["proportional"], one.kp)
    assert held(found.figures["integral"], one.ki)


def test_too_little_is_refused_with_the_reason(truth):
    log = truth.rocked(truth.Truth(), 1, seconds=5.0)
    assert "rock or fly longer" in read_controller("roll", [rows_of(log)])
    assert "does not move" in read_controller("roll", [])


def test_the_same_log_gives_the_same_reading(truth):
    log = truth.rocked(truth.Truth(), 8, seconds=12.0)
    one, other = read(log), read(log)
    assert one.figures == other.figures
    for a, b in zip(one.drawn(FREQUENCIES), other.drawn(FREQUENCIES), strict=True):
        np.testing.assert_array_equal(a, b)
