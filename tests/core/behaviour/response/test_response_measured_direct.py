"""Rate over command straight from the spectra: a filter that is known, and the public simulator's flights.

The flights: /shared/data/rotorpy_sim, made with rotorpy 3.0.0 (MIT; see its ABOUT.md): 500 Hz, 60 s, a command of
feedback and 16 lines at 0.6 + k 2.627 Hz. checks.json holds gain and phase at some lines, by another program.
Between the lines the command is feedback alone: a plain H1 reads 4 to 5 at 5.1 Hz beside 0.3 at the line, coherent.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from asflown.core.behaviour.exogeneity import exogeneity_of
from asflown.core.behaviour.response.axis import Instrument, measure_axes
from asflown.core.behaviour.response.result import Curve
from asflown.core.flight import EvenPart, Flight, Trace
from asflown.core.signal.timebase import even_parts

AXIS_LETTERS = {"roll": "p", "pitch": "q", "yaw": "r"}
FLIGHTS = ("A_seed1", "A_seed2", "B_gain10_seed3")


@lru_cache(maxsize=3)
def _curves(path: Path) -> dict[str, Curve]:
    """The measured response of each axis, with the instrument and lines that the flight itself shows."""
    import polars

    table = polars.read_parquet(path)
    time = table["t_s"].to_numpy().astype(np.float64)
    time.setflags(write=False)
    traces = {}
    for axis, letter in AXIS_LETTERS.items():
        for name, column in (
            (f"rate_command.{axis}", f"cmd_{letter}_dps"),
            (f"rate.{axis}", f"gyro_{letter}_dps"),
        ):
            values = np.radians(table[column].to_numpy().astype(np.float64))
            values.setflags(write=False)
            traces[name] = Trace(name, time, values, "rad/s", column)
    flight = Flight(traces)
    instruments = {}
    for axis in AXIS_LETTERS:
        judged = exogeneity_of(flight, axis)
        assert judged.instrument == "command"
        assert judged.only_lines
        instruments[axis] = Instrument(lines=judged.lines.frequencies, width=judged.lines.width)
    found = measure_axes(list(even_parts(flight, list(traces))), None, instruments=instruments)
    made = {}
    for axis, one in found.items():
        assert one.measured_response is not None
        made[axis] = one.measured_response
    return made


def _at(curve: Curve, frequency: float) -> int:
    place = int(np.argmin(np.abs(curve.frequencies - frequency)))
    assert abs(curve.frequencies[place] - frequency) < 0.1
    return place


@pytest.mark.parametrize("name", FLIGHTS)
@pytest.mark.parametrize("axis", list(AXIS_LETTERS))
def test_at_the_lines_the_response_is_that_of_the_other_program(shared: Path, name: str, axis: str) -> None:
    folder = shared / "data" / "rotorpy_sim"
    curve = _curves(folder / f"{name}.parquet")[axis]
    checks = json.loads((folder / "checks.json").read_text())[name][AXIS_LETTERS[axis]]
    for frequency, gain, phase, coherence in checks:
        if frequency < 1.0:
            continue  # the slowest line cannot be told from trim
        place = _at(curve, frequency)
        assert curve.excited[place]
        mine = 10 ** (curve.gain[place] / 20)
        # printed to three places; the other program's own random error by its coherence, Welch of about 14 averages
        error = np.sqrt((1 - coherence) / (2 * coherence * 14))
        assert mine == pytest.approx(gain, rel=max(0.03, error), abs=0.0006)
        turned = (curve.phase[place] - phase + 180) % 360 - 180
        assert abs(turned) < 3.0 + np.degrees(error)


@pytest.mark.parametrize("name", FLIGHTS)
def test_between_the_lines_nothing_is_claimed(shared: Path, name: str) -> None:
    for curve in _curves(shared / "data" / "rotorpy_sim" / f"{name}.parquet").values():
        lines = 0.6 + 2.627 * np.arange(1, 16)
        apart = np.abs(curve.frequencies[:, None] - lines[None]).min(axis=1)
        assert curve.excited.sum() == 15
        np.testing.assert_array_less(apart[curve.excited], 0.02)
        assert np.all(np.isnan(curve.gain[~curve.excited]))
        assert np.all(np.isnan(curve.phase_low[~curve.excited]))
        assert (~curve.excited).sum() == 14


def test_alike_flights_overlap_and_the_gain_change_is_found(shared: Path) -> None:
    """Over 15 lines and three axes: A against A within both bands; A against B not, in the mean over the lines."""
    one, other, changed = (_curves(shared / "data" / "rotorpy_sim" / f"{name}.parquet") for name in FLIGHTS)
    overlaps = []
    for axis in AXIS_LETTERS:
        a, again, b = (flight[axis] for flight in (one, other, changed))
        lit = a.excited & again.excited & b.excited
        overlaps += list(((a.gain_low <= again.gain_high) & (again.gain_low <= a.gain_high))[lit])

        def apart(x: Curve, y: Curve, lit: np.ndarray = lit) -> float:
            spread = np.hypot(x.gain_high - x.gain_low, y.gain_high - y.gain_low)[lit] / 2 / 2
            return float(np.sum((x.gain - y.gain)[lit] / spread**2) / np.sqrt(np.sum(spread**-2.0)))

        assert abs(apart(a, again)) < 3.0
        assert apart(a, b) > 8.0
        assert apart(again, b) > 8.0
        # rate gain 14 to 10: 2.9 dB where the loop is slow against the lines
        fast = lit & (a.frequencies > 8.0) & (a.frequencies < 25.0)
        assert np.median((a.gain - b.gain)[fast]) == pytest.approx(20 * np.log10(1.4), abs=0.6)
    assert np.mean(overlaps) > 0.97


def _part(seed: int, seconds: float = 60.0, rate: float = 500.0) -> tuple[EvenPart, np.ndarray, np.ndarray]:
    """A second-order response with noise; scipy.signal.lfilter answers, freqz is the truth."""
    from scipy.signal import butter, lfilter

    random = np.random.default_rng((seed, 9))
    count = int(seconds * rate)
    command = lfilter([0.1], [1, -0.9], random.standard_normal(count))
    b, a = butter(2, 12.0, fs=rate)
    noise = lfilter([0.3], [1, -0.7], random.standard_normal(count))
    answer = lfilter(b, a, command) + 0.1 * noise
    return EvenPart(0.0, rate, {"rate_command.roll": command, "rate.roll": answer}), b, a


def test_bands_of_a_known_filter_hold_it_95_times_in_100() -> None:
    """12 records of 60 s: 400 points and more; the share of points covered, 97.5 % bounds of the count as if 200."""
    from scipy.signal import freqz

    covered, ahead, total = 0, 0, 0
    for seed in range(12):
        part, b, a = _part(seed)
        found = measure_axes([part], None)["roll"].measured_response
        assert found is not None
        truth = freqz(b, a, worN=found.frequencies, fs=part.rate)[1]
        lit = found.excited & (found.frequencies > 1.0)
        gain = 20 * np.log10(np.abs(truth))
        covered += int(np.sum(((found.gain_low <= gain) & (gain <= found.gain_high))[lit]))
        turned = (found.phase - np.degrees(np.angle(truth)) + 180) % 360 - 180
        ahead += int(np.sum((np.abs(turned) <= (found.phase_high - found.phase_low) / 2)[lit]))
        total += int(lit.sum())
    assert total > 200
    assert 0.91 < covered / total < 0.985
    assert 0.91 < ahead / total < 0.985


def test_where_the_answer_drowns_nothing_is_excited() -> None:
    part, _, _ = _part(1)
    drowned = EvenPart(
        0.0, part.rate, {**part.values, "rate.roll": np.random.default_rng(0).standard_normal(part.samples)}
    )
    found = measure_axes([drowned], None)["roll"].measured_response
    assert found is not None
    assert not found.excited.any()


def test_lines_too_near_for_the_length_give_no_curve() -> None:
    part, _, _ = _part(2, seconds=5.0)
    lines = Instrument(lines=(3.0, 3.4, 3.8, 4.2), width=0.1)
    assert measure_axes([part], None, instruments={"roll": lines})["roll"].measured_response is None
