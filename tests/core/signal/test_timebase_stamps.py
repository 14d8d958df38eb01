"""Time stamps of every broken kind: what is found, and that nothing else is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.signal.mend import mend
from asflown.core.signal.timebase import examine

N = 60_000
T = np.arange(N) / 1000.0


def kinds(base):
    return {fault.kind for fault in base.statements}


def test_a_clean_log_has_no_fault_and_its_time_is_left_alone():
    base = examine(T)
    assert base.is_even
    assert base.statements == ()
    assert base.rate == pytest.approx(1000.0, rel=1e-9)
    assert mend(T, base).time is T


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_dropped_rows_are_counted(share):
    keep = np.random.default_rng(1).random(N) > share
    keep[[0, -1]] = True
    base = examine(T[keep])
    assert base.dropped == N - np.count_nonzero(keep)
    assert base.rate == pytest.approx(1000.0, rel=1e-6)
    assert kinds(base) == {"gap"}


def test_gaps_of_30_ms():
    starts = range(5000, N - 100, 10_000)
    base = examine(np.delete(T, np.concatenate([np.arange(k, k + 29) for k in starts])))
    assert base.gap_count == len(starts)
    assert base.dropped == 29 * len(starts)
    assert [round(gap.length, 6) for gap in base.gaps] == [0.03] * len(starts)


@pytest.mark.parametrize("dropped", [0.0, 0.05])
def test_jitter_is_measured_and_does_not_bend_the_rate(dropped):
    random = np.random.default_rng(2)
    stamps = np.sort(T + random.normal(0, 2e-4, N))[random.random(N) >= dropped]
    base = examine(stamps)
    assert base.rate == pytest.approx(1000.0, rel=5e-4)
    assert base.jitter == pytest.approx(2e-4, rel=0.12)  # missing rows widen the robust spread by some 6 %
    assert "jitter" in kinds(base)


def test_backward_and_repeated_stamps():
    stamps = T.copy()
    stamps[5000:5005] -= 0.05
    stamps[9000] = stamps[8999]
    base = examine(stamps)
    assert (base.backward, base.repeated) == (5, 1)
    assert {"backward stamp", "repeated stamp"} <= kinds(base)
    mended = mend(stamps, base)
    assert mended.rows is not None
    assert mended.rows.size == N - 6
    assert np.all(np.diff(mended.time) > 0)


def test_stray_stamps_do_not_take_the_rest_with_them():
    stamps = T.copy()
    stamps[5000] = 1e6
    stamps[9000:9005] = -1e5
    base = examine(stamps)
    assert base.stray == 6
    assert base.restarts == 0
    assert mend(stamps, base).time.size == N - 6


@pytest.mark.parametrize("ahead", [0.0, 1000.0])
def test_two_flights_in_one_file(ahead):
    stamps = np.concatenate([T[:20_000], T[:30_000] + ahead])
    base = examine(stamps)
    assert base.sessions == ((0, 20_000), (20_000, 50_000))
    assert "restart" in kinds(base)
    mended = mend(stamps, base)
    assert len(mended.sessions) == 2
    assert mended.sessions[1].start - mended.sessions[0].end >= 59
    assert np.all(np.diff(mended.time) > 0)


@pytest.mark.parametrize("rate", [400, 800, 1600, 3200])
def test_stamps_rounded_to_a_millisecond_are_no_jitter_and_no_dropped_rows(rate):
    true = np.arange(N) / rate
    stamps = np.floor(true * 1000 + 1e-6) / 1000
    base = examine(stamps)
    assert base.rounded_to == pytest.approx(1e-3)
    assert base.rate == pytest.approx(rate, rel=2e-4)
    assert (base.dropped, base.repeated, base.jitter) == (0, 0, 0)
    spread = mend(stamps, base).time
    assert np.ptp(spread - true) < 1e-4
    assert np.all(np.diff(spread) > 0)


def test_a_rate_near_a_round_one_makes_the_clock_suspect():
    assert examine(np.arange(5000) / 1010.0).clock is not None
    assert examine(np.arange(5000) / 1000.0).clock is None


@pytest.mark.parametrize(
    "stamps", [np.zeros(0), np.zeros(9), np.full(9, np.nan), np.array([1.0, 2.0]), T[:50][::-1].copy()]
)
def test_where_no_rate_can_be_told_it_says_so(stamps):
    base = examine(stamps)
    assert base.rate == 0
    assert kinds(base) == {"no rate"}
    assert mend(stamps, base).time.size == 0


@given(
    st.lists(st.one_of(st.floats(-1e6, 1e6), st.just(float("nan")), st.floats(0, 1)), max_size=60),
    st.integers(0, 2000),
)
def test_any_stamps_are_survived_and_mended_time_never_goes_back(odd, even):
    stamps = np.concatenate([np.arange(even) / 500.0, np.array(odd, dtype=float)])
    mended = mend(stamps)
    assert mended.base.rows == stamps.size
    assert np.all(np.diff(mended.time) >= 0)
    if mended.rows is not None:
        assert mended.rows.size == mended.time.size


def test_real_irregular_stamps(shared):
    """imu_handheld: github.com/xioTechnologies/Fusion, Examples/Python/sensor_data.csv, licence MIT."""
    polars = pytest.importorskip("polars")
    stamps = polars.read_parquet(shared / "data/imu_handheld/session.parquet")["t_s"].to_numpy()
    base = examine(stamps)
    assert base.rate == pytest.approx(100.0, rel=1e-3)  # its ABOUT: 13514 rows in 135.3 s
    assert max(gap.length for gap in base.gaps) == pytest.approx(0.0302, abs=1e-4)  # its ABOUT: max 30.2 ms
    # rows it should have: duration times rate, against those it has
    assert base.rows + base.dropped == pytest.approx((stamps[-1] - stamps[0]) * base.rate + 1, abs=8)
