"""Intervals from drawn loops: ordered, calibrated as documented, honest about what is not there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.response import calibration
from asflown.core.behaviour.response.calibration import Activity, widened
from asflown.core.behaviour.response.figures import FROM_REST, GRID, all_figures, curve, measured
from asflown.core.behaviour.response.result import FREE, KNOWN, UNITS
from asflown.core.behaviour.response.steps import TIMES, step_answers, step_band, step_measured, step_numbers

CALM = Activity(0.0)
numbers = st.floats(-1e6, 1e6)


@given(
    name=st.sampled_from(list(UNITS)),
    route=st.sampled_from([KNOWN, FREE, "none such"]),
    value=numbers,
    low=numbers,
    high=numbers,
    share=st.floats(0.0, 1.0),
)
def test_an_interval_always_holds_its_value(
    name: str, route: str, value: float, low: float, high: float, share: float
) -> None:
    below, above = widened(name, route, value, low, high, Activity(share))
    assert below <= value <= above


def test_factor_and_floor_widen_as_documented(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: factor 2 on the spread, floor 3 % of the figure in quadrature (1.96 of it), straight to 5 %."""
    same = (1.0, 1.0, 1.0)
    table = {
        (KNOWN, "crossover"): ((2.0, 3.0, 1.0), (0.03, 0.05, 0.01)),
        (KNOWN, "phase_margin"): (same, (0.5, 0.5, 0.5)),
    }
    monkeypatch.setattr(calibration, "TABLE", table)
    low, high = widened("crossover", KNOWN, 10.0, 9.8, 10.1, CALM)
    assert low == pytest.approx(10.0 - np.hypot(0.4, 1.96 * 0.3))
    assert high == pytest.approx(10.0 + np.hypot(0.2, 1.96 * 0.3))
    half_normal = Activity(calibration.KNOTS[1] / 2)
    low, _ = widened("crossover", KNOWN, 10.0, 9.8, 10.1, half_normal)
    assert low == pytest.approx(10.0 - np.hypot(0.5, 1.96 * 0.4))
    _, high = widened("crossover", KNOWN, 10.0, 9.8, 10.1, Activity(0.9))
    assert high == pytest.approx(10.0 + np.hypot(0.1, 1.96 * 0.1))
    # in the figure's unit where it is no relative figure
    low, _ = widened("phase_margin", KNOWN, 50.0, 50.0, 51.0, CALM)
    assert low == pytest.approx(50.0 - 1.96 * 0.5)
    # without a row the points themselves
    assert widened("crossover", FREE, 10.0, 9.8, 10.1, CALM) == pytest.approx((9.8, 10.1))


def test_every_route_and_figure_has_its_calibration() -> None:
    assert set(calibration.TABLE) == {
        (route, name) for route in (KNOWN, FREE) for name in (*UNITS, "overshoot", "rise_time")
    }
    for factors, floors in calibration.TABLE.values():
        assert all(0.3 < factor < 3.0 for factor in factors)
        assert min(floors) >= 0.0


def _drawn(count: int = 300, spread: float = 0.02, gain: float = 60.0) -> tuple[np.ndarray, np.ndarray]:
    """An integrator with lag and delay, and the closed loop about it, with gains drawn about the estimate."""
    random = np.random.default_rng(3)
    s = 2j * np.pi * GRID
    gains = gain * np.concatenate([[1.0], np.exp(spread * random.standard_normal(count))])
    loop = gains[:, None] / s / (1 + s * 0.008) * np.exp(-s * 0.004)
    return loop / (1 + loop), loop


def test_figures_of_drawn_loops_against_the_formulas() -> None:
    """The crossover and margins of the estimate, solved by scipy on the loop's formula."""
    from scipy.optimize import brentq

    response, loop = _drawn()
    found = measured(all_figures(response, loop, 30.0), KNOWN, CALM, {"gain_margin": ("as told",)})

    def size(f: float) -> float:
        return float(60.0 / (2 * np.pi * f) / np.hypot(1, 2 * np.pi * f * 0.008))

    def turn(f: float) -> float:
        return float(90.0 + np.degrees(np.arctan(2 * np.pi * f * 0.008) + 2 * np.pi * f * 0.004))

    crossover = brentq(lambda f: size(f) - 1, 1, 50)
    reversal = brentq(lambda f: turn(f) - 180, 1, 100)
    assert found["crossover"].value == pytest.approx(crossover, rel=1e-3)
    assert found["phase_margin"].value == pytest.approx(180 - turn(crossover), abs=0.05)
    assert found["gain_margin"].value == pytest.approx(-20 * np.log10(size(reversal)), abs=0.02)
    assert found["gain_margin"].caveats == ("as told",)
    for name, figure in found.items():
        assert figure.low is not None
        assert figure.value is not None
        assert figure.high is not None
        assert figure.low < figure.value < figure.high, name


