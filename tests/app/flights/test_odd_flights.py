"""Odd logs: each is measured as far as it goes, says what it lacks, or is refused in words; none is a fault."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from made_flight import log_bytes, opened

from asflown.app.flights import settle
from asflown.app.flights.look import look
from asflown.app.flights.measure import measure
from asflown.app.views.flight_look import look_json, look_sheet
from asflown.app.views.flight_measured import measured_json, measured_sheet
from asflown.errors import AsflownError


@pytest.fixture(scope="module")
def plover():
    lines = log_bytes().decode().split("\n")
    head = next(i for i, line in enumerate(lines) if line.startswith("time (us)"))
    return lines[head].split(","), np.array(
        [line.split(",") for line in lines[head + 1 :] if line], dtype=float
    )


def written(header, values) -> bytes:
    text = io.StringIO()
    np.savetxt(text, values, delimiter=",", header=",".join(header), comments="", fmt="%.4f")
    return text.getvalue().encode()


def told(data: bytes):
    """Looked at and measured, both shown; the measurement, or the refusal."""
    log = opened(data)
    seen = look(log)
    json.dumps(look_json(seen), allow_nan=False)
    assert look_sheet(seen).sentence
    try:
        made = measure(settle.accept(log, {}))
    except AsflownError as error:
        return error
    json.dumps(measured_json(made), allow_nan=False)
    assert measured_sheet(made).sentence
    return made


def reason(made, name: str) -> str:
    one = made.study.of(name)
    assert one is not None
    assert one.reason is not None, f"{name}: {one.value}"
    return one.reason


def without(plover, *words):
    header, values = plover
    kept = [i for i, name in enumerate(header) if not any(word in name for word in words)]
    return written([header[i] for i in kept], values[:, kept])


def test_all_not_a_number(plover):
    header, values = plover
    made = told(written(header, np.column_stack([values[:, 0], np.full(values[:, 1:].shape, np.nan)])))
    assert isinstance(made, AsflownError) or made.study.measured == 0


def test_constant(plover):
    header, values = plover
    made = told(
        written(header, np.column_stack([values[:, 0], np.tile(values[20_000, 1:], (len(values), 1))]))
    )
    if not isinstance(made, AsflownError):
        assert all(made.study.of(f"axes.{axis}.bandwidth").value is None for axis in ("roll", "pitch", "yaw"))


def test_one_axis_missing(plover):
    made = told(without(plover, "gyro pitch"))
    assert "commanded and measured pitch rate are not both known" in reason(made, "axes.pitch.bandwidth")
    assert made.study.of("axes.roll.bandwidth").value is not None
    assert made.study.of("power.resistance").value is not None


def test_no_motors(plover):
    made = told(without(plover, "motor", "rotor"))
    assert "log every motor's command" in reason(made, "axes.roll.crossover")
    assert "log every motor's command" in reason(made, "motors.hover")
    assert made.study.of("axes.roll.bandwidth_as_flown").value is not None


def test_only_the_ground(plover):
    header, values = plover
    made = told(written(header, values[:5500]))
    assert reason(made, "axes.roll.bandwidth")
    assert made.study.of("ground.gyro_bias.roll").value is not None


def test_two_flights_in_one_file(plover):
    header, values = plover
    made = told(written(header, np.vstack([values, values])))
    assert any("restart" in fault.kind or "session" in fault.kind for fault in made.faults), made.faults
    assert made.study.of("axes.roll.bandwidth").value is not None


def test_rows_lost_and_stamps_astray(plover):
    header, values = plover
    random = np.random.default_rng(4)
    lost = np.delete(values, random.choice(len(values), 300, replace=False), axis=0)
    made = told(written(header, lost))
    assert made.timebase.dropped == pytest.approx(300, abs=3)
    assert made.study.of("axes.roll.bandwidth").value is not None
    shaken = values.copy()
    shaken[:, 0] += random.normal(0, 100, len(values))
    assert told(written(header, shaken)).study.of("axes.roll.bandwidth").value is not None


@pytest.mark.parametrize("rows", [1, 3, 60, 900])
def test_short(plover, rows):
    header, values = plover
    made = told(written(header, values[15_000 : 15_000 + rows]))
    if isinstance(made, AsflownError):
        assert made.next_step
        return
    assert reason(made, "axes.roll.bandwidth")


def test_backwards(plover):
    header, values = plover
    made = told(written(header, values[::-1]))
    assert isinstance(made, AsflownError) or made.faults
