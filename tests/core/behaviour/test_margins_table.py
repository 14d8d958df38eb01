"""Loop margins against the table of the check values, section 4 (python-control 0.10.2 and closed forms).

The margins printed in the text books are readings off hand-drawn asymptotes, up to 6 deg and 3 dB away: the digits
here are the recomputed ones.
"""

from __future__ import annotations

import control
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.behaviour.margins import exact_margins, is_stable, loop_margins

TURN = 2.0 * np.pi
S = control.tf("s")
NONE = float("nan")
INFINITE = float("inf")

# loop; gain margin (ratio), phase margin (deg), w180, crossover (rad/s), least |1 + L|, closed loop stable
TABLE = {
    "3/(s+1)^3": (lambda s: 3 / (s + 1) ** 3, 8 / 3, 41.690326, 1.7320508, 1.0392706, 5 / 11, True),
    "1/(s+1)^3": (lambda s: 1 / (s + 1) ** 3, 8.0, INFINITE, 1.7320508, NONE, 7 / 9, True),
    "10/(s(s+1)(s+5))": (
        lambda s: 10 / (s * (s + 1) * (s + 5)),
        3.0,
        25.389823,
        2.2360680,
        1.2270642,
        0.368246,
        True,
    ),
    "100/(s(s+1)(s+5))": (
        lambda s: 100 / (s * (s + 1) * (s + 5)),
        0.3,
        -23.650360,
        2.2360680,
        3.9072810,
        0.407619,
        False,
    ),
    "1/(s(s+1)^2)": (lambda s: 1 / (s * (s + 1) ** 2), 2.0, 21.386390, 1.0, 0.6823278, 0.296989, True),
    "20/(s(0.5s+1))": (
        lambda s: 20 / (s * (0.5 * s + 1)),
        INFINITE,
        17.964236,
        NONE,
        6.168466,
        0.298367,
        True,
    ),
    "lead, after": (
        lambda s: 41.7 * (s + 4.41) / (s + 18.4) * 4 / (s * (s + 2)),
        INFINITE,
        50.507553,
        NONE,
        8.889535,
        0.712596,
        True,
    ),
    "lag, before": (
        lambda s: 5 / (s * (s + 1) * (0.5 * s + 1)),
        0.6,
        -12.997208,
        1.4142136,
        1.802203,
        0.216455,
        False,
    ),
    "lag, after": (
        lambda s: 5 * (10 * s + 1) / (s * (100 * s + 1) * (s + 1) * (0.5 * s + 1)),
        5.187770,
        41.611788,
        1.315354,
        0.454406,
        0.567790,
        True,
    ),
    "lag-lead, before": (
        lambda s: 20 / (s * (s + 1) * (s + 2)),
        0.3,
        -28.081410,
        1.4142136,
        2.425256,
        0.482970,
        False,
    ),
}


def at_hertz(loop):
    return lambda f: loop(1j * TURN * f)


def decibels(ratio):
    return 20.0 * np.log10(ratio)


@pytest.mark.parametrize("loop, gain, phase, w180, crossover, least, stable", TABLE.values(), ids=TABLE)
def test_exact_margins_are_those_of_the_table(loop, gain, phase, w180, crossover, least, stable):
    found = exact_margins(at_hertz(loop), low=1e-4, high=1e2)
    assert float(found.gain_margin) == pytest.approx(decibels(gain), rel=1e-6, abs=1e-6)
    assert float(found.phase_margin) == pytest.approx(phase, rel=1e-6)
    assert float(found.phase_crossover) * TURN == pytest.approx(w180, rel=1e-6, nan_ok=True)
    assert float(found.crossover) * TURN == pytest.approx(crossover, rel=1e-6, nan_ok=True)
    assert 1.0 / float(found.peak_sensitivity) == pytest.approx(least, rel=2e-6)


