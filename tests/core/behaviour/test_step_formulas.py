"""Second-order formulas and step figures against the check values, section 6, and python-control's step_info.

Formulas: Ogata chapter 5, Franklin chapter 3 (from memory); the digits by simulation as well.
"""

from __future__ import annotations

import control
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.margins import exact_margins
from asflown.core.behaviour.step import SecondOrder, step_figures, step_of_response

# z: overshoot %, wn tp, 4/z, Mr, bandwidth / wn, phase margin of wn^2 / (s (s + 2 z wn))
TABLE = {
    0.1: (72.924761, 3.157419, 40.0, 5.025189, 1.542771, 11.4206),
    0.2: (52.662060, 3.206375, 20.0, 2.551552, 1.509577, 22.6023),
    0.3: (37.232610, 3.293284, 13.3333, 1.747141, 1.453689, 33.2725),
    0.4: (25.382672, 3.427759, 10.0, 1.363862, 1.374517, 43.1176),
    0.5: (16.303353, 3.627599, 8.0, 1.154701, 1.272020, 51.8273),
    0.6: (9.478022, 3.926991, 6.6667, 1.041667, 1.148242, 59.1873),
    0.7: (4.598791, 4.399110, 5.7143, 1.000200, 1.010049, 65.1564),
    0.8: (1.516462, 5.235988, 5.0, 1.0, 0.870896, 69.8600),
}


@pytest.mark.parametrize("damping", TABLE)
@pytest.mark.parametrize("natural", [1.0, 37.0])
def test_the_formulas_give_the_table(damping, natural):
    overshoot, peak, rule, resonance, bandwidth, margin = TABLE[damping]
    found = SecondOrder(damping, natural)
    assert found.overshoot * 100 == pytest.approx(overshoot, abs=5e-7)
    assert found.peak_time * natural == pytest.approx(peak, abs=5e-7)
    assert found.settling_rule * natural == pytest.approx(rule, abs=5e-5)
    assert found.resonance == pytest.approx(resonance, abs=5e-7)
    assert found.half_power / natural == pytest.approx(bandwidth, abs=5e-7)
    assert found.phase_margin == pytest.approx(margin, abs=5e-5)


@pytest.mark.parametrize("damping", TABLE)
def test_the_phase_margin_formula_is_the_margin_of_its_loop(damping):
    wn = 10.0

    def loop(f):
        s = 2j * np.pi * f
        return wn**2 / (s * (s + 2 * damping * wn))

    assert float(exact_margins(loop).phase_margin) == pytest.approx(
        SecondOrder(damping, wn).phase_margin, abs=1e-9
    )


def test_figures_of_a_dense_step_are_those_of_the_table():
    model = SecondOrder(0.5, 10.0)
    t = np.arange(0, 4000) * 1e-3
    found = step_figures(t, model.step(t), final=1.0)
    assert float(found.peak) == pytest.approx(1.16303353, abs=1e-8)
    assert float(found.overshoot) == pytest.approx(model.overshoot, abs=1e-8)
    assert float(found.peak_time) == pytest.approx(0.3627599, abs=3e-6)  # a parabola over 1 ms
    assert float(found.rise_time) == pytest.approx(0.16375729, abs=1e-8)
    assert float(found.half_time) == pytest.approx(0.12940395, abs=1e-8)
    assert float(found.settling_time) == pytest.approx(0.807634, abs=1e-6)  # the table cuts 0.80763490 off
    assert float(step_figures(t, model.step(t), final=1.0, band=0.05).settling_time) == pytest.approx(
        0.528909, abs=5e-7
    )


def test_figures_of_a_sparse_step_are_near():
    """The rate of a flight log: 5 ms."""
    model = SecondOrder(0.5, 10.0)
    t = np.arange(0, 800) * 5e-3
    found = step_figures(t, model.step(t))
    assert float(found.overshoot) == pytest.approx(model.overshoot, abs=2e-5)
    assert float(found.rise_time) == pytest.approx(0.16375729, rel=1e-6)
    assert float(found.final) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("damping", [0.2, 0.5, 0.7])
