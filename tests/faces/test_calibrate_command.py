"""``asflown calibrate meter``: readings in, scale and offset with intervals out, kept as found and as left."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress, t

FOUND = ((14.02, 14.15), (15.31, 15.44), (16.64, 16.79), (15.90, 16.03))


def words(pairs) -> list[str]:
    return [f"{a}={b}" for a, b in pairs]


def test_the_line_is_scipys(desk):
    desk.releases()
    desk.plover()
    body = desk("calibrate", "meter", "voltage", *words(FOUND), "--json").json
    shown, true = np.array(FOUND).T
    theirs = linregress(shown, true)
    half = t.ppf(0.975, 2) * theirs.stderr
    scale = body["results"]["scale"]
    assert scale["value"] == pytest.approx(theirs.slope, rel=1e-9)
    assert (scale["low"], scale["high"]) == pytest.approx(
        (theirs.slope - half, theirs.slope + half), rel=1e-9
    )
    assert body["results"]["offset"]["value"] == pytest.approx(theirs.intercept, rel=1e-6)
    assert body["kept"] is None
    assert "calibration" not in desk("logbook", "plover", "--json").out


def test_as_found_and_as_left_stand_beside_each_other(desk):
    desk.releases()
    desk.plover()
    desk("calibrate", "meter", "voltage", *words(FOUND), "--as-found")
    left = [(b + 0.01, b) for _, b in FOUND[:2]] + [(b - 0.01, b) for _, b in FOUND[2:]]
    ran = desk("calibrate", "meter", "voltage", *words(left), "--as-left")
    assert "As found and as left" in ran.out
    assert "plover-cal2, as left" in ran.out
    assert "it may stay as it is" in ran.out
    book = desk("logbook", "plover").out
    assert "voltage as found" in book
    assert "voltage as left" in book
    assert desk("verify").code == 0


def test_too_few_readings_are_no_calibration(desk):
    desk.releases()
    desk.plover()
    two = words(FOUND[:2])
    assert "take a third" in desk("calibrate", "meter", "voltage", *two, code=3).out
    assert desk("calibrate", "meter", "voltage", "12.0=12.1", "16.0=16.3", "--error", "0.01").code == 0
    close = ("15.0=15.1", "15.1=15.3", "15.2=15.2")
    assert "take more readings, with care" in desk("calibrate", "meter", "voltage", *close, code=3).out
    assert "two readings or more" in desk("calibrate", "meter", "voltage", "15=15", code=1).err
    assert "is no reading" in desk("calibrate", "meter", "voltage", "15", "16=16", code=1).err
    assert (
        "either as found or as left"
        in desk("calibrate", "meter", "current", *two, "--as-found", "--as-left", code=1).err
    )
    assert "above 0" in desk("calibrate", "meter", "current", *two, "--error", "0", code=1).err
