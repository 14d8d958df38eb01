"""The calibrations from logs, by command: sheets, JSON, exit codes, kept and shown again."""

from __future__ import annotations

import json

import numpy as np
import pytest

from asflown.app.calibrate.kept import KIND, calibrations
from asflown.core.calibrate.kept import When
from asflown.faces.wiring import workplace

G = 9.80665
UPS = ((0, 0, -1), (0, 0, 1), (0, 1, 0), (0, -1, 0), (-1, 0, 0), (1, 0, 0))


def written(desk, name: str, **columns) -> str:
    names = list(columns)
    rows = np.column_stack([columns[one] for one in names])
    lines = [",".join(one.replace("__", " ") for one in names)]
    lines += [",".join(f"{value:.6g}" for value in row) for row in rows]
    return desk.write(name, "\n".join(lines) + "\n")


def log(desk, name: str, accel: np.ndarray, rates: np.ndarray, rate: float = 100.0, **more) -> str:
    columns = {"time_s": np.arange(accel.shape[1]) / rate}
    columns |= {f"gyro_{a}_dps": np.degrees(row) for a, row in zip("xyz", rates, strict=True)}
    columns |= {f"acc_{a}_mps2": row for a, row in zip("xyz", accel, strict=True)}
    return written(desk, name, **columns, **more)


def lain(ups, offset=(0.2, -0.1, 0.3), scale=(1.01, 0.99, 1.02), seconds=8.0, seed=0):
    """On each side in turn, moved in between."""
    numbers = np.random.default_rng(seed)
    still, moved = int(100 * seconds), 150
    accel, rates = [], []
    for up in ups:
        unit = np.array(up, dtype=float) / np.linalg.norm(up)
        level = (np.array(scale) * G * unit + offset)[:, None]
        accel += [
            level + 0.02 * numbers.standard_normal((3, still)),
            level + 2 * numbers.standard_normal((3, moved)),
        ]
        rates += [0.002 * numbers.standard_normal((3, still)), numbers.standard_normal((3, moved))]
    return np.hstack(accel), np.hstack(rates)


@pytest.fixture
def bench(desk):
    desk.releases()
    desk.plover()
    return desk


def test_six_sides_by_hand(bench):
    place = log(bench, "sides.csv", *lain(UPS))
    body = bench("calibrate", "accelerometer", place, "--json").json
    for axis, offset, scale in zip("xyz", (0.2, -0.1, 0.3), (1.01, 0.99, 1.02), strict=True):
        one, two = body["results"][f"offset {axis}"], body["results"][f"scale {axis}"]
        assert one["low"] <= offset <= one["high"]
        assert one["unit"] == "m/s2"
        assert two["low"] <= scale <= two["high"]
        assert two["high"] - two["low"] > 0.006  # where it was is not stated
    assert body["fit_for_use"]
    assert body["kept"] is None
    near = bench("calibrate", "accelerometer", place, "--latitude", "45", "--json").json
    assert near["results"]["scale x"]["high"] - near["results"]["scale x"]["low"] < 0.002
    sheet = bench("calibrate", "accelerometer", place).out
    assert "true = (raw - offset) / scale" in sheet
    assert "What each error does to attitude" in sheet
    assert "fewer than nine positions" in sheet


def test_a_log_a_side_and_a_block(bench):
    places = [log(bench, f"side{n}.csv", *lain([up], seed=n)) for n, up in enumerate(UPS)]
    body = bench("calibrate", "accelerometer", *places, "--square", "0.1", "--json").json
    assert body["results"]["x reads of z"]["low"] <= 0 <= body["results"]["x reads of z"]["high"]
    assert len(body["samples"]) == 6
    assert "side5.csv" in bench("calibrate", "accelerometer", *places, "--square", "0.1").out
    assert "0.01 to 1 degree" in bench("calibrate", "accelerometer", *places, "--square", "9", code=1).err
    assert "latitude" in bench("calibrate", "accelerometer", *places, "--latitude", "99", code=1).err


def test_the_guide_says_which_side_comes_next(bench):
    place = log(bench, "some.csv", *lain(UPS[:3], seconds=7))
    said = bench("calibrate", "accelerometer", place, "--guide", code=3).out
    assert "next: lay it right side down (on its right side) and keep it still" in said
    assert bench("calibrate", "accelerometer", place, code=3).out == said
    body = bench("calibrate", "accelerometer", place, "--guide", "--json", code=3).json
    assert body["missing"] == ["right side down", "nose down", "tail down"]
    assert [one["side"] for one in body["positions"]] == ["belly down", "back down", "left side down"]
    whole = log(bench, "whole.csv", *lain(UPS))
    assert "half-way between belly down and left side down" in bench(
        "calibrate", "accelerometer", whole, "--guide"
    ).out.replace("\n      ", " ")


