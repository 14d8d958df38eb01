"""What is stored for a calibration, held against what it does to readings: corrected twice over is corrected."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.calibrate.kept import Calibration, When
from asflown.core.calibrate.stored import is_neutral, roles_of, wanted
from asflown.core.measured import Measured, unmeasured


def kept(what: str, unit: str, **results: float) -> Calibration:
    made = {name.replace("_", " "): Measured(v, v, v) for name, v in results.items()}
    return Calibration("a-cal1", "a", what, When.AS_FOUND, "", unit, (), made, True, "")


SMALL = st.floats(-0.5, 0.5)
NEAR = st.floats(0.9, 1.1)


@given(SMALL, NEAR, SMALL, NEAR, st.floats(-10, 10))
def test_an_accelerometer_corrected_twice_over_reads_true(offset, scale, stored_offset, stored_scale, true):
    """Raw through the stored correction, as the calibration saw it; then through what is to be stored."""
    corrected = scale * true + offset
    raw = stored_scale * corrected + stored_offset
    made = kept(
        "accelerometer",
        "m/s2",
        **{f"offset_{a}": offset for a in "xyz"},
        **{f"scale_{a}": scale for a in "xyz"},
    )
    held = {role: stored_scale if ".scale" in role else stored_offset for role in roles_of(made)}
    found = {one.role: one.value for one in wanted(made, held)}
    again = (raw - found["calibration.accelerometer.offset.y"]) / found["calibration.accelerometer.scale.y"]
    assert again == pytest.approx(true, abs=1e-9)


@given(NEAR, SMALL, NEAR, SMALL, st.floats(6, 26))
def test_a_voltage_shown_through_both_is_the_meters(a, b, stored_scale, stored_offset, raw):
    shown = stored_scale * raw + stored_offset
    made = kept("voltage", "V", scale=a, offset=b, scale_alone=a)
    held = {"calibration.voltage.scale": stored_scale, "calibration.voltage.offset": stored_offset}
    found = {one.role.rpartition(".")[2]: one.value for one in wanted(made, held)}
    assert found["scale"] * raw + found["offset"] == pytest.approx(a * shown + b, rel=1e-9)
    (alone,) = wanted(made, {"calibration.voltage.scale": stored_scale})
    assert alone.value == pytest.approx(stored_scale * a)


def test_hard_iron_adds_up_and_level_replaces():
    iron = kept("magnetometer", "uT", hard_iron_x=1.0, hard_iron_y=2.0, hard_iron_z=3.0)
    found = wanted(iron, dict.fromkeys(roles_of(iron), 10.0))
    assert [one.value for one in found] == [11.0, 12.0, 13.0]
    level = kept("level", "deg", roll_trim=0.5, pitch_trim=-0.25)
    assert [one.value for one in wanted(level, dict.fromkeys(roles_of(level), 7.0))] == [0.5, -0.25]
    gyro = kept("gyro", "deg/s", bias_roll=0.5, bias_pitch=0.1, bias_yaw=0.0)
    assert wanted(gyro, {"calibration.gyro.bias.pitch": 0.2})[0].value == pytest.approx(0.3)


def test_what_is_not_there_is_said():
    with pytest.raises(ValueError, match="no setting"):
        wanted(kept("level", "deg"), {})
    bare = Calibration(
        "b", "a", "gyro", When.AS_FOUND, "", "deg/s", (), {"bias roll": unmeasured("short")}, True, ""
    )
    with pytest.raises(ValueError, match="short"):
        wanted(bare, {"calibration.gyro.bias.roll": 0.0})
    assert roles_of(kept("receiver", "counts")) == ()
    assert np.all(
        [is_neutral("calibration.accelerometer.scale.x", 1.0), is_neutral("calibration.level.roll", 0.0)]
    )
    assert not is_neutral("calibration.accelerometer.scale.x", 0.0)
