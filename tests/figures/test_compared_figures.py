"""Before and after over each other: what is drawn is the prediction's own, with the margins of the verdict."""

from __future__ import annotations

import math

import numpy as np
import pytest

from asflown.app.views.step_margins import step_margins
from asflown.core.behaviour.predict.result import Answer, Prediction, Stability
from asflown.core.behaviour.response.result import AxisResponse, Curve, RouteFigures, StepBand
from asflown.core.behaviour.step import SecondOrder
from asflown.core.measured import Measured, unmeasured
from asflown.core.verdict.margins import changed
from asflown.figures.compared import judged_figures, predicted_figures
from asflown.figures.drawn_plotly import plotly_json
from asflown.figures.figure import Look

TIME = np.linspace(0.0, 0.4, 161)
GRID = np.geomspace(0.3, 200.0, 60)
BEFORE, AFTER = SecondOrder(0.5, 40.0), SecondOrder(0.4, 50.0)


def about(value: float, unit: str = "1") -> Measured:
    return Measured(value, 0.95 * value, 1.05 * value, unit)


def curve(of: SecondOrder) -> Curve:
    response = of.response(GRID)
    gain, phase = 20 * np.log10(np.abs(response)), np.degrees(np.unwrap(np.angle(response)))
    return Curve(GRID, gain, gain - 1, gain + 1, phase, phase - 5, phase + 5, GRID < 20)


def step(of: SecondOrder) -> StepBand:
    answer = of.step(TIME)
    return StepBand(TIME, answer, answer - 0.02, answer + 0.02)


def rise(of: SecondOrder) -> float:
    """From 10 to 90 %, read off a fine grid of the textbook's formula."""
    fine = np.linspace(0.0, 0.3, 300_001)
    answer = of.step(fine)
    return float(fine[np.argmax(answer >= 0.9)] - fine[np.argmax(answer >= 0.1)])


def answer(of: SecondOrder) -> Answer:
    figures = {
        "overshoot": about(of.overshoot),
        "rise_time": about(rise(of), "s"),
        "bandwidth": about(6.0, "Hz"),
    }
    return Answer(figures, Stability.STABLE, 0.0, curve(of), curve(of), step(of))


def prediction(axis: str = "roll") -> Prediction:
    return Prediction(axis, answer(BEFORE), answer(AFTER), {}, about(1.0))


def test_the_step_has_both_answers_and_the_margins():
    one = prediction()
    allowed = step_margins("roll", one.before.figures, one.before.step)
    figures = predicted_figures({"roll": one}, {"roll": allowed}, ("abc",))
    assert [figure.title for figure in figures] == [
        "Roll, step of the command, before and after",
        "Roll, rate over command, before and after: gain",
        "Roll, rate over command, before and after: phase",
        "Roll, loop, before and after: gain",
        "Roll, loop, before and after: phase",
    ]
    first = figures[0]
    before, after, margin = first.series
    assert (before.look, after.look, margin.look) == (Look.BEFORE, Look.AFTER, Look.MARGIN)
    assert before.y == tuple(BEFORE.step(TIME))
    assert after.y == tuple(AFTER.step(TIME))
    assert after.high == tuple(AFTER.step(TIME) + 0.02)
    assert [(mark.words, mark.y) for mark in first.marks] == [
        ("command", 1.0),
        ("margin of the peak", allowed.peak),
    ]
    assert (margin.x, margin.y) == (allowed.reached, (0.9, 0.9))
    assert "overshoot 0.163 (0.155 to 0.171) before, 0.254 (0.241 to 0.267) after, predicted" in first.caption
    assert first.evidence == ("abc",)


def test_margins_of_the_step_are_those_of_overshoot_and_rise_time():
    """8 % of the step and 20 % of the rise time, round the textbook's second order."""
    figures = answer(BEFORE).figures
    allowed = step_margins("roll", figures, step(BEFORE))
    assert allowed.peak == pytest.approx(1.0 + math.exp(-math.pi * 0.5 / math.sqrt(0.75)) + 0.08)
    fine = np.linspace(0.0, 0.3, 300_001)
    at = fine[np.argmax(BEFORE.step(fine) >= 0.9)]
    length = rise(BEFORE)
    assert allowed.reached is not None
    assert allowed.reached[0] == pytest.approx(at + length / 1.2 - length, abs=3e-5)
    assert allowed.reached[1] == pytest.approx(at + 0.2 * length, abs=3e-5)
    own = step_margins("roll", figures, step(BEFORE), changed({"axes.roll.overshoot": 0.02}))
    assert own.peak == pytest.approx(allowed.peak - 0.06)
    none = step_margins(
        "roll", {"overshoot": unmeasured("too slow"), "rise_time": unmeasured("too slow")}, None
    )
    assert (none.peak, none.reached) == (None, None)


def test_an_unstable_side_is_left_out_and_said():
    one = prediction()
    gone = Answer({}, Stability.UNSTABLE, 1.0)
    figures = predicted_figures({"roll": Prediction("roll", one.before, gone, {}, about(1.0))})
    assert [len(figure.series) for figure in figures] == [1] * 5
    assert "not known after, predicted" in figures[0].caption


def test_a_verdict_draws_before_after_and_what_was_predicted():
    sides = []
    for of in (BEFORE, AFTER):
        found = answer(of)
        route = RouteFigures(
            "known controller",
            found.figures,
            found.response,
            found.loop,
            found.step,
            found.figures["overshoot"],
            found.figures["rise_time"],
        )
        sides.append({"roll": AxisResponse("roll", {}, {"known controller": route})})
    figures = judged_figures(
        *sides, {"roll": prediction("roll")}, says="before f1, after f3 (the newest of 2)"
    )
    gain = figures[1]
    assert [one.look for one in gain.series] == [Look.BEFORE, Look.AFTER, Look.PREDICTED]
    assert gain.series[2].low == ()
    assert gain.series[0].y == tuple(20 * np.log10(np.abs(BEFORE.response(GRID))))
    assert gain.caption.endswith("; drawn: before f1, after f3 (the newest of 2).")
    parts = {(t["meta"]["series"], t["meta"]["part"]) for t in plotly_json(gain)["data"]}
    assert (1, "band") in parts
    assert (2, "band") not in parts
    assert judged_figures(sides[0], {}) == ()
