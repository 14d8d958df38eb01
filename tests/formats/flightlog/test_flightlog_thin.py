"""Thinning: the filter against aliasing, its batches, and what is picked instead."""

from __future__ import annotations

import numpy as np
import pytest
from flightlog_tools import facts, read
from hypothesis import given
from hypothesis import strategies as st

from asflown.formats.flightlog.fitting import fit_to
from asflown.formats.flightlog.precision import rate_of
from asflown.formats.flightlog.thin import Decimator, Picker, filter_taps


@pytest.mark.parametrize("factor", [2, 3, 5, 8, 16])
def test_the_filter_holds_what_it_promises(factor):
    """Response from the definition of the Fourier transform, by numpy's FFT of the taps."""
    taps = filter_taps(factor)
    assert len(taps) % 2 == 1
    assert np.allclose(taps, taps[::-1], atol=1e-16)  # linear phase
    response = np.abs(np.fft.rfft(taps, 1 << 17))
    at = np.arange(len(response)) / (len(response) - 1) * factor  # 1: half the new rate
    assert response[0] == pytest.approx(1.0, abs=1e-12)
    assert 20 * np.log10(response[at >= 1.2].max()) < -80
    assert np.abs(20 * np.log10(response[at <= 0.8])).max() < 0.002


@given(
    factor=st.integers(2, 9),
    cuts=st.lists(st.integers(0, 400), max_size=12),
    seed=st.integers(0, 2**32 - 1),
    holes=st.sampled_from([0.0, 0.0, 0.01, 0.5]),
)
def test_batches_do_not_matter(factor, cuts, seed, holes):
    rng = np.random.default_rng(seed)
    values = rng.standard_normal(sum(cuts) + 1)
    values[rng.random(len(values)) < holes] = np.nan
    taps = filter_taps(factor)
    whole = Decimator(factor, taps, np.float64)
    once = np.concatenate((whole.push(values), whole.finish()))
    parts, picked = Decimator(factor, taps, np.float64), Picker(factor)
    made, rows = [], []
    for part in np.split(values, np.cumsum(cuts)):
        made.append(parts.push(part))
        rows.append(part[picked.places(len(part))])
    made.append(parts.finish())
    assert np.allclose(np.concatenate(made), once, rtol=0, atol=1e-12, equal_nan=True)
    assert np.array_equal(np.concatenate(rows), values[::factor], equal_nan=True)
    assert len(once) == len(values[::factor])


@given(factor=st.integers(2, 9), seed=st.integers(0, 2**32 - 1), holes=st.sampled_from([0.0, 0.02]))
def test_the_weighted_mean_by_its_definition(factor, seed, holes):
    rng = np.random.default_rng(seed)
    values = rng.standard_normal(40 * factor)
    values[rng.random(len(values)) < holes] = np.nan
    taps = filter_taps(factor)
    half = len(taps) // 2
    padded = np.concatenate((np.full(half, np.nan), values, np.full(half, np.nan)))
    wanted = []
    for at in range(0, len(values), factor):
        window = padded[at : at + len(taps)]
        there = np.isfinite(window)
        weight = taps[there].sum()
        wanted.append(taps[there] @ window[there] / weight if weight >= 0.5 else np.nan)
    column = Decimator(factor, taps, np.float64)
    made = np.concatenate((column.push(values), column.finish()))
    assert np.allclose(made, wanted, rtol=0, atol=1e-10, equal_nan=True)


def test_a_constant_and_a_slow_sine_stay_what_they_are():
    time = np.arange(6000) / 2000
    for values, inside in ((np.full(6000, 101325.25), 0), (np.sin(2 * np.pi * 20 * time), 30)):
        column = Decimator(4, filter_taps(4), np.float64)
        made = np.concatenate((column.push(values), column.finish()))
        assert np.allclose(
            made[inside : len(made) - inside], values[::4][inside : len(made) - inside], atol=1e-4
        )


def _log(rows: int, rate: float, line: float) -> str:
    """A log with a tone of ``line`` Hz, a mode, a flag."""
    time = np.arange(rows) / rate
    tone = np.sin(2 * np.pi * line * time)
    return "time_us,gyro,armed,mode\n" + "".join(
        f"{round(1e6 * t)},{v:.5f},{int(t > 1)},{'hold' if t < 2 else 'free'}\n"
        for t, v in zip(time.tolist(), tone.tolist(), strict=True)
    )


def test_a_log_too_large_is_thinned_without_aliasing():
    rows, rate = 24_000, 8000.0
    for line, level in ((60.0, 1.0), (1990.0, 0.0)):  # 1990 Hz would fold to 10 Hz at 2 kHz
        table = read(_log(rows, rate, line), limit_bytes=rows * 24 // 4)
        assert table.thinned == 4
        assert table.rows == rows // 4
        gyro = table.column("gyro").numbers
        assert np.abs(gyro[100:-100]).max() == pytest.approx(level, abs=2e-4)
        assert np.array_equal(table.column("time_us").numbers, np.round(1e6 * np.arange(0, rows, 4) / rate))
        assert set(table.column("armed").numbers) == {0, 1}
        assert table.column("mode").words[4000] == "free"
        assert facts(table)["thinned"] == rows * 3 // 4


def test_never_below_five_hundred_rows_a_second():
    rows = 6000
    table = read(_log(rows, 1000.0, 60.0), limit_bytes=rows * 2)
    assert table.thinned == 2  # 1 kHz to 500 Hz
    assert facts(table)["columns left out"] > 0
    assert table.column("time_us") is not None
    assert table.column("gyro") is None
    said = next(fact.statement for fact in table.facts if fact.kind == "thinned")
    assert "from 1000 to 500 rows a second" in said


def test_the_rate_of_a_time_column():
    """The four units whose rate lies between 50 Hz and 40 kHz exclude each other."""
    for step, unit, rate in ((1e-3, None, 1000), (0.5, None, 2000), (125, None, 8000), (1e6, None, 1000)):
        assert rate_of(np.arange(100) * step, unit) == pytest.approx(rate)
    assert rate_of(np.arange(100) * 10.0, "us") == pytest.approx(100_000)
    assert rate_of(np.zeros(100), None) is None
    assert rate_of(np.arange(100) * 21.0, None) is None


def test_what_fits_is_left_alone():
    fit = fit_to(1000, 100, {0: 4, 1: 4}, frozenset({0}), 1000.0)
    assert (fit.factor, fit.left_out) == (1, frozenset())


@pytest.mark.parametrize("unit", ["us", "usec", "µs", "Micros"])
def test_the_unit_of_a_time_column_in_other_words(unit):
    assert rate_of(np.arange(100) * 10.0, unit) == pytest.approx(100_000)
    assert rate_of(np.arange(100) * 125.0, "tick") == pytest.approx(8000)
