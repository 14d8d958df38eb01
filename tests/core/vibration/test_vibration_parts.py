"""Orders, spectra, Campbell map, clipping, floor, blind tracking, telemetry, change of level."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.aliasing import folded
from asflown.core.vibration.clipping import clipping
from asflown.core.vibration.compare import level_change
from asflown.core.vibration.frames import frames_of
from asflown.core.vibration.measure import measure_vibration
from asflown.core.vibration.orders import alias_facts, angle_of
from asflown.core.vibration.result import BLIND, FROM_TELEMETRY
from asflown.core.vibration.spectra import gamma_interval
from asflown.core.vibration.telemetry import mended_speed
from asflown.errors import InputError

RATE = 1000.0
DB = 10.0 ** (1.0 / 20.0)


def flown(seed=1, louder=1.0, seconds=10.0, noise=2e-4, rate=RATE, mean=160.0):
    """Four rotors that speed up and slow down by themselves; each with two orders on three axes."""
    random = np.random.default_rng(seed)
    time = np.arange(round(seconds * rate)) / rate
    together = 12.0 * np.sin(2.0 * math.pi * 0.23 * time + random.uniform(0.0, 6.28))
    speed = np.stack(
        [
            mean
            + together
            + 9.0 * np.sin(2.0 * math.pi * random.uniform(0.3, 1.1) * time + random.uniform(0.0, 6.28))
            for _ in range(4)
        ]
    )
    angle = 2.0 * math.pi * (np.cumsum(speed, axis=1) - 0.5 * speed) / rate
    signals = []
    for _ in range(6):
        total = noise * math.sqrt(rate / 2.0) * random.standard_normal(time.size)
        for rotor, amplitude in enumerate((0.010, 0.014, 0.008, 0.012)):
            force = louder * amplitude * (speed[rotor] / mean) ** 2
            phase = random.uniform(0.0, 6.28)
            total += force * (np.sin(angle[rotor] + phase) + 0.4 * np.sin(2.0 * angle[rotor] + phase))
        signals.append(total)
    rates = dict(zip(("roll", "pitch", "yaw"), signals[:3], strict=True))
    accels = dict(zip("xyz", signals[3:], strict=True))
    return rates, accels, speed


def test_blade_pass_of_two_blades_at_9000_rpm_is_300_hz():
    # check-values 15: 2 blades, 9000 rpm: 150 / 300 Hz
    rates, accels, _ = flown()
    steady = np.full((1, 10_000), 9000.0 / 60.0)
    found = measure_vibration(rates, accels, steady, RATE, blades=2, look_for_delay=False)
    chart = found.campbell[0]
    assert found.line(float(chart.blades)).frequency == pytest.approx(300.0)
    assert chart.order_line(chart.blades)[0] == pytest.approx(300.0, abs=3.0)


@given(st.floats(0.0, 5000.0), st.floats(50.0, 4000.0))
def test_folded_frequency_gives_the_same_samples(frequency, rate):
    place = np.arange(8)
    there, seen = (
        np.cos(2.0 * math.pi * one * place / rate) for one in (frequency, float(folded(frequency, rate)))
    )
    np.testing.assert_allclose(there, seen, atol=1e-6)


def test_angle_is_the_integral_of_speed():
    time = np.arange(4000) / RATE
    speed = 100.0 + 20.0 * np.sin(2.0 * math.pi * time)
    true = 100.0 * time + 20.0 / (2.0 * math.pi) * (1.0 - np.cos(2.0 * math.pi * time))
    found = angle_of(speed[None], RATE)[0].astype(float)
    apart = found - true
    apart -= apart[0]
    assert np.max(np.abs(apart - np.round(apart))) < 1e-3


def test_alias_is_told_and_only_where_it_is():
    facts = alias_facts(np.full((4, 100), 300.0), 1000.0, (1.0, 2.0))
    assert [fact.order for fact in facts] == [2.0]
    assert facts[0].seen_at == pytest.approx(400.0)
    assert "log at" in facts[0].statement


def test_sine_on_a_bin_has_the_density_of_the_table():
    # check-values 1.2: 2 sin(2 pi 50 t), fs 1000, Hann: peak 1.3333 and sum times width 2
    time = np.arange(1000) / RATE
    frames = frames_of((2.0 * np.sin(2.0 * math.pi * 50.0 * time))[None, None], RATE, 1000, 500)
    assert frames.power[0, 0, 50] == pytest.approx(4.0 / 3.0, rel=1e-5)
    assert frames.power[0, 0].sum() * frames.frequency[1] == pytest.approx(2.0, rel=1e-5)


def test_density_agrees_with_scipy_welch():
    from scipy.signal import welch

    values = np.random.default_rng(4).standard_normal(20_000)
    frames = frames_of(values[None, None], RATE, 1000, 500)
    _, density = welch(values, RATE, nperseg=1000, noverlap=500, detrend="constant")
    np.testing.assert_allclose(frames.power[0].mean(axis=0)[1:], density[1:], rtol=2e-5)


def test_gamma_interval_is_the_chi_square_one():
    from scipy.stats import chi2

    averages = np.array([1.0, 5.0, 20.0, 100.0])
    low, high = gamma_interval(averages)
    np.testing.assert_allclose(low, 2.0 * averages / chi2.ppf(0.975, 2.0 * averages), rtol=1e-9)
    np.testing.assert_allclose(high, 2.0 * averages / chi2.ppf(0.025, 2.0 * averages), rtol=1e-9)


def test_interval_of_white_noise_covers_its_density():
    inside = []
    for seed in range(40):
        values = np.random.default_rng(seed).standard_normal(20_000)
        spectrum = measure_vibration({"roll": values}, {}, None, RATE).spectra["rate.roll"]
        true = 2.0 / RATE  # check-values 1.2: one-sided density of white noise is 2 s²/fs
        inside.append(((spectrum.low <= true) & (true <= spectrum.high))[5:-5].mean())
    assert 0.925 < np.mean(inside) < 0.985


def test_level_as_flown_and_lines_are_measured():
    rates, accels, speed = flown()
    found = measure_vibration(rates, accels, speed, RATE, blades=3)
    assert found.speed_route == FROM_TELEMETRY
    assert [line.order for line in found.lines] == [1.0, 2.0, 3.0]
    first = found.line(1.0)
    amplitude = np.array([[0.010], [0.014], [0.008], [0.012]]) * (speed / 160.0) ** 2
    true = math.sqrt(float((amplitude**2).sum(axis=0).mean()) / 2.0)
    assert first.level["accel.x"].value == pytest.approx(true, rel=0.04)
    assert first.level["rate"].value == pytest.approx(true * math.sqrt(3.0), rel=0.04)
    assert found.floor[0].level.value == pytest.approx(2e-4, rel=0.15)
    assert "not sensor noise" in found.floor[0].statement


def test_order_that_is_not_there_is_seldom_found():
    found = []
    for seed in range(12):
        rates, accels, speed = flown(500 + seed, mean=110.0)
        found += list(measure_vibration(rates, accels, speed, RATE).line(3.0).at_reference.values())
    reasons = [one.reason for one in found if one.value is None]
    assert all("no line stands out: below" in reason for reason in reasons)
    # one side of a 95 % interval: one in forty, and these share their noise
    assert len(reasons) >= 0.92 * len(found)


def test_campbell_map_is_loudest_along_its_order_line():
    rates, accels, speed = flown(seconds=30.0)
    found = measure_vibration(rates, accels, speed, RATE, blades=2)
    chart = next(one for one in found.campbell if one.signal == "rate")
    known = np.flatnonzero(np.isfinite(chart.density[:, 0]) & (chart.seconds > 1.0))
    assert known.size >= 5
    near = chart.frequency > 60.0
    loudest = chart.frequency[near][np.argmax(chart.density[known][:, near], axis=1)]
    assert np.all(np.abs(loudest - chart.order_line(1.0)[known]) < 16.0)
    assert chart.blades == 2


def test_telemetry_held_and_late_is_made_good():
    rates, accels, speed = flown(seconds=20.0)
    place = np.arange(speed.shape[1])
    late = np.maximum(place // 10 * 10 - 12, 0)
    found = measure_vibration(rates, accels, np.round(speed[:, late], 1), RATE)
    right = measure_vibration(rates, accels, speed, RATE)
    assert found.telemetry_delay == pytest.approx(0.012, abs=0.003)
    assert right.telemetry_delay == 0.0
    one, other = (flight.line(1.0).at_reference["rate"].value for flight in (found, right))
    assert one == pytest.approx(other, rel=0.03)


def test_held_values_lie_on_straight_lines_again():
    ramp = np.linspace(100.0, 200.0, 1001)
    held = ramp[np.arange(1001) // 10 * 10]
    np.testing.assert_allclose(mended_speed(held[None])[0][:990], ramp[:990], atol=1e-6)


def test_line_is_followed_blind():
    rates, accels, speed = flown()
    found = measure_vibration(rates, accels, None, RATE)
    assert found.speed_route == BLIND
    assert found.speed == pytest.approx(speed.mean(), abs=6.0)
    assert found.rotors == ()
    assert any("rotor speed was not logged" in note for note in found.notes)
    right = measure_vibration(rates, accels, speed, RATE).line(1.0).level["rate"].value
    assert found.line(1.0).level["rate"].value == pytest.approx(right, rel=0.1)


def test_no_line_is_followed_in_noise_or_with_motors_at_rest():
    random = np.random.default_rng(3)
    quiet = {"roll": random.standard_normal(10_000), "pitch": random.standard_normal(10_000)}
    found = measure_vibration(quiet, {}, None, RATE)
    assert found.speed is None
    assert found.lines == ()
    assert any("no rotor line" in note for note in found.notes)
    rates, accels, _ = flown()
    assert measure_vibration(rates, accels, None, RATE, motors=np.zeros((4, 10_000))).lines == ()


@pytest.mark.parametrize("telemetry", [True, False])
def test_three_decibels_in_ten_seconds_are_told_from_none(telemetry):
    for seed in range(6):
        parts = [flown(100 + seed), flown(200 + seed), flown(300 + seed, 10.0 ** (3.0 / 20.0))]
        before, same, louder = (measure_vibration(r, a, s if telemetry else None, RATE) for r, a, s in parts)
        none, rise = (level_change(before, after)["order 1 rate"] for after in (same, louder))
        assert none.value < 1.5 < rise.value
        if telemetry:
            assert rise.value == pytest.approx(3.0, abs=0.3)


def test_change_of_level_is_taken_at_one_speed():
    slow, fast = flown(1, mean=150.0), flown(2, mean=170.0)
    before, after = (measure_vibration(*part, RATE) for part in (slow, fast))
    change = level_change(before, after)["order 1 rate"]
    # each made with its amplitude at its own mean speed: at one speed the faster one is quieter by (f/f0)^4
    assert change.value == pytest.approx(-40.0 * math.log10(170.0 / 150.0), abs=0.3)
    assert "rev/s apart" in change.caveats[0]


def test_change_without_a_line_has_the_reason():
    rates, accels, speed = flown()
    quiet = {axis: np.random.default_rng(9).standard_normal(values.size) for axis, values in rates.items()}
    change = level_change(
        measure_vibration(rates, accels, speed, RATE), measure_vibration(quiet, {}, speed, RATE)
    )
    assert change["order 1 rate"].reason.startswith("after: no line stands out")


def test_clipped_share_and_flat_tops_are_counted():
    time = np.arange(10_000) / RATE
    wave = 60.0 * np.sin(2.0 * math.pi * 10.0 * time + 0.3)
    found = clipping("accel.z", np.clip(wave, -50.0, 50.0), RATE)
    # a sine above 5/6 of its peak: acos(5/6) / pi of the time, twice a period
    assert found.share == pytest.approx(2.0 * math.acos(5.0 / 6.0) / math.pi, abs=0.01)
    assert found.flat_tops == 200
    assert (found.low, found.high) == (-50.0, 50.0)
    assert found.longest == pytest.approx(math.acos(5.0 / 6.0) / math.pi / 10.0, abs=0.002)
    assert "at the rail" in found.statement


def test_what_is_not_clipped_is_not_said_to_be():
    values = np.random.default_rng(1).standard_normal(100_000)
    assert clipping("accel.x", values, RATE).samples == 0
    assert clipping("accel.x", np.round(values, 2), RATE).samples == 0
    assert clipping("accel.x", np.full(1000, -9.81), RATE).samples == 0
    assert clipping("accel.x", np.full(10, np.nan), RATE).statement == "accel.x: no values"
    assert clipping("accel.x", values, RATE, limit=3.0).samples == int((np.abs(values) >= 3.0 * 0.999).sum())


def test_bad_input_is_refused_or_told():
    rates, accels, speed = flown()
    with pytest.raises(InputError, match=r"4 s are needed"):
        measure_vibration({"roll": rates["roll"][:1000]}, {}, None, RATE)
    with pytest.raises(InputError, match="no rate and no acceleration"):
        measure_vibration({}, {}, speed, RATE)
    with pytest.raises(InputError, match="no rate and no acceleration"):
        measure_vibration({"roll": np.full(10_000, np.nan)}, {}, speed, RATE)
    holed = {**rates, "yaw": np.full(10_000, np.nan)}
    found = measure_vibration(holed, accels, speed, RATE)
    assert "rate.yaw: no value was logged" in found.notes
    assert found.line(1.0).level["rate.roll"].value is not None
    assert measure_vibration({"roll": np.zeros(10_000)}, {}, np.zeros((4, 10_000)), RATE).lines == ()


def test_long_flight_is_looked_at_in_stretches():
    rates, accels, speed = flown(seconds=200.0, noise=5e-4)
    found = measure_vibration(rates, accels, speed, RATE)
    assert any("looked at 96 of 200 s" in note for note in found.notes)
    true = math.sqrt(0.010**2 + 0.014**2 + 0.008**2 + 0.012**2) / math.sqrt(2.0)
    level = found.line(1.0).at_reference["rate.roll"]
    reference = (found.line(1.0).reference_speed / 160.0) ** 2
    assert level.value == pytest.approx(true * reference, rel=0.02)