@pytest.mark.parametrize("row", TABLE.values(), ids=TABLE)
def test_exact_margins_are_those_of_python_control(row):
    gain, phase, least, w180, crossover, w_least = control.stability_margins(row[0](S))
    found = exact_margins(at_hertz(row[0]), low=1e-4, high=1e2)
    if np.isfinite(gain):
        assert float(found.gain_margin) == pytest.approx(decibels(gain), abs=1e-8)
        assert float(found.phase_crossover) * TURN == pytest.approx(w180, rel=1e-9)
    if np.isfinite(phase):
        assert float(found.phase_margin) == pytest.approx(phase, abs=1e-7)
        assert float(found.crossover) * TURN == pytest.approx(crossover, rel=1e-9)
    assert 1.0 / float(found.peak_sensitivity) == pytest.approx(least, rel=1e-8)
    assert float(found.peak_frequency) * TURN == pytest.approx(w_least, rel=1e-6)


def test_least_distance_of_the_first_loop_is_where_algebra_puts_it():
    found = exact_margins(at_hertz(TABLE["3/(s+1)^3"][0]), low=1e-3, high=10.0)
    assert float(found.peak_frequency) * TURN == pytest.approx(np.sqrt(7) / 2, rel=1e-6)


def test_the_eleventh_loop_a_delay_with_an_integrator():
    """5 e^{-0.1 s} / s: gain margin pi, phase margin 90 deg - 0.5 rad, delay margin that over 5 rad/s."""
    found = exact_margins(at_hertz(lambda s: 5 * np.exp(-0.1 * s) / s), low=1e-2, high=1e2)
    assert float(found.gain_margin) == pytest.approx(decibels(np.pi), abs=1e-9)
    assert float(found.phase_margin) == pytest.approx(90.0 - np.degrees(0.5), abs=1e-9)
    assert float(found.phase_crossover) * TURN == pytest.approx(5 * np.pi, rel=1e-11)
    assert float(found.crossover) * TURN == pytest.approx(5.0, rel=1e-11)
    assert float(found.delay_margin) == pytest.approx((np.pi / 2 - 0.5) / 5, rel=1e-10)


@pytest.mark.parametrize("row", TABLE.values(), ids=TABLE)
def test_sampled_margins_are_the_exact_ones(row):
    exact = exact_margins(at_hertz(row[0]), low=1e-4, high=1e2)
    grid = np.geomspace(0.003, 10.0, 400)
    found = loop_margins(grid, at_hertz(row[0])(grid))
    for name, close in {
        "crossover": 1e-7,
        "phase_margin": 1e-6,
        "phase_crossover": 1e-7,
        "gain_margin": 1e-6,
        "delay_margin": 1e-6,
        "peak_sensitivity": 2e-4,
        "peak_frequency": 1e-3,
    }.items():
        expected = float(getattr(exact, name))
        expected = (
            expected if np.isfinite(expected) else NONE
        )  # beyond the grid, for all that a grid can tell
        assert float(getattr(found, name)) == pytest.approx(expected, rel=close, nan_ok=True), name


@pytest.mark.parametrize("row", TABLE.values(), ids=TABLE)
def test_winding_tells_what_the_poles_tell(row):
    loop, stable = row[0], row[-1]
    closed = control.feedback(loop(S), 1)
    assert bool(np.all(control.poles(closed).real < 0)) == stable
    grid = np.geomspace(0.0003, 100.0, 400)
    assert bool(is_stable(at_hertz(loop)(grid))) == stable


@given(
    gain=st.floats(0.05, 40.0),
    pole=st.floats(0.2, 20.0),
    lag=st.floats(0.01, 0.5),
    integral=st.floats(0.0, 3.0),
    integrators=st.integers(0, 2),
)
def test_winding_agrees_with_the_poles_of_many_loops(gain, pole, lag, integral, integrators):
    def loop(s):
        return gain * (s + integral + 0.1) / (s**integrators * (s + pole) * (lag * s + 1) ** 2)

    if integrators == 0:
        assert loop(0.0) > -1.0
    closed = control.poles(control.feedback(loop(S), 1)).real
    if np.any(np.abs(closed) < 1e-3):  # on the edge: nobody's call
        return
    grid = np.geomspace(1e-4, 1e3, 4000)
    expected = bool(np.all(closed < 0))
    assert bool(is_stable(at_hertz(loop)(grid))) == expected
    assert bool(is_stable(at_hertz(loop)(grid), integrators=integrators)) == expected