def test_nine_positions_give_the_skew(bench):
    between = ((0, 1, -1), (-1, 0, -1), (-1, 1, 0))
    body = bench("calibrate", "accelerometer", log(bench, "nine.csv", *lain(UPS + between)), "--json").json
    for name in ("xy", "xz", "yz"):
        one = body["results"][f"skew {name}"]
        assert one["low"] <= 0 <= one["high"]
        assert one["high"] - one["low"] < 0.5


def test_level_by_a_half_turn(bench):
    places = []
    for n, slope in enumerate((1.0, -1.0)):
        roll, pitch = np.radians(0.6), np.radians(-0.4 + slope)
        up = (np.sin(pitch), -np.cos(pitch) * np.sin(roll), -np.cos(pitch) * np.cos(roll))
        places.append(log(bench, f"way{n}.csv", *lain([up], (0, 0, 0), (1, 1, 1), 12, n)))
    body = bench("calibrate", "level", *places, "--json").json
    assert body["results"]["roll trim"]["value"] == pytest.approx(0.6, abs=0.03)
    assert body["results"]["pitch trim"]["value"] == pytest.approx(-0.4, abs=0.03)
    assert "slopes by 1.00 degrees" in bench("calibrate", "level", *places).out
    on_back = log(bench, "back.csv", *lain([(0, 0, 1)]))
    assert "not forward, right, down" in bench("calibrate", "level", on_back, on_back, code=1).err


def test_gyro_bias_noise_and_temperature(bench):
    numbers = np.random.default_rng(3)
    count = 62_000
    warm = 20 + 10 * np.linspace(0, 1, count)
    rates = np.radians(
        np.array([[0.5], [-0.2], [0.1]]) + 0.02 * (warm - 25)
    ) + 0.002 * numbers.standard_normal((3, count))
    accel = np.array([[0.0], [0.0], [-G]]) + 0.02 * numbers.standard_normal((3, count))
    place = log(bench, "long.csv", accel, rates, gyro_temperature_degC=warm)
    body = bench("calibrate", "gyro", place, "--accept-proposed", "--json").json
    found = body["results"]
    # N = standard deviation / sqrt(rate) (IEEE Std 952, from memory)
    assert found["noise roll"]["value"] == pytest.approx(np.degrees(0.002 / 10), rel=0.05)
    assert found["bias with temperature pitch"]["value"] == pytest.approx(0.02, rel=0.05)
    assert found["bias roll"]["value"] == pytest.approx(0.5, abs=0.02)
    assert "Overlapping Allan deviation" in [one["title"] for one in body["tables"]]
    short = log(bench, "short.csv", accel[:, :1500], rates[:, :1500])
    sheet = bench("calibrate", "gyro", short).out
    assert "no column of this log is" in sheet
    assert "15 s at rest are too" in sheet
    # the same number from a spectrum, where the log is too short for an Allan deviation
    brief = bench("calibrate", "gyro", short, "--json").json["results"]["noise roll"]
    assert brief["low"] <= np.degrees(0.002 / 10) <= brief["high"]
    shaken = log(bench, "shaken.csv", accel[:, :1500], rates[:, :1500] + numbers.standard_normal((3, 1500)))
    assert "never lay still" in bench("calibrate", "gyro", shaken, code=1).err
    assert "no column of numbers" in bench("calibrate", "gyro", short, "--temperature", "warm", code=1).err


def field(count=3000, low=-1.0, seed=5):
    unit = np.random.default_rng(seed).standard_normal((count, 3))
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    return (unit[unit[:, 2] > low] * [46, 50, 48] + [20, -10, 5]).T


def test_magnetometer_all_round_and_half_round(bench):
    def place(name, rows):
        named = {f"mag_{a}_uT": row for a, row in zip("xyz", rows, strict=True)}
        return written(bench, name, time_s=np.arange(rows.shape[1]) / 50, **named)

    body = bench("calibrate", "magnetometer", place("round.csv", field()), "--json").json
    assert [body["results"][f"hard iron {a}"]["value"] for a in "xyz"] == pytest.approx(
        [20, -10, 5], abs=0.01
    )
    assert body["results"]["field"]["value"] == pytest.approx((46 * 50 * 48) ** (1 / 3), abs=0.01)
    assert body["unit"] == "uT"
    half = place("half.csv", field(low=0.0))
    said = bench("calibrate", "magnetometer", half, code=3).out
    assert "50 % of the directions seen, 60 % are wanted" in said
    assert "until the back points to the ground" in said.replace("\n      ", " ")
    lying = place("lying.csv", np.tile([[20.0], [1.0], [40.0]], 500))
    assert "lie on one plane" in bench("calibrate", "magnetometer", lying, code=1).err
    none = written(bench, "none.csv", time_s=np.arange(400) / 50, height_m=np.arange(400.0))
    assert "--field X_COLUMN" in bench("calibrate", "magnetometer", none, code=1).err


