"""A calibration written into the aircraft's settings over a link, by command: what is refused, what is held."""

from __future__ import annotations

import zipfile

import pytest

from asflown.demo.dune import firmware
from asflown.demo.dune.firmware import NEW, OLD
from asflown.faces.wiring import workplace

OFF = ("--propellers-off", "--pack-unplugged")


@pytest.fixture
def aircraft(desk):
    """An aircraft at its factory values but for how its board sits: nothing is corrected yet."""
    for path, data in (
        (f"{OLD}/release.toml", firmware.release_toml(OLD)),
        (f"{OLD}/overlay.toml", firmware.overlay(OLD)),
        ("bird.params", firmware.parameters(OLD, {"BOARD_YAW": 90})),
        ("bird.json", firmware.description(OLD)),
    ):
        desk.write(path, data.decode())
    desk.link = f"simulated:mavlink:{desk.folder / 'bird.params'}"
    desk("release", "add", str(desk.folder / OLD), "--link", desk.link)
    desk("aircraft", "new", "dunlin", "--set", "title=Dunlin", f"release={OLD}")
    return desk


def taken(desk, scene="sides", what="accelerometer", *more) -> str:
    body = desk("calibrate", what, "--link", f"{desk.link},{scene}", *more, "--as-found", "--json").json
    return body["kept"]


def test_written_stored_and_held(aircraft):
    first = taken(aircraft)
    body = aircraft("calibrate", "write", first, "--link", aircraft.link, *OFF, "--json").json
    assert body["held"]
    assert [one["name"] for one in body["settings"]][:2] == ["ACCEL_OFF_X", "ACCEL_SIZE_X"]
    assert body["settings"][0]["after"] == pytest.approx(0.18, abs=0.003)
    assert "ACCEL_OFF_X,real32,0.1" in (aircraft.folder / "bird.params").read_text()
    sheet = aircraft("calibrate", "accelerometer", "--link", f"{aircraft.link},sides", "--as-left").out
    assert "As found and as left" in sheet
    book = [entry["says"] for entry in aircraft("logbook", "dunlin", "--json").json["entries"]]
    assert any("accelerometer written; 6 settings written over simulated:mavlink" in one for one in book)


def test_what_was_recorded_is_kept_and_handed_over(aircraft):
    body = aircraft("calibrate", "level", "--link", f"{aircraft.link},half-turn", "--as-found", "--json").json
    (sha,) = body["originals"]
    assert body["samples"][0]["sha256"] == sha
    kept = workplace(aircraft.store).store.original(sha)
    assert kept.startswith(b"# recorded over MAVLink, message 105")
    again = aircraft.write("again.csv", kept)
    named = [f"accel.{a}=accel {a}" for a in "xyz"] + [f"rate.{a}=gyro {a}" for a in ("roll", "pitch", "yaw")]
    same = aircraft("calibrate", "level", again, "--assume", *named, "--json").json
    assert same["results"] == body["results"]
    aircraft("handover", "dunlin", "--out", str(aircraft.folder / "dunlin.zip"))
    with zipfile.ZipFile(aircraft.folder / "dunlin.zip") as packed:
        assert any(name.endswith(f"originals/{sha}") for name in packed.namelist())
    aircraft("verify")


def test_what_is_stored_already_has_to_be_accounted_for(aircraft):
    aircraft("calibrate", "write", taken(aircraft), "--link", aircraft.link, *OFF)
    second = taken(aircraft)
    err = aircraft("calibrate", "write", second, "--link", aircraft.link, *OFF, code=2).err
    assert "were the samples taken through it?" in err
    body = aircraft(
        "calibrate", "write", second, "--link", aircraft.link, "--samples", "corrected", *OFF, "--json"
    ).json
    # through the stored correction there is next to nothing left: the sum stays what it was
    assert body["settings"][0]["after"] == pytest.approx(0.18, abs=0.005)
    raw = aircraft(
        "calibrate", "write", second, "--link", aircraft.link, "--samples", "raw", *OFF, "--json"
    ).json
    assert abs(raw["settings"][0]["after"]) < 0.01


def test_propellers_and_pack_come_first(aircraft):
    before = (aircraft.folder / "bird.params").read_bytes()
    err = aircraft("calibrate", "write", taken(aircraft), "--link", aircraft.link, code=2).err
    assert "propellers off, pack unplugged" in err
    assert (aircraft.folder / "bird.params").read_bytes() == before


def test_what_is_not_fit_is_not_written(aircraft):
    short = aircraft(
        "calibrate", "gyro", "--link", aircraft.link, "--seconds", "6", "--as-found", "--json", code=3
    ).json["kept"]
    assert (
        "not fit for use" in aircraft("calibrate", "write", short, "--link", aircraft.link, *OFF, code=2).err
    )
    receiver = taken(aircraft, "sticks", "receiver")
    err = aircraft("calibrate", "write", receiver, "--link", aircraft.link, *OFF, code=1).err
    assert "does not say which settings hold the receiver's calibration" in err


def test_a_release_that_does_not_say_where(aircraft):
    plain = "\n".join(
        line for line in firmware.overlay(OLD).decode().splitlines() if not line.startswith("role")
    )
    first = taken(aircraft)
    aircraft.write(f"{OLD}/overlay.toml", plain)
    aircraft("release", "add", str(aircraft.folder / OLD), "--link", aircraft.link)
    err = aircraft("calibrate", "write", first, "--link", aircraft.link, *OFF, code=1).err
    assert 'role = "calibration.accelerometer.offset.x"' in err


def test_another_firmware_on_the_link(aircraft):
    first = taken(aircraft)
    aircraft.write("other.params", "name,type,value\nLAMP,uint8,1\n")
    err = aircraft(
        "calibrate",
        "write",
        first,
        "--link",
        f"simulated:mavlink:{aircraft.folder / 'other.params'}",
        *OFF,
        code=2,
    ).err
    assert f"the aircraft has no ACCEL_OFF_X, which {OLD} has" in err


def test_nothing_is_written_beyond_what_a_setting_takes(aircraft):
    meter = aircraft(
        "calibrate", "meter", "voltage", "5=14", "6=16.8", "7=19.6", "--as-found", "--json"
    ).json["kept"]
    before = (aircraft.folder / "bird.params").read_bytes()
    err = aircraft("calibrate", "write", meter, "--link", aircraft.link, *OFF, code=2).err
    assert "VOLT_SIZE would be 2.8, beyond its 2" in err
    assert (aircraft.folder / "bird.params").read_bytes() == before


def test_the_new_release_knows_the_same(aircraft):
    assert {one.role for one in firmware.items(NEW)} >= {
        one.role for one in firmware.items(OLD) if one.role.startswith("calibration.")
    }