def test_winding_counts_the_unstable_poles_of_the_loop_itself():
    grid = np.geomspace(1e-3, 1e3, 2000)
    # k / (s - 1), closed pole at 1 - k
    for k, stable in ((3.0, True), (0.5, False)):
        loop = at_hertz(lambda s, k=k: k / (s - 1.0))(grid)
        assert bool(is_stable(loop, unstable_poles=1, integrators=0)) == stable
    assert not is_stable(at_hertz(lambda s: 3.0 / (s - 1.0))(grid), integrators=0)  # the pole not counted


def test_positive_feedback_at_rest_is_found_when_told_that_there_is_no_integrator():
    grid = np.geomspace(1e-4, 1e3, 2000)
    assert not is_stable(at_hertz(lambda s: -2.0 / (s + 1.0))(grid), integrators=0)
    assert is_stable(at_hertz(lambda s: -0.5 / (s + 1.0))(grid), integrators=0)


def test_what_cannot_be_told_is_not_called_stable():
    grid = np.geomspace(1e-3, 1e3, 500)
    good = at_hertz(lambda s: 3 / (s + 1) ** 3)(grid)
    holed = good.copy()
    holed[100] = np.nan
    still_large = good[grid < 0.1]
    assert is_stable(np.stack([good, holed])).tolist() == [True, False]
    assert not is_stable(still_large)


def test_of_several_phase_crossings_the_nearest_to_the_edge_is_reported():
    """A conditionally stable loop: gain may rise or fall; the smaller of the two is the margin."""

    def loop(s):
        return 10 * (s + 1) ** 2 / s**3 / (0.02 * s + 1) ** 2

    gain, _, _, w180, *_ = control.stability_margins(loop(S), returnall=True)
    decibel = decibels(np.asarray(gain))
    assert len(decibel) == 2
    nearest = np.argmin(np.abs(decibel))
    found = exact_margins(at_hertz(loop), low=1e-3, high=1e2)
    assert float(found.gain_margin) == pytest.approx(decibel[nearest], abs=1e-6)
    assert float(found.phase_crossover) * TURN == pytest.approx(w180[nearest], rel=1e-6)


def test_the_last_crossover_counts():
    """A resonance lifts |L| over 1 once more: the last downward crossing is the one that decides."""

    def loop(s):
        return 1 / s + 0.4 * 10**2 / (s**2 + 0.4 * s + 10**2)

    phases = control.stability_margins(loop(S), returnall=True)
    assert len(phases[4]) == 3
    found = exact_margins(at_hertz(loop), low=1e-3, high=1e2)
    assert float(found.crossover) * TURN == pytest.approx(max(phases[4]), rel=1e-9)


def test_many_draws_keep_their_shape():
    grid = np.geomspace(0.01, 20.0, 300)
    gains = np.array([[2.0, 5.0], [8.0, 20.0]])
    loop = gains[..., None] * np.exp(-0.1j * TURN * grid) / (1j * TURN * grid)
    found = loop_margins(grid, loop)
    assert found.crossover == pytest.approx(gains / TURN, rel=1e-7)
    assert found.gain_margin == pytest.approx(decibels(5 * np.pi / gains), abs=1e-5)
    assert found.phase_margin == pytest.approx(90 - np.degrees(0.1 * gains), abs=1e-5)
    assert is_stable(loop).tolist() == [[True, True], [True, False]]
    assert (found.gain_margin > 0).tolist() == is_stable(loop).tolist()