def test_a_real_hand_held_log_has_not_seen_enough(bench, shared):
    """xioTechnologies Fusion example (MIT): turned in the hand, never upside down."""
    place = str(shared / "data" / "imu_handheld" / "session.parquet")
    said = bench("calibrate", "magnetometer", place, code=3).out
    assert "27 % of the directions seen" in said
    assert "Fit for use" in bench("calibrate", "gyro", place).out


def test_receiver_channels(bench):
    numbers = np.random.default_rng(1)
    one = np.concatenate(
        [np.full(300, 1500.0), 1500 + 500 * np.sin(np.linspace(0, 6.28, 400)), np.full(300, 1500.0)]
    )
    rows = {f"ch{n}": np.tile(one, 3) + 0.8 * numbers.standard_normal(3000) for n in range(1, 5)}
    rows["ch5"] = np.full(3000, 988.0)
    time = np.arange(3000) / 50
    body = bench("calibrate", "receiver", written(bench, "rc.csv", time_s=time, **rows), "--json").json
    assert body["fit_for_use"]
    assert body["results"]["ch2 jitter"]["low"] <= 0.8 <= body["results"]["ch2 jitter"]["high"]
    rows["ch3"] = np.full(3000, 1500.0)
    rows["ch1"] = rows["ch1"] * 0.5
    rows["ch2"] = rows["ch2"] + np.where(time % 1 < 0.5, 40, 0)
    said = bench("calibrate", "receiver", written(bench, "bad.csv", time_s=time, **rows), code=3).out
    assert "ch3 is dead" in said
    assert "ch1 goes" in said
    none = written(bench, "none.csv", time_s=time, height_m=time)
    assert "--channels" in bench("calibrate", "receiver", none, code=1).err


def test_kept_listed_and_shown_again(bench):
    found = log(bench, "found.csv", *lain(UPS))
    left = log(bench, "left.csv", *lain(UPS, (0, 0, 0), (1, 1, 1), seed=4))
    assert "No calibration is kept" in bench("calibrate", "list").out
    bench("calibrate", "accelerometer", found, "--as-found")
    ran = bench("calibrate", "accelerometer", left, "--as-left").out
    assert "As found and as left" in ran
    bench("calibrate", "meter", "voltage", "14.02=14.15", "15.31=15.44", "16.64=16.79", "--as-found")
    listed = bench("calibrate", "list", "plover").out
    assert "plover-cal1" in listed
    body = bench("calibrate", "list", "--json").json
    assert body["pairs"][0] == {"what": "accelerometer", "as_found": "plover-cal1", "as_left": "plover-cal2"}
    shown = bench("calibrate", "show", "plover-cal2").out
    assert "As found and as left" in shown
    assert bench("calibrate", "show", "plover-cal1", "--json").json["beside"] == "plover-cal2"
    assert "no calibration 'x' is kept" in bench("calibrate", "show", "x", code=1).err
    assert "accelerometer as found" in bench("logbook", "plover").out
    assert bench("verify").code == 0
    assert (
        "either as found or as left"
        in bench("calibrate", "gyro", found, "--as-found", "--as-left", code=1).err
    )
    pytest.importorskip("weasyprint")
    bench("calibrate", "show", "plover-cal1", "--pdf", str(bench.folder / "cal.pdf"))
    assert (bench.folder / "cal.pdf").read_bytes()[:5] == b"%PDF-"


#: A meter calibration as it was kept before there were others.
OLD = {
    "asflown": "calibration",
    "version": 1,
    "body": {
        "aircraft": "plover",
        "at": "2026-11-01T10:00:00+00:00",
        "id": "plover-cal1",
        "is_fit": True,
        "readings": [[14.02, 14.15], [16.64, 16.79]],
        "remarks": [],
        "results": {
            name: {
                "caveats": [], "high": 1.02, "low": 1.0, "reason": None,
                "route": "scatter of the readings", "unit": "1", "value": 1.01,
            }
            for name in ("scale", "offset", "scale alone")
        },
        "unit": "V",
        "what": "voltage",
        "when": "as found",
        "why": "the display is 0.8 % off at 16.79: correct it",
    },
}  # fmt: skip


def test_a_meter_calibration_of_the_old_shape_still_loads(bench):
    work = workplace(bench.store, "ines")
    with work.store.transaction() as tx:
        tx.put(KIND, "plover-cal1", json.dumps(OLD).encode(), expect=0)
    (made,) = calibrations(work.store, "plover")
    assert made.when is When.AS_FOUND
    assert made.readings == ((14.02, 14.15), (16.64, 16.79))
    assert made.method == ""
    shown = bench("calibrate", "show", "plover-cal1").out
    assert "a straight line through the readings" in shown
    assert "2 readings" in shown
    bench(
        "calibrate",
        "meter",
        "voltage",
        "14.02=14.03",
        "15.31=15.32",
        "16.64=16.65",
        "15.9=15.911",
        "--as-left",
    )
    assert "plover-cal2" in bench("calibrate", "list").out
