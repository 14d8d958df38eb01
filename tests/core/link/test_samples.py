"""Samples: units and unknowns of MAVLink's common messages, held against pymavlink's own packing and reading."""

from __future__ import annotations

import os
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymavlink.dialects.v20 import common

from asflown.adapters.link.mavlink import MavLink
from asflown.core.link import asks
from asflown.core.link.asks import Command
from asflown.core.link.recording import Recorder, RestartedError
from asflown.core.link.samples import GRAVITY, SENSORS, Sample, sample_of
from asflown.core.link.version import software
from asflown.demo.aircraft.scenes import telemetry_of
from asflown.errors import DeviceError


class Line:
    def __init__(self, data: bytes = b"") -> None:
        self.data, self.sent = data, []

    def send(self, data):
        self.sent.append(data)

    def receive(self, count, seconds):
        data, self.data = self.data[:count], self.data[count:]
        return data

    def close(self):
        pass


def through(message) -> Sample:
    """Packed by pymavlink, read by asflown."""
    ((_, read),) = MavLink(Line(bytes(message.pack(common.MAVLink(None, 1, 1))))).receive(0.0)
    return read


def test_scaled_imu_in_si():
    read = through(
        common.MAVLink_scaled_imu_message(1500, 0, 500, -1000, 1000, -2000, 3, 200, -50, 450, 2_150)
    )
    assert read.seconds == 1.5
    assert read.values["accel.z"] == pytest.approx(-GRAVITY)
    assert read.values["accel.y"] == pytest.approx(GRAVITY / 2)
    assert [read.values[f"rate.{a}"] for a in ("roll", "pitch", "yaw")] == pytest.approx([1.0, -2.0, 0.003])
    assert [read.values[f"mag.{a}"] for a in "xyz"] == pytest.approx([20.0, -5.0, 45.0])  # 1 gauss = 100 uT
    assert read.values["sensor_temperature"] == pytest.approx(21.5)


def test_what_is_unknown_is_left_out():
    bare = through(common.MAVLink_scaled_imu_message(0, 0, 0, -1000, 0, 0, 0, 0, 0, 0, 0))
    assert not {"mag.x", "sensor_temperature"} & set(bare.values)
    status = common.MAVLink_sys_status_message(0, 0, 0, 0, 65_535, -1, -1, 0, 0, 0, 0, 0, 0)
    assert through(status).values == {}
    half = common.MAVLink_highres_imu_message(9, 0, 0, -9.8, 0, 0, 0, 0, 0, 0, 0, 0, 0, 21.0, 0b111)
    assert set(through(half).values) == {"accel.x", "accel.y", "accel.z"}
    other = common.MAVLink_battery_status_message(1, 0, 0, 32_767, [4000] * 10, 100, -1, -1, -1)
    assert through(other).values == {}
    channels = common.MAVLink_rc_channels_message(5, 2, 1000, 65_535, *[65_535] * 16, 200)
    assert through(channels).values == {"channel.1": 1000.0}


def test_pack_voltage_is_the_sum_of_its_cells():
    cells = [3980, 3975, 3981, 3979, *[65_535] * 6]
    read = through(common.MAVLink_battery_status_message(0, 0, 0, 32_767, cells, 1234, -1, -1, -1))
    assert read.values == {"pack_voltage": pytest.approx(15.915), "pack_current": pytest.approx(12.34)}
    assert read.seconds is None


def test_high_resolution_is_si_already():
    message = common.MAVLink_highres_imu_message(
        2_500_000, 0.1, 0.2, -9.8, 0.01, 0.02, 0.03, 0.2, -0.05, 0.45, 1013.0, 0, 12, 21.0, 0x1FFF
    )
    read = through(message)
    assert read.seconds == 2.5
    assert read.values["accel.z"] == pytest.approx(-9.8)
    assert read.values["mag.z"] == pytest.approx(45.0)


def test_texts_and_versions():
    ((_, said),) = MavLink(
        Line(bytes(common.MAVLink_statustext_message(4, b"cold\x07 start").pack(common.MAVLink(None, 1, 1))))
    ).receive(0.0)
    assert (said.severity, said.text) == (4, "cold start")
    assert software(0x01020380) == "1.2.3, beta"
    assert sample_of(0, {}) is None


@pytest.mark.parametrize("message", [*SENSORS])
def test_intervals_of_sensors_may_be_asked_for(message):
    link = MavLink(line := Line())
    link.send(Command(asks.SET_INTERVAL, float(message), 0, 10_000.0))
    (sent,) = common.MAVLink(None).parse_buffer(line.sent[0])
    assert (sent.command, sent.param1, sent.param2, sent.param3) == (511, message, 10_000, 0)


@given(st.integers(-5, 400).filter(lambda n: n not in SENSORS))
def test_no_other_interval_leaves(message):
    link = MavLink(line := Line())
    with pytest.raises(DeviceError, match="not one asflown sends"):
        link.send(Command(asks.SET_INTERVAL, float(message), 0, 10_000.0))
    assert not line.sent


