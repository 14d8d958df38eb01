"""Even stretches from flights with every kind of time fault."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.flight import Flight, Span, Trace
from asflown.core.signal.timebase import even, even_parts

N = 60_000
T = np.arange(N) / 1000.0


def wave(t):
    return np.sin(2 * np.pi * 8 * t) + 0.3 * np.sin(2 * np.pi * 30 * t + 1)


def flight_of(t, **more):
    return Flight({"rate.roll": Trace("rate.roll", t, wave(t), "rad/s"), **more})


def worst(parts, name="rate.roll", inside=0):
    return max(
        np.abs(p.values[name] - wave(p.start + np.arange(p.samples) / p.rate))[
            inside : p.samples - inside
        ].max()
        for p in parts
    )


def test_a_clean_flight_comes_back_as_it_is():
    (part,) = even_parts(flight_of(T), ["rate.roll"])
    assert (part.start, part.rate, part.samples, part.filled) == (0.0, 1000.0, N, 0)
    assert np.array_equal(part.values["rate.roll"], wave(T))
    assert not part.values["rate.roll"].flags.writeable


@pytest.mark.parametrize("wanted, factor", [(500, 2), (250, 4), (333.4, 3), (350, 2), (100, 10), (2000, 1)])
def test_decimated_to_no_less_than_asked(wanted, factor):
    (part,) = even_parts(flight_of(T), ["rate.roll"], rate=wanted)
    assert part.rate == pytest.approx(1000 / factor)
    if part.rate > 75:  # 30 Hz lies within 0.8 of the new Nyquist frequency
        assert worst([part]) < 2e-4


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_dropped_rows_are_filled(share):
    keep = np.random.default_rng(3).random(N) > share
    keep[[0, -1]] = True
    found = even(flight_of(T[keep]), ["rate.roll"])
    assert len(found.parts) == 1
    assert found.filled == N - np.count_nonzero(keep)
    # cubic through the neighbours of one missing sample at 30 Hz: 2e-4 of it; of three missing a few per cent
    assert worst(found.parts) < 0.02
    missing = ~keep
    rest = np.abs(found.parts[0].values["rate.roll"] - wave(T))
    assert np.sqrt(np.mean(rest[missing] ** 2)) < 5e-4


def test_longer_gaps_split():
    starts = [10_000, 20_000, 21_000]
    t = np.delete(T, np.concatenate([np.arange(k, k + 30) for k in starts]))
    found = even(flight_of(t), ["rate.roll"], rate=500)
    assert [round(p.span.length) for p in found.parts] == [10, 10, 39]  # the 0.97 s between is too short
    assert found.lost == pytest.approx(0.97 + 0.09 + 3 * 0.052, abs=0.02)
    assert worst(found.parts) < 2e-4


def test_jittered_samples_are_put_on_even_times():
    t = np.sort(T + np.random.default_rng(4).normal(0, 2e-4, N))
    found = even(flight_of(t), ["rate.roll"])
    assert found.resampled > 0.99 * N
    assert worst(found.parts) < 2e-3
    # jitter under 2 % of a step is left alone
    t = T + np.random.default_rng(4).normal(0, 1e-5, N)
    assert even(flight_of(t), ["rate.roll"]).resampled == 0


def test_slower_signals_are_brought_onto_the_grid_and_named():
    s = np.arange(N // 4) / 250.0 + 0.0007
    found = even(
        flight_of(T, **{"motor.1": Trace("motor.1", s, wave(s), "1")}), ["rate.roll", "motor.1"], rate=500
    )
    assert found.rates["motor.1"] == pytest.approx(250)
    assert any("motor.1" in line for line in found.statements)
    assert worst(found.parts, "motor.1", inside=50) < 1e-3


def test_values_between_empty_cells_are_a_slower_signal():
    values = wave(T)
    values[np.arange(N) % 4 != 0] = np.nan
    found = even(
        flight_of(T, **{"motor.1": Trace("motor.1", T, values, "1")}), ["rate.roll", "motor.1"], rate=500
    )
    assert found.rates["motor.1"] == pytest.approx(250)
    assert worst(found.parts, "motor.1", inside=50) < 1e-3


def test_a_slow_signal_may_be_straight_between_its_samples():
    s = np.arange(600) / 10.0
    volts = 16.0 - 0.01 * s
    (part,) = even_parts(
        flight_of(T, pack_voltage=Trace("pack_voltage", s, volts, "V")), ["rate.roll", "pack_voltage"]
    )
    t = part.start + np.arange(part.samples) / part.rate
    inside = t < s[-1]
    assert np.allclose(part.values["pack_voltage"][inside], 16.0 - 0.01 * t[inside])


def test_holes_in_one_column_are_missing_rows_for_all():
    values = wave(T)
    values[30_000:30_200] = np.nan
    values[100] = np.nan
    parts = even_parts(
        flight_of(T, **{"rate.yaw": Trace("rate.yaw", T, values, "rad/s")}), ["rate.roll", "rate.yaw"]
    )
    assert [p.samples for p in parts] == [30_000, N - 30_200]
    assert parts[0].filled == 1
    assert worst(parts, "rate.yaw") < 1e-3


def test_all_nan_missing_and_constant():
    nothing = Trace("rate.yaw", T, np.full(N, np.nan), "rad/s")
    found = even(flight_of(T, **{"rate.yaw": nothing}), ["rate.roll", "rate.yaw", "rate.pitch"])
    assert found.parts == ()
    assert "rate.yaw has no values" in found.statements
    assert "rate.pitch was not logged" in found.statements
    (part,) = even_parts(
        Flight({"throttle": Trace("throttle", T, np.full(N, 0.3), "1")}), ["throttle"], rate=250
    )
    assert np.allclose(part.values["throttle"], 0.3)


def test_two_flights_and_backward_stamps():
    t = np.concatenate([T[:20_000], T[:30_000]])
    parts = even_parts(flight_of(t), ["rate.roll"])
    assert [p.samples for p in parts] == [20_000, 30_000]
    t = T.copy()
    t[5000:5003] -= 0.05
    found = even(Flight({"rate.roll": Trace("rate.roll", t, wave(T), "rad/s")}), ["rate.roll"])
    assert worst(found.parts) < 1e-2
    assert found.filled == 3


def test_spans_and_short_parts():
    found = even(flight_of(T), ["rate.roll"], spans=[Span(10, 20), Span(30, 31), Span(59, 200)])
    assert [(p.start, p.samples) for p in found.parts] == [(10.0, 10_000)]
    assert found.lost == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("rate", [250, 100])
def test_slow_logs(rate):
    t = np.arange(60 * rate) / rate
    (part,) = even_parts(flight_of(np.delete(t, 777)), ["rate.roll"])
    assert (part.rate, part.filled) == (rate, 1)


def test_real_irregular_stamps_make_few_parts(shared):
    """imu_handheld: github.com/xioTechnologies/Fusion, Examples/Python/sensor_data.csv, licence MIT."""
    polars = pytest.importorskip("polars")
    table = polars.read_parquet(shared / "data/imu_handheld/session.parquet")
    t = table["t_s"].to_numpy()
    flight = Flight({"rate.roll": Trace("rate.roll", t, np.radians(table["gyro_x_dps"].to_numpy()), "rad/s")})
    found = even(flight, ["rate.roll"])
    assert sum(p.span.length for p in found.parts) > 0.9 * (t[-1] - t[0])
    assert all(p.rate == pytest.approx(100, rel=1e-3) for p in found.parts)
