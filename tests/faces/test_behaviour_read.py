"""``asflown behaviour read`` and ``predict --controller-log``: exit codes, what is said, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

RATE, LOOP = 500.0, 2000.0
KP, KI, KD = 0.12, 0.3, 0.002


def one_pole(values, cutoff):
    kept = np.exp(-2 * np.pi * cutoff / LOOP)
    return signal.lfilter([1 - kept], [1, -kept], values)


def rocked(seconds: float, *, moved: bool = True, columns: bool = True) -> str:
    """A bench log of a controller run by scipy.signal, as CSV."""
    random = np.random.default_rng(5)
    n = round(seconds * LOOP)
    swing = signal.butter(2, [0.5, 20.0], "bandpass", fs=LOOP, output="sos")
    rows, names = [np.arange(0, n, round(LOOP / RATE)) / LOOP], ["time (s)"]
    for axis in ("roll", "pitch", "yaw"):
        rate = signal.sosfilt(swing, random.standard_normal(n)) * 6.0
        wanted = signal.sosfilt(swing, random.standard_normal(n)) * 3.0 if moved else np.zeros(n)
        smooth = one_pole(rate, 80.0)
        error = wanted - smooth
        slope = np.diff(one_pole(smooth, 60.0), prepend=0.0) * LOOP
        output = KP * error + KI * np.cumsum(error) / LOOP - KD * slope
        step = round(LOOP / RATE)
        rows += [np.degrees(wanted)[::step], np.degrees(rate)[::step]]
        names += [f"wanted {axis} rate (deg/s)", f"gyro {axis} (deg/s)"]
        if columns:
            rows.append(output[::step])
            names.append(f"out {axis}")
    rows.append(np.zeros(rows[0].size))
    names.append("armed")
    lines = [",".join(f"{value:.6g}" for value in row) for row in np.column_stack(rows)]
    return "\n".join([",".join(names), *lines, ""])


OUTPUTS = tuple(f"control.{axis}=out {axis}" for axis in ("roll", "pitch", "yaw"))


@pytest.fixture
def log(desk):
    return desk.write("rock.csv", rocked(16.0))


def test_gains_are_read_with_their_intervals(desk, log):
    ran = desk("behaviour", "read", log, "--loop-rate", "2000", "--accept-proposed", "--assume", *OUTPUTS)
    assert "propellers off" in ran.out
    assert "asflown never arms" in " ".join(ran.out.split())
    assert "Read and of the family: roll, pitch, yaw." in ran.out
    made = desk(
        "behaviour", "read", log, "--loop-rate", "2000", "--accept-proposed", "--json", "--assume", *OUTPUTS
    ).json
    assert made["kind"] == "bench"
    for one in made["axes"].values():
        assert one["holds"] is True
        assert one["figures"]["proportional"]["value"] == pytest.approx(KP, rel=0.01)
        assert one["figures"]["integral"]["value"] == pytest.approx(KI, rel=0.02)
        assert one["figures"]["derivative"]["value"] == pytest.approx(KD, rel=0.05)
        assert len(one["response"]["rate"]["gain"][0]) == len(one["response"]["frequency"])


def test_a_log_without_output_says_what_to_log(desk):
    log = desk.write("rock.csv", rocked(16.0, columns=False))
    ran = desk("behaviour", "read", log, "--accept-proposed", code=3)
    assert "log one of them" in " ".join(ran.out.split())


def test_a_short_log_says_how_long(desk):
    log = desk.write("rock.csv", rocked(3.0))
    ran = desk("behaviour", "read", log, "--accept-proposed", "--assume", *OUTPUTS, code=3)
    assert "No controller can be read" in ran.out


def test_a_loop_rate_that_is_none(desk, log):
    ran = desk("behaviour", "read", log, "--loop-rate", "3", code=1)
    assert "is no rate of a loop" in ran.err


def test_a_log_that_is_none(desk):
    assert desk(
        "behaviour", "read", desk.write("a.csv", "not a log\n"), "--accept-proposed", code=None
    ).code in (1, 3)


@pytest.fixture
def gull(desk):
    desk.release("sand-1.0", catalog_csv="name,type,default\na,int,1\n")
    desk("aircraft", "new", "gull", "--set", "title=Gull", "board=brant-h7", "release=sand-1.0")
    return desk


def test_predicting_needs_a_baseline_flight(gull, log):
    ran = gull("predict", "gull", "--controller-log", log, "--accept-proposed", "--assume", *OUTPUTS, code=1)
    assert "no flight of gull is kept" in ran.err


def test_a_record_and_a_log_are_not_both_taken(gull, log):
    ran = gull("predict", "gull", "--controller-log", log, "--record", "gull-001", code=1)
    assert "leave one out" in ran.err
