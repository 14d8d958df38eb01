"""Figures of a flight: what they hold comes from the results, and their captions say its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from asflown.core.measured import Measured, unmeasured
from asflown.core.vibration.measure import measure_vibration
from asflown.figures.figure import Axis, Figure, Series, Shading
from asflown.figures.flight import flight_figures
from asflown.figures.flight_motors import balance_figure
from asflown.figures.flight_numbers import decibels, kept, plain, said
from asflown.figures.flight_power import load_figure, open_circuit_figure
from asflown.figures.flight_response import as_flown_figures, response_figures
from asflown.figures.flight_vibration import campbell_figure, spectrum_figure

RATE = 1000.0


@pytest.fixture(scope="module")
def vibration():
    """A line at once the rotor speed, 80 to 160 rev/s, over white noise."""
    random = np.random.default_rng(3)
    time = np.arange(int(30 * RATE)) / RATE
    speed = 120.0 + 40.0 * np.sin(2 * np.pi * time / 15.0)
    phase = 2 * np.pi * np.cumsum(speed) / RATE
    rate = {
        axis: 0.02 * np.sin(phase + shift) + random.normal(0, 0.002, time.size)
        for axis, shift in (("roll", 0.0), ("pitch", 1.0), ("yaw", 2.0))
    }
    return measure_vibration(rate, {}, np.tile(speed, (4, 1)), RATE)


def test_the_campbell_diagram_holds_the_map_and_its_order_lines(vibration):
    of = next(one for one in vibration.campbell if one.signal == "rate")
    figure = campbell_figure(of, ("abc",))
    assert figure.shading is not None
    assert len(figure.shading.values) == len(figure.shading.y)
    assert {series.name for series in figure.series} >= {"order 1", "order 2"}
    first = next(series for series in figure.series if series.name == "order 1")
    assert np.allclose(first.x, first.y)
    third = next(series for series in figure.series if series.name == "order 3")
    assert max(third.y) <= RATE / 2 + 1e-9
    assert (figure.x.label, figure.y.label) == ("rotor speed (rev/s)", "frequency (Hz)")
    known = np.array([[np.nan if v is None else v for v in row] for row in figure.shading.values])
    row, column = np.unravel_index(int(np.nanargmax(known)), known.shape)
    assert figure.shading.y[row] == pytest.approx(figure.shading.x[column], abs=12)
    assert "order lines drawn: 1, 2, 3" in figure.caption
    assert figure.evidence == ("abc",)


def test_the_spectrum_has_a_band_and_marks_the_lines(vibration):
    figure = spectrum_figure(vibration.spectra["rate.roll"], vibration)
    line = figure.series[0]
    assert len(line.x) == len(line.low) == len(line.high)
    assert all(low <= y <= high for low, y, high in zip(line.low, line.y, line.high, strict=True))
    assert figure.x.is_log
    assert figure.y.is_log
    assert figure.marks[0].words == "order 1"
    level = vibration.line(1.0).level["rate.roll"]
    assert said(level) in figure.caption
    assert level.value == pytest.approx(0.02 / np.sqrt(2), rel=0.05)


def test_the_balance_of_motors_says_which_works_hardest():
    offsets = [Measured(v, v - 0.002, v + 0.002) for v in (0.01, -0.02, 0.03, -0.02)]
    figure = balance_figure(Measured(0.4, 0.39, 0.41), offsets)
    assert figure is not None
    assert figure.series[0].x == (1.0, 2.0, 3.0, 4.0)
    assert figure.series[0].y == pytest.approx((1.0, -2.0, 3.0, -2.0))
    assert figure.series[0].high == pytest.approx((1.2, -1.8, 3.2, -1.8))
    assert "motor 3 works hardest, 0.03 (0.028 to 0.032)" in figure.caption
    assert balance_figure(unmeasured("too short"), [unmeasured("too short")] * 4) is None


def test_long_lines_are_thinned_and_keep_their_ends():
    x = np.arange(1, 100_001, dtype=float)
    for is_log in (False, True):
        rows = kept(x, is_log=is_log)
        assert 100 < rows.size <= 600
        assert (rows[0], rows[-1]) == (0, x.size - 1)
        assert np.all(np.diff(rows) > 0)
    assert kept(x[:50]).size == 50


def test_words_of_numbers():
    assert said(unmeasured("too short")) == "not known"
    assert said(Measured(6.2, 6.1, 6.3, "Hz")) == "6.2 Hz (6.1 to 6.3)"
    assert plain(0.0) == "0"
    assert np.isnan(decibels(np.array([0.0]))[0])
    assert decibels(np.array([100.0]))[0] == pytest.approx(20.0)


def test_a_shading_has_a_value_for_each_cell():
    with pytest.raises(ValueError, match="needs 2 rows of 3 values"):
        Shading((1.0, 2.0, 3.0), (1.0, 2.0), ((1.0, 2.0, 3.0),), "level", "dB")
    shading = Shading((1.0,), (1.0, 2.0), ((None,), (3.0,)), "level", "dB", "not flown")
    figure = Figure("x", Axis("a", "s"), Axis("b", "Hz"), (Series("s", (1.0,), (2.0,)),), shading=shading)
    assert figure.shading is shading


@pytest.fixture(scope="module")
def flown():
    from asflown.adapters.log_file import LogBytes
    from asflown.app.flights.measure import measure
    from asflown.app.flights.open_log import open_log
    from asflown.demo.flight import plover_log

    log = LogBytes("flight.csv", plover_log(seed=5, seconds=40.0, on_ground=4.0))
    return measure(open_log(log))


def test_the_response_is_greyed_where_it_was_not_excited(flown):
    of = flown.results["axes"]["roll"]
    figures = response_figures(of, "model-free", ("abc",))
    assert [figure.title for figure in figures] == [
        "Roll, rate over command: gain",
        "Roll, rate over command: phase",
        "Roll, loop: gain",
        "Roll, loop: phase",
        "Roll, step of the command",
    ]
    gain = figures[0]
    line = gain.series[0]
    assert all(low <= y <= high for low, y, high in zip(line.low, line.y, line.high, strict=True))
    shown = [x for x, greyed in zip(line.x, line.is_greyed, strict=True) if not greyed]
    assert of.excited_low <= min(shown) < max(shown) <= of.excited_high * 1.05
    assert line.greyed_why
    direct = gain.series[1]
    assert direct.name == "as flown"
    # what the spectra show and what the model says of them agree where the command had power
    model = np.interp(np.log(direct.x), np.log(line.x), line.y)
    sure = ~np.array(direct.is_greyed)
    assert 5 < np.count_nonzero(sure) < sure.size
    assert np.median(np.abs(model - direct.y)[sure]) < 1.0
    assert all(low <= y <= high for low, y, high in zip(direct.low, direct.y, direct.high, strict=True))
    assert [len(figure.series) for figure in figures] == [2, 2, 1, 1, 1]
    bandwidth = of.routes["model-free"].figures["bandwidth"]
    assert gain.marks[0].x == bandwidth.value
    assert f"bandwidth {said(bandwidth)}" in gain.caption
    phase = figures[1].series[0]
    at = min(range(len(phase.x)), key=lambda i: abs(phase.x[i] - bandwidth.value))
    assert phase.y[at] == pytest.approx(-45, abs=2.5)
    assert figures[4].marks[0].y == 1.0
    assert response_figures(of, "known controller") == ()


def test_an_axis_without_a_route_shows_its_spectra(flown):
    of = replace(flown.results["axes"]["roll"], routes={})
    gain, phase = as_flown_figures(of)
    assert (gain.title, gain.y.unit) == ("Roll, rate over command as flown: gain", "dB")
    assert phase.y.unit == "deg"
    assert f"bandwidth as flown {said(of.as_flown)}" in gain.caption
    titles = [figure.title for figure in flight_figures({"axes": {"roll": of}}, flown.flight)]
    assert titles == [gain.title, phase.title]
    assert as_flown_figures(replace(of, measured_response=None)) == ()


def test_the_pack_under_load_shows_the_resistance_as_its_slope(flown):
    part = flown.results["power"].pack
    voltage = np.asarray(flown.flight.traces["pack_voltage"].values, dtype=float)
    current = np.asarray(flown.flight.traces["pack_current"].values, dtype=float)
    figure = load_figure(voltage, current, part)
    assert figure is not None
    line = figure.series[1]
    slope = (line.y[-1] - line.y[0]) / (line.x[-1] - line.x[0])
    assert slope == pytest.approx(-part.resistance.value)
    measured = figure.series[0]
    assert np.polyfit(measured.x, measured.y, 1)[0] == pytest.approx(slope, rel=0.2)
    assert said(part.resistance) in figure.caption
    course = open_circuit_figure(part)
    assert course is not None
    assert course.series[0].y[0] > course.series[0].y[-1]


def test_a_measured_flight_gives_all_its_figures(flown):
    figures = flight_figures(flown.results, flown.flight)
    titles = [figure.title for figure in figures]
    assert len(set(titles)) == len(titles)
    assert len([title for title in titles if title.startswith(("Roll", "Pitch", "Yaw"))]) == 15
    for wanted in ("Campbell diagram, rate", "Spectrum, rate roll", "Motor commands in hover"):
        assert wanted in titles
    assert titles[-2:] == ["Pack voltage against current", "Open-circuit voltage"]
    assert all(figure.caption.endswith(".") for figure in figures)
    assert {figure.evidence for figure in figures} == {(flown.flight.source,)}
    assert flight_figures({}, flown.flight) == ()
