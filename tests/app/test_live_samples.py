"""Samples over links that lose, double, reorder and spoil frames; calibrations from them; armed aircraft refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from mavlink_world import World
from pymavlink.dialects.v20 import common
from small_world import world as world_of_wren

from asflown.adapters.log_file import LogBytes
from asflown.app.calibrate.accelerometer import calibrate_accelerometer, placed
from asflown.app.calibrate.guides import FieldGuide, LevelGuide, SidesGuide
from asflown.app.calibrate.level import calibrate_level
from asflown.app.calibrate.live import Asked, recorded
from asflown.app.calibrate.logs import motion
from asflown.app.calibrate.magnetometer import calibrate_magnetometer
from asflown.app.flights.open_log import Said, open_log
from asflown.app.link.live import record
from asflown.app.link.over_mavlink import found_over, parameters
from asflown.app.link.talk import Talk
from asflown.app.take_record import Request
from asflown.app.views.mavlink_shown import found_over_json, found_over_sheet
from asflown.core.calibrate.gravity import Gravity
from asflown.demo.aircraft.hands import Hands, Pose, six_sides
from asflown.demo.aircraft.scenes import SCENES, telemetry_of
from asflown.demo.aircraft.telemetry import Telemetry
from asflown.demo.mavlink_aircraft import Server
from asflown.errors import DeviceError, NeedsPerson, UsageError
from asflown.faces.cli.console import sheet_text

PARAMETERS = {"IDLE_PART": (9, 0.0625)}
HARD = {"loss": 0.20, "corruption": 0.05, "doubling": 0.1, "reorder": 0.1, "latency": 0.01}


def world(telemetry: Telemetry, **spoils) -> World:
    return World(Server(PARAMETERS, telemetry=telemetry), **spoils)


@pytest.mark.parametrize("seed", range(3))
def test_no_value_is_invented_on_a_bad_link(seed):
    """Every sample that is kept is one the aircraft measured: read again without faults, moment by moment."""
    made = recorded(world(telemetry_of("leans"), seed=seed, **HARD), Asked("it", None, "attitude", 20.0))
    clean = recorded(world(telemetry_of("leans")), Asked("it", None, "attitude", 40.0))
    times, kept = made.recording.time, made.recording.values["attitude.roll"]
    assert times.size > 1000
    truth = np.interp(times, clean.recording.time, clean.recording.values["attitude.roll"])
    assert np.abs(kept - truth).max() < 0.002
    assert 0.1 < made.recording.lost / (made.recording.lost + made.recording.time.size) < 0.45


def test_the_interval_is_put_back():
    telemetry = telemetry_of("still")
    here = world(telemetry)
    with Talk(here, "it") as talk:
        talk.greet()
        record(talk, "accel", 3.0)
    assert set(telemetry._interval) == {1, 30}
    assert not here.server.forbidden


def test_the_next_message_is_tried_where_one_is_not_known():
    here = world(Telemetry(Hands(six_sides()), has_fine=False))
    made = recorded(here, Asked("it", None, "accel", 3.0))
    assert made.recording.message == 26
    assert made.recording.rate == pytest.approx(100, rel=0.02)


def test_what_is_never_told_is_said():
    with pytest.raises(DeviceError, match="none of the messages"):
        recorded(world(Telemetry(Hands(six_sides()), stale=True)), Asked("it", None, "accel", 3.0))
    with pytest.raises(DeviceError, match="none of the messages"):
        recorded(World(Server(PARAMETERS)), Asked("it", None, "attitude", 3.0))


def test_an_aircraft_whose_motors_are_armed_is_left_alone():
    with pytest.raises(NeedsPerson, match="armed"):
        recorded(world(telemetry_of("flies")), Asked("it", None, "rate", 30.0))


def test_a_person_is_led_over_all_sides():
    lines: list[str] = []
    here = world(telemetry_of("all-sides"), loss=0.05)
    guide = SidesGuide(lines.append, None, with_skew=True)
    made = recorded(here, Asked("it", None, "accel", 600.0), guide)
    assert lines[0].startswith("lay it belly down")
    assert lines[-1] == "enough"
    for side in ("belly down", "back down", "left side down", "right side down", "nose down", "tail down"):
        assert any(line.startswith(f"{side}: ") and line.endswith("enough") for line in lines), side
    assert sum("half-way" in line for line in lines) >= 2
    opened = open_log(LogBytes(made.name, made.data), Said(made.assume, is_at_rest=True))
    assert not opened.doubts
    fit = calibrate_accelerometer(placed([motion(opened)]), Gravity(9.80665, 0.0))
    sensors = here.server.telemetry.sensors
    for axis, offset in zip("xyz", sensors.accel_offset, strict=True):
        one = fit.results[f"offset {axis}"]
        assert one.value == pytest.approx(offset, abs=0.002)
    # skew: the cosine between two axes of the sensor, from its gain
    rows = sensors.accel_gain / np.linalg.norm(sensors.accel_gain, axis=1)[:, None]
    between = math.degrees(math.asin(rows[0] @ rows[1]))
    skew = fit.results["skew xy"]
    assert skew.low <= between <= skew.high
    assert skew.high - skew.low < 0.2


def test_every_scene_begins():
    for scene in SCENES:
        telemetry = telemetry_of(scene)
        telemetry.moved.to(1.0)
        assert np.linalg.norm(telemetry.moved.body.force) == pytest.approx(9.8, abs=1.5)
    with pytest.raises(UsageError, match="no scene"):
        telemetry_of("swims")


def test_a_link_that_falls_silent_is_said():
    here = world(telemetry_of("still"))

    def pull(recorder):
        here.server.telemetry._next.clear()
        return False

    with pytest.raises(DeviceError, match="nothing came for"):
        recorded(here, Asked("it", None, "accel", 60.0), pull)


def test_a_restart_in_between_is_said():
    here = world(telemetry_of("still"))

    def restart(recorder):
        telemetry = here.server.telemetry
        if recorder.seconds > 3.0:
            made = telemetry._made[105]
            telemetry._made[105] = lambda now: made(now - 3.0)
        return False

    with pytest.raises(DeviceError, match="restarted"):
        recorded(here, Asked("it", None, "accel", 60.0), restart)


class Crowd(Server):
    """An aircraft whose gimbal, another component of the same system, talks all the time."""

    spoke = -1.0

    def due(self, now: float) -> list[bytes]:
        if now - self.spoke < 0.05:
            return super().due(now)
        self.spoke = now
        gimbal = common.MAVLink(None, self.system, 154)
        others = (
            common.MAVLink_heartbeat_message(26, 0, 0, 0, 4, 3),
            common.MAVLink_attitude_message(round(1e3 * now), 1.5, 1.5, 1.5, 0, 0, 0),
            common.MAVLink_param_value_message(b"IDLE_PART", 0.9, 9, len(self.values), 0),
        )
        return [*(bytes(one.pack(gimbal)) for one in others), *super().due(now)]


def test_another_part_of_the_aircraft_is_not_taken_for_it():
    here = World(Crowd(PARAMETERS, telemetry=telemetry_of("level")), seed=2)
    made = recorded(here, Asked("it", None, "attitude", 3.0))
    assert np.abs(made.recording.values["attitude.roll"]).max() < 0.1
    with Talk(here, "it") as talk:
        aircraft = talk.greet()
        assert aircraft.heard.component == 1
        assert float(parameters(talk.read_all(), aircraft.encoding).values["IDLE_PART"]) == 0.0625


def test_what_the_aircraft_says_meanwhile_is_kept():
    server = Server(PARAMETERS, texts=[(4, "compass: no calibration"), (6, "ready")], runs="dune-1.4")
    made = world_of_wren()
    request = Request(data=b"", name="", aircraft="wren")
    found = found_over(made.work, request, World(server), "it")
    sheet = sheet_text(found_over_sheet(found))
    assert "software 1.4.0, release" in sheet
    assert "warning      compass: no calibration" in sheet
    body = found_over_json(found)["link"]
    assert body["texts"][1] == {"severity": 6, "text": "ready"}
    assert body["software"] == "1.4.0, release"


def test_a_person_is_led_to_half_a_turn():
    lines: list[str] = []
    slope = [Pose((0.7, 1.1, 0.0), 13.0), Pose((-1.1, 0.7, 90.0), 13.0), Pose((-0.7, -1.1, 180.0), 1e9)]
    here = world(Telemetry(Hands(tuple(slope), tremble=0.0)), loss=0.15)
    made = recorded(here, Asked("it", None, "accel", 120.0), LevelGuide(lines.append))
    assert lines[0].startswith("leave it level on the table")
    assert any(line.startswith("it was turned by 90 degrees") or "89 degrees" in line for line in lines)
    assert lines[-1] == "enough"
    opened = open_log(LogBytes(made.name, made.data), Said(made.assume, is_at_rest=True))
    found = calibrate_level(motion(opened))
    assert found.is_fit
    sensors = here.server.telemetry.sensors
    # what is left of the accelerometer's own offset is in the trim: asin(offset / g)
    lean = math.degrees(math.asin(-sensors.accel_offset[1] / 9.80665))
    assert found.results["roll trim"].value == pytest.approx(sensors.trim[0] + lean, abs=0.3)


def test_a_log_with_a_quarter_turn_alone_is_not_fit():
    slope = (Pose((0.7, 1.1, 0.0), 13.0), Pose((-1.1, 0.7, 90.0), 1e9))
    made = recorded(world(Telemetry(Hands(slope, tremble=0.0))), Asked("it", None, "accel", 28.0))
    opened = open_log(LogBytes(made.name, made.data), Said(made.assume, is_at_rest=True))
    found = calibrate_level(motion(opened))
    assert not found.is_fit
    assert "turned by 90 degrees in between, not by half a turn" in found.why


def test_a_person_is_led_round_every_direction():
    lines: list[str] = []
    here = world(telemetry_of("turned"), loss=0.05)
    made = recorded(here, Asked("it", None, "mag", 180.0, 50.0), FieldGuide(lines.append))
    assert lines[-1] == "enough"
    assert made.recording.time[-1] - made.recording.time[0] < 100
    seen = [int(line.split(" %")[0]) for line in lines if " % of the directions seen" in line]
    assert max(seen) >= 40
    opened = open_log(LogBytes(made.name, made.data), Said(made.assume, is_at_rest=True))
    found = calibrate_magnetometer(opened)
    assert found.is_fit
    for axis, iron in zip("xyz", here.server.telemetry.sensors.iron, strict=True):
        assert found.results[f"hard iron {axis}"].value == pytest.approx(iron, abs=0.2)