def test_figures_are_those_of_python_control(damping):
    """step_info rounds to its own samples, hence the tolerance of one of them."""
    t = np.linspace(0, 12 / damping, 6001)
    model = SecondOrder(damping, 1.0)
    info = control.step_info(control.tf([1], [1, 2 * damping, 1]), T=t)
    found = step_figures(t, model.step(t), final=1.0)
    step = t[1]
    assert float(found.rise_time) == pytest.approx(info["RiseTime"], abs=2 * step)
    assert float(found.settling_time) == pytest.approx(info["SettlingTime"], abs=2 * step)
    assert float(found.peak_time) == pytest.approx(info["PeakTime"], abs=step)
    assert float(found.overshoot) * 100 == pytest.approx(info["Overshoot"], abs=1e-3)


def test_the_example_with_damping_0_6():
    """Ogata, example 5-1 (from memory: printed as 0.55, 0.785, 0.095, 1.33 and 1)."""
    model = SecondOrder(0.6, 5.0)
    assert model.first_full_time == pytest.approx(0.5535744, abs=5e-8)
    assert model.peak_time == pytest.approx(0.7853982, abs=5e-8)
    assert model.overshoot == pytest.approx(0.0947802, abs=5e-8)
    assert model.settling_rule == pytest.approx(4 / 3)
    assert model.settling_rule_five == pytest.approx(1.0)
    assert model.step([model.first_full_time])[0] == pytest.approx(1.0, abs=1e-12)


@given(
    damping=st.floats(0.15, 0.95),
    natural=st.floats(2.0, 80.0),
    scale=st.floats(-5.0, 5.0).filter(lambda v: abs(v) > 0.1),
)
def test_figures_scale_and_follow_the_formulas(damping, natural, scale):
    model = SecondOrder(damping, natural)
    t = np.linspace(0, 10 / (damping * natural), 8000)
    plain, scaled = (step_figures(t, k * model.step(t), final=k) for k in (1.0, scale))
    assert float(scaled.overshoot) == pytest.approx(model.overshoot, abs=1e-5)
    assert float(scaled.peak) == pytest.approx(scale * float(plain.peak))
    assert float(scaled.rise_time) == pytest.approx(float(plain.rise_time))
    assert float(plain.settling_time) < 1.5 * model.settling_rule + model.peak_time


def test_what_the_samples_do_not_hold_is_nan():
    t = np.linspace(0, 1, 100)
    rising = t * 0.8
    found = step_figures(t, np.stack([rising, np.ones(100)]), final=1.0)
    assert np.isnan(found.rise_time).all()  # never at 90 %; beyond 10 % from the start
    assert float(found.half_time[0]) == pytest.approx(0.625)
    assert np.isnan(found.half_time[1])
    assert np.isnan(found.settling_time[0])
    assert found.settling_time[1] == 0.0
    assert (found.overshoot == 0.0).all()
    with pytest.raises(ValueError, match="times increase"):
        step_figures(t[::-1], rising)
    with pytest.raises(ValueError, match="damping"):
        SecondOrder(1.2, 3.0)


@pytest.mark.parametrize("damping", [0.3, 0.5, 0.7])
def test_step_of_a_frequency_response_is_the_step(damping):
    model = SecondOrder(damping, 40.0)
    grid = np.geomspace(0.1, 500.0, 500)
    t = np.linspace(0.0, 0.5, 201)
    found = step_of_response(grid, np.stack([model.response(grid), 2 * model.response(grid)]), t)
    assert np.max(np.abs(found[0] - model.step(t))) < 5e-4
    assert found[1] == pytest.approx(2 * found[0])
    assert found[0][0] == 0.0
    figures = step_figures(t, found[0], final=1.0)
    assert float(figures.overshoot) == pytest.approx(model.overshoot, abs=5e-4)


def test_step_of_a_response_with_delay_stays_at_zero_before_it():
    model = SecondOrder(0.7, 60.0)
    grid = np.geomspace(0.1, 1000.0, 1500)
    t = np.linspace(0.0, 0.3, 121)
    found = step_of_response(grid, model.response(grid) * np.exp(-2j * np.pi * grid * 0.02), t)
    late = np.where(t > 0.02, model.step(np.maximum(t - 0.02, 0.0)), 0.0)
    assert np.max(np.abs(found - late)) < 1e-3
    with pytest.raises(ValueError, match="frequencies"):
        step_of_response([0.0, 1.0], [1.0, 1.0], t)
