"""A stretch cut out of a flight."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_flight import opened

from asflown.app.flights.arrays import inside, members, stacked
from asflown.app.flights.measure import stretch
from asflown.app.flights.stretch import cut
from asflown.core.flight import EvenPart, Flight, Labels, Span, Trace
from asflown.errors import UsageError


def flight(time: np.ndarray) -> Flight:
    values = np.arange(time.size, dtype=np.float32)
    traces = {"time": Trace("time", time, time, "s"), "rate.roll": Trace("rate.roll", time, values, "rad/s")}
    armed = Labels("armed", np.array([0.0, 2.0, 5.0]), ("0", "1", "0"))
    return Flight(traces, {"armed": armed})


@given(st.floats(0, 9), st.floats(0.1, 9))
def test_the_stretch_holds_what_lies_in_it_and_nothing_else(start, length):
    time = np.arange(1000) / 100.0
    span = Span(start, start + length)
    found = cut(flight(time), span)
    kept = found.traces["rate.roll"]
    inside_ = (time >= span.start) & (time <= span.end)
    assert np.array_equal(kept.values, np.flatnonzero(inside_))
    assert found.traces["time"].time is kept.time
    assert found.labels["armed"].at(span.start + length / 2) == flight(time).labels["armed"].at(
        span.start + length / 2
    )


def test_stamps_that_go_back_are_kept_as_they_were():
    time = np.array([0.0, 1.0, 2.0, 1.5, 2.5, 3.0])
    found = cut(flight(time), Span(1.2, 2.6))
    assert found.traces["time"].time.tolist() == [2.0, 1.5, 2.5]


def test_a_stretch_outside_the_log_is_refused():
    made = opened().flight()
    assert stretch(made, None, 10.0) == Span(0.0, 10.0)
    assert stretch(made, -5.0, 1e9) == Span(0.0, float(made.traces["time"].time[-1]))
    with pytest.raises(UsageError, match=r"the log runs from 0 to 29\.999 s"):
        stretch(made, 40.0, 50.0)
    with pytest.raises(UsageError, match="is empty"):
        stretch(made, 5.0, 5.0)


def test_arrays_of_a_part():
    part = EvenPart(
        10.0, 2.0, {f"motor.{n}": np.full(6, float(n)) for n in (1, 2, 4)} | {"rate.yaw": np.ones(6)}
    )
    assert stacked(part, "motor").tolist() == [[1.0] * 6, [2.0] * 6]
    assert stacked(part, "rate", ("roll", "yaw")) is None
    assert stacked(part, "accel") is None
    assert list(members(part, "motor")) == ["1", "2", "4"]
    assert inside(part, (Span(10.5, 11.5), Span(12.4, 99.0))).tolist() == [
        False,
        True,
        True,
        True,
        False,
        True,
    ]
    assert not inside(part, ()).any()
