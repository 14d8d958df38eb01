"""Segments of made flights whose parts are known."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.flight import Flight, Labels, Span, Trace
from asflown.core.segments import Kind, PointKind, TestPoint, match_points, segments

RATE = 500


def script(*parts):
    """(seconds, what) one after the other, as columns."""
    columns = {name: [] for name in ("roll", "pitch", "yaw", "motor", "vz")}
    random = np.random.default_rng(0)
    for seconds, what in parts:
        n = int(seconds * RATE)
        t = np.arange(n) / RATE
        turn = {
            axis: random.normal(0, 0.002 if what == "ground" else 0.02, n)
            for axis in ("roll", "pitch", "yaw")
        }
        motor = np.full(n, 0.05 if what == "ground" else 0.35)
        if what in turn:
            turn[what] += 1.5 * np.sign(np.sin(2 * np.pi * t))
        if what == "sweep":
            turn["roll"] += np.sin(2 * np.pi * 0.5 * (np.exp(0.2 * t) - 1) / 0.2)
        if what == "punch":
            motor[:] = 0.7
        if what == "full":
            motor[:] = 1.0
        for axis, values in turn.items():
            columns[axis].append(values)
        columns["motor"].append(motor + (0.0 if what == "full" else 1.0) * random.normal(0, 0.01, n))
    return {name: np.concatenate(values) for name, values in columns.items() if values}


def flight_of(columns, *, motors=True, rates=True, labels=None, commands=True):
    t = np.arange(columns["roll"].size) / RATE
    traces = {}
    for axis in ("roll", "pitch", "yaw"):
        if rates:
            traces[f"rate.{axis}"] = Trace(f"rate.{axis}", t, columns[axis].astype("f4"), "rad/s")
        if commands:
            traces[f"rate_command.{axis}"] = Trace(f"rate_command.{axis}", t, columns[axis], "rad/s")
    for i in range(1, 5 if motors else 1):
        traces[f"motor.{i}"] = Trace(f"motor.{i}", t, np.clip(columns["motor"], 0.05, 1).astype("f4"), "1")
    return Flight(traces, labels or {})


CARD = ((10, "ground"), (10, "hover"), (12, "roll"), (5, "hover"), (11, "yaw"), (3, "hover"), (2, "punch"),
        (3, "hover"), (1, "full"), (12, "hover"), (12, "ground"))  # fmt: skip


@pytest.mark.parametrize("commands", [True, False])
def test_the_parts_of_a_flight(commands):
    found = segments(flight_of(script(*CARD), commands=commands))
    assert [(round(s.start), round(s.end)) for s in found.airborne] == [(10, 69)]
    assert [(round(s.span.start), round(s.span.end)) for s in found.of(Kind.GROUND)] == [(0, 10), (69, 81)]
    assert [round(s.span.start) for s in found.of(Kind.TAKE_OFF)] == [10]
    assert [round(s.span.end) for s in found.of(Kind.LANDING)] == [69]
    assert found.hover_level == pytest.approx(0.35, abs=0.01)
    assert found.seconds(Kind.MANOEUVRE, "roll") == pytest.approx(12, abs=0.5)
    assert found.seconds(Kind.MANOEUVRE, "yaw") == pytest.approx(11, abs=0.5)
    assert found.of(Kind.MANOEUVRE, "pitch") == ()
    assert 20 < found.seconds(Kind.HOVER) < 30
    assert all(segment.reason for segment in found.found)
    (punch, full) = found.of(Kind.PUNCH)
    assert punch.span.length == pytest.approx(2, abs=0.3)
    assert full.span.length == pytest.approx(1, abs=0.3)
    assert found.saturated.sum(axis=1) == pytest.approx([50] * 4, abs=4)  # one second of it, 50 bins
    assert found.saturated_share["roll"] == 0


def test_rates_alone_are_enough_for_airborne():
    columns = script((20, "ground"), (20, "roll"), (20, "ground"))
    found = segments(flight_of(columns, motors=False, commands=False))
    (span,) = found.airborne
    assert span.start == pytest.approx(20, abs=0.5)
    assert span.end == pytest.approx(40, abs=0.5)
    assert any("saturation cannot be told" in line for line in found.statements)


def test_hour_long_ground_time():
    found = segments(flight_of(script((1800, "ground"), (30, "roll"), (1800, "ground"))))
    (span,) = found.airborne
    assert (span.start, span.end) == (pytest.approx(1800, abs=0.5), pytest.approx(1830, abs=0.5))


def test_never_flown_and_always_flown():
    assert segments(flight_of(script((60, "ground")))).airborne == ()
    found = segments(flight_of(script((20, "hover"), (20, "roll"))))
    assert found.airborne_seconds == pytest.approx(40, abs=0.1)
    assert found.of(Kind.TAKE_OFF) == found.of(Kind.LANDING) == ()


def test_disarmed_is_on_the_ground():
    labels = {"armed": Labels("armed", np.array([0.0, 15.0, 60.0]), ("0", "1", "0"))}
    found = segments(flight_of(script(*CARD), labels=labels))
    assert found.airborne[0].start == pytest.approx(15, abs=0.1)
    assert found.airborne[-1].end == pytest.approx(60, abs=0.1)


def test_two_flights_make_two_spans():
    found = segments(
        flight_of(script((5, "ground"), (20, "roll"), (10, "ground"), (20, "hover"), (5, "ground")))
    )
    assert len(found.airborne) == 2


def test_test_points_are_matched_and_what_is_missing_is_said():
    flight = flight_of(script(*CARD, (5, "ground"), (5, "hover"), (12, "sweep"), (5, "hover")))
    points = (
        TestPoint(PointKind.HOVER, least=10),
        TestPoint(PointKind.DOUBLETS, "yaw", 40),
        TestPoint(PointKind.SWEEP, "roll", 10),
        TestPoint(PointKind.SWEEP, "yaw", 10),
        TestPoint(PointKind.PUNCH, least=2),
    )
    matched = match_points(segments(flight), flight, points)
    assert [one.missing for one in matched] == [
        None, "yaw doublets 11 s of about 40 s", None, "yaw sweep 0 s of about 10 s", None,
    ]  # fmt: skip
    assert all(span.length > 0 for one in matched for span in one.spans)


@pytest.mark.parametrize("broken", ["nan column", "constant", "empty", "one sample", "nan time"])
def test_broken_flights_are_survived(broken):
    t = np.arange(5000) / 500.0
    values = {"nan column": np.full(5000, np.nan), "constant": np.ones(5000)}.get(broken, np.zeros(5000))
    if broken == "empty":
        flight = Flight({})
    elif broken == "one sample":
        flight = Flight({"rate.roll": Trace("rate.roll", t[:1], values[:1], "1")})
    elif broken == "nan time":
        flight = Flight({"rate.roll": Trace("rate.roll", t * np.nan, values, "1")})
    else:
        flight = Flight({n: Trace(n, t, values, "1") for n in ("rate.roll", "motor.1", "throttle")})
    found = segments(flight)
    assert found.airborne == () or broken == "constant"
    assert found.statements


def test_forward_flight_needs_speed_or_attitude():
    columns = script(
        (20, "hover"),
    )
    flight = flight_of(columns)
    t = flight.traces["rate.roll"].time
    north = np.where((t > 5) & (t < 12), 6.0, 0.0)
    told = segments(Flight({**flight.traces, "velocity.north": Trace("velocity.north", t, north, "m/s")}))
    (forward,) = told.of(Kind.FORWARD)
    assert forward.span == Span(pytest.approx(5, abs=0.3), pytest.approx(12, abs=0.3))
    assert all(h.span.end <= 5.3 or h.span.start >= 11.7 for h in told.of(Kind.HOVER))
    assert any("forward flight cannot be told" in line for line in segments(flight).statements)
