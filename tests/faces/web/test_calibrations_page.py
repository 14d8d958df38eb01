"""Calibrations of an aircraft, as pages."""

from __future__ import annotations

import time

import pytest
from visitor import seen

READINGS = "14.02=14.15\n15.31=15.44\n16.64=16.79\n15.90=16.03"


def test_readings_are_kept_and_shown(small):
    aircraft = small.get("/").soup.select_one("a[href^='/aircraft/']")["href"].split("/")[2]
    page = small.get(f"/aircraft/{aircraft}/calibrations")
    assert page.title == "Calibrations"
    assert "No calibration is kept" in page.sentence
    assert "PROPELLERS OFF" in page.words
    made = small.send(page, "meter", readings=READINGS)
    assert made.path.partition("?")[0] == f"/calibration/{aircraft}-cal1"
    assert made.title == "Calibration of the voltage"
    assert "is kept" in made.done
    small.send(small.get(f"/aircraft/{aircraft}/calibrations"), "meter", readings=READINGS, when="as left")
    listed = small.get(f"/aircraft/{aircraft}/calibrations")
    assert f"/calibration/{aircraft}-cal2" in listed.links
    assert small.json(f"/aircraft/{aircraft}/calibrations.json")["pairs"][0]["as_left"] == f"{aircraft}-cal2"
    assert "As found and as left" in small.get(f"/calibration/{aircraft}-cal1").words
    assert f"/aircraft/{aircraft}/calibrations" in small.get(f"/aircraft/{aircraft}").links


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"readings": "14.02"}, "is no reading"),
        ({"readings": "14.02=14.1"}, "wo readings or more"),
        ({"readings": READINGS, "error": "x"}, "no error of a meter"),
    ],
)
def test_what_is_no_reading_is_said(small, fields, says):
    aircraft = small.get("/").soup.select_one("a[href^='/aircraft/']")["href"].split("/")[2]
    page = small.send(small.get(f"/aircraft/{aircraft}/calibrations"), "meter", status=400, **fields)
    assert says in page.words


def sides(folder) -> bytes:
    """Laid on its six sides, as the simulated aircraft tells it."""
    from asflown.app.calibrate.live import Asked, recorded
    from asflown.faces.wiring import links

    (folder / "bird.params").write_text("name,type,value\nLAMP,uint8,1\n")
    address = f"simulated:mavlink:{folder}/bird.params,sides"
    return recorded(links(), Asked(address, None, "accel", 84.0)).data


def finished(small, page):
    for _ in range(100):
        if "/work/" not in page.path or "not done" in page.title:
            return page
        time.sleep(0.1)
        answer = small.client.get(page.path)
        page = seen(answer, answer.status_code)
    raise AssertionError(page.words)


def test_a_log_is_computed_and_kept(small, tmp_path):
    aircraft = small.get("/").soup.select_one("a[href^='/aircraft/']")["href"].split("/")[2]
    page = small.get(f"/aircraft/{aircraft}/calibrations")
    log = {"log": ("sides.csv", sides(tmp_path), "text/csv")}
    made = finished(small, small.send(page, "log", files=log, latitude="45"))
    assert made.title == "Calibration of the accelerometer"
    body = small.json(made.path.partition("?")[0] + ".json")
    assert body["results"]["offset x"]["value"] == pytest.approx(0.18, abs=0.003)
    assert body["kept"]
    page = small.get(f"/aircraft/{aircraft}/calibrations")
    bad = {"log": ("x.csv", b"a,b\n1,2\n3,4\n", "text/csv")}
    answer = small.sent(page, "log", files=bad)
    failed = finished(small, seen(answer, answer.status_code))
    assert failed.title == "Calibration of the accelerometer: not done"
    assert "no column is known to be the time" in failed.sentence