def test_no_gain_margin_is_read_far_beyond_what_was_excited() -> None:
    response, loop = _drawn()
    found = measured(all_figures(response, loop, 2.0), KNOWN, CALM, {})
    assert found["gain_margin"].value is None
    assert "far above all that was excited" in str(found["gain_margin"].reason)
    assert found["crossover"].value is not None


def test_a_figure_missing_in_many_draws_is_not_given() -> None:
    response, loop = _drawn()
    drawn = all_figures(response, loop, 30.0)
    few, many = drawn["crossover"].copy(), drawn["crossover"].copy()
    few[1:50], many[1:100] = np.nan, np.nan
    kept = measured({"crossover": few}, KNOWN, CALM, {})["crossover"]
    gone = measured({"crossover": many}, KNOWN, CALM, {})["crossover"]
    assert kept.value == drawn["crossover"][0]
    assert gone.value is None
    assert "fly longer" in str(gone.reason)
    none = measured({"crossover": np.full(301, np.nan)}, KNOWN, CALM, {})["crossover"]
    assert none.value is None


def test_a_loop_below_one_everywhere_has_no_crossover_but_a_sensitivity() -> None:
    response, loop = _drawn(gain=0.5)
    found = measured(all_figures(response, loop, 30.0), KNOWN, CALM, {})
    assert found["crossover"].value is None
    assert "does not cross one" in str(found["crossover"].reason)
    assert found["peak_sensitivity"].value == pytest.approx(1.0, abs=0.05)


def test_without_a_loop_there_are_figures_of_the_response_alone() -> None:
    response, _ = _drawn()
    assert set(all_figures(response, None, 30.0)) == {"bandwidth", "bandwidth_gain", "phase_delay"}


def test_bands_of_a_curve_hold_95_of_100_draws_and_phases_do_not_jump() -> None:
    response, loop = _drawn(spread=0.05)
    found = curve(loop, np.ones(GRID.size, dtype=bool))
    gain = 20 * np.log10(np.abs(loop[1:]))
    inside = (gain >= found.gain_low) & (gain <= found.gain_high)
    np.testing.assert_allclose(inside.mean(axis=0), 0.95, atol=0.01)
    assert np.abs(np.diff(found.phase)).max() < 30.0
    # the loop's phase does not depend on its gain
    np.testing.assert_allclose(found.phase_high - found.phase_low, 0.0, atol=1e-6)
    turned = curve(response * np.exp(1j * np.linspace(-3, 3, 301))[:, None], np.ones(GRID.size, dtype=bool))
    assert np.all(turned.phase_high - turned.phase_low < 360.0)


def test_the_step_of_a_first_order_response_is_its_formula() -> None:
    """1 - exp(-t / T): rise from 10 to 90 % in T ln 9, no overshoot."""
    time_constant = 0.03
    random = np.random.default_rng(4)
    constants = time_constant * np.concatenate([[1.0], np.exp(0.03 * random.standard_normal(200))])
    response = 1 / (1 + 2j * np.pi * FROM_REST * constants[:, None])
    answers = step_answers(response)
    band = step_band(answers)
    overshoot, rise = (
        step_measured(name, step_numbers(answers)[name], KNOWN, CALM) for name in ("overshoot", "rise_time")
    )
    np.testing.assert_allclose(band.answer, 1 - np.exp(-TIMES / time_constant), atol=0.004)
    assert np.all(band.low <= band.answer)
    assert np.all(band.answer <= band.high)
    assert rise.value == pytest.approx(time_constant * np.log(9), rel=0.02)
    assert overshoot.value == pytest.approx(0.0, abs=0.01)
    answers = step_answers(1 / (1 + 2j * np.pi * FROM_REST * np.full((201, 1), 0.6)))
    slow = step_measured("rise_time", step_numbers(answers)["rise_time"], KNOWN, CALM)
    assert "within 0.4 s" in str(slow.reason)