def test_raw_readings_are_not_asked_for():
    assert asks.refused(asks.COMMAND_LONG, asks.SET_INTERVAL, 27.0) is not None  # RAW_IMU: no units
    assert sample_of(27, {"xacc": 1}) is None


@given(st.permutations(range(40)), st.lists(st.integers(0, 39), max_size=10))
def test_a_recording_is_in_order_whatever_the_link_did(order, again):
    """Doubled and late frames: each moment once, ascending, none invented."""
    recorder = Recorder(30)
    for n in [*order, *again]:
        recorder.take(Sample(30, 1.0 + n / 100, {"attitude.roll": float(n)}), 0.0)
    made = recorder.made()
    assert made.values["attitude.roll"].tolist() == list(range(40))
    assert np.all(np.diff(made.time) > 0)
    assert made.doubled == len(again)
    assert made.lost == 0
    assert made.rate == pytest.approx(100.0)


def test_a_column_told_more_seldom_is_not_lost_with_the_others():
    recorder = Recorder(105)
    for n in range(100):
        if n % 7:
            mag = {"mag.x": float(n)} if n % 4 == 1 else {}
            recorder.take(Sample(105, n / 100, {"accel.x": 1.0, **mag}), 0.0)
    made = recorder.made().filled()
    inside = (made.time > 0.02) & (made.time < 0.9)
    np.testing.assert_allclose(made.values["mag.x"][inside], 100 * made.time[inside], atol=1e-6)
    assert np.isnan(recorder.made().values["mag.x"]).any()


def test_a_clock_that_goes_back_is_a_restart():
    recorder = Recorder(30)
    recorder.take(Sample(30, 50.0, {"attitude.roll": 0.0}), 0.0)
    with pytest.raises(RestartedError):
        recorder.take(Sample(30, 1.0, {"attitude.roll": 0.0}), 0.0)


def test_a_log_of_a_recording_names_its_units():
    recorder = Recorder(26)
    for n in range(3):
        recorder.take(sample_of(26, _fields(n)), 0.0)
    text = recorder.made().log().decode().splitlines()
    assert text[0] == "# recorded over MAVLink, message 26"
    assert text[1].startswith("time (s),accel x (m/s2),accel y (m/s2),accel z (m/s2),gyro roll (rad/s)")
    assert text[2].startswith("0.000000,")
    assert len(text) == 5


def _fields(n: int) -> dict[str, int]:
    made = dict.fromkeys(("xacc", "yacc", "zacc", "xgyro", "ygyro", "zgyro", "xmag", "ymag", "zmag"), 1)
    return made | {"time_boot_ms": 10 * n, "temperature": 0}


@pytest.mark.slow
def test_broken_samples_are_never_taken_for_true_ones():
    """Frames with spoilt bytes, cut, or made up: no traceback, and every sample that is taken was sent."""
    numbers = random.Random(20261127)
    telemetry = telemetry_of("leans")
    for message in SENSORS:
        telemetry.ask(message, 20_000.0, 0.0)
    packer = common.MAVLink(None, 1, 1)
    frames = [bytes(one.pack(packer)) for one in telemetry.due(1.0)]
    link = MavLink(Line())
    true = [read for frame in frames for _, read in link._read(frame)]
    assert len(true) == len(frames) > 200
    taken = 0
    for _ in range(int(os.environ.get("ASFLOWN_FUZZ_FRAMES", "20000"))):
        frame = bytearray(numbers.choice(frames))
        for _ in range(numbers.choice((1, 1, 2, 5))):
            what = numbers.random()
            if what < 0.6:
                frame[numbers.randrange(len(frame))] = numbers.randrange(256)
            elif what < 0.8:
                del frame[numbers.randrange(len(frame)) :]
                break
            else:
                place = numbers.randrange(len(frame))
                frame[place:place] = numbers.randbytes(3)
        for _, read in link._read(bytes(frame)):
            if isinstance(read, Sample):
                taken += 1
                assert read in true
    assert taken > 0  # a byte replaced by itself leaves a frame whole


@given(st.binary(max_size=300))
def test_any_bytes_at_all_are_read_without_a_fault(data):
    list(MavLink(Line())._read(data))
    list(MavLink(Line())._read(b"\\xfd" + data))


@given(st.sets(st.integers(1, 398), max_size=120))
def test_lost_samples_are_filled_in_and_wide_gaps_are_not(lost):
    recorder = Recorder(30)
    for n in range(400):
        if n not in lost and not 200 <= n < 240:
            recorder.take(Sample(30, n / 100, {"attitude.roll": float(n)}), 0.0)
    made = recorder.made().filled()
    # a straight line is filled in as it was
    np.testing.assert_allclose(made.values["attitude.roll"], 100 * made.time, atol=1e-6)
    assert np.all(np.diff(made.time) > 0)
    inside = (made.time > 2.01) & (made.time < 2.38)
    assert not inside.any()
    longest = max(len(run) for run in "".join("x" if n in lost else " " for n in range(200)).split(" "))
    if longest < 24:
        assert np.sum(made.time < 1.9) == 190
