"""What the settings that store a calibration must hold, so that the readings are right.

A calibration was taken through what was stored then; both are put together: where the stored correction is
``corrected = (raw - offset) / scale`` and the calibration says ``corrected = s × true + o``, then
``raw = (scale s) × true + (scale o + offset)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from asflown.core.calibrate.kept import Calibration


@dataclass(frozen=True, slots=True)
class Wanted:
    """One number to be stored.

    Attributes
    ----------
    role
        Of the setting that holds it.
    value
        In ``unit``; SI or the calibration's own.
    """

    role: str
    value: float
    unit: str


def is_neutral(role: str, value: float) -> bool:
    """Whether a stored number corrects nothing."""
    part = role.split(".")[2] if role.count(".") >= 2 else ""
    return value == (1.0 if part == "scale" else 0.0)


def roles_of(made: Calibration) -> tuple[str, ...]:
    """The roles of the settings that can hold a calibration."""
    what = made.what
    if what == "accelerometer":
        return tuple(
            f"calibration.accelerometer.{part}.{axis}" for part in ("offset", "scale") for axis in "xyz"
        )
    if what == "magnetometer":
        return tuple(f"calibration.magnetometer.offset.{axis}" for axis in "xyz")
    if what == "level":
        return ("calibration.level.roll", "calibration.level.pitch")
    if what == "gyro":
        return tuple(f"calibration.gyro.bias.{axis}" for axis in ("roll", "pitch", "yaw"))
    if what in ("voltage", "current"):
        return (f"calibration.{what}.scale", f"calibration.{what}.offset")
    return ()


def wanted(made: Calibration, stored: Mapping[str, float]) -> tuple[Wanted, ...]:
    """What to store for a calibration, on top of what was stored when it was taken.

    Parameters
    ----------
    stored
        By role, in the unit of the calibration: numbers the aircraft has a setting for. A role that is not in
        it has none.

    Raises
    ------
    ValueError
        When the aircraft has no setting for any of it, or the calibration has no numbers.
    """
    if not stored:
        raise ValueError(f"no setting of this release is said to hold the {made.what}'s calibration")
    if made.what == "accelerometer":
        return tuple(_accelerometer(made, stored))
    if made.what == "magnetometer":
        return tuple(
            Wanted(role, held + _value(made, f"hard iron {role[-1]}"), made.unit)
            for role, held in stored.items()
        )
    if made.what == "level":
        # a level trim turns the attitude, not the readings it is measured by
        return tuple(Wanted(role, _value(made, f"{role.rpartition('.')[2]} trim"), "deg") for role in stored)
    if made.what == "gyro":
        return tuple(
            Wanted(role, held + _value(made, f"bias {role.rpartition('.')[2]}"), "deg/s")
            for role, held in stored.items()
        )
    return tuple(_meter(made, stored))


def _accelerometer(made: Calibration, stored: Mapping[str, float]) -> list[Wanted]:
    found = []
    for axis in "xyz":
        offset, scale = (f"calibration.accelerometer.{part}.{axis}" for part in ("offset", "scale"))
        before = stored.get(scale, 1.0)
        if offset in stored:
            total = before * _value(made, f"offset {axis}") + stored[offset]
            found.append(Wanted(offset, total, "m/s2"))
        if scale in stored:
            found.append(Wanted(scale, before * _value(made, f"scale {axis}"), "1"))
    return found


def _meter(made: Calibration, stored: Mapping[str, float]) -> list[Wanted]:
    """Shown = scale × raw + offset; the meter says true = a × shown + b."""
    scale, offset = f"calibration.{made.what}.scale", f"calibration.{made.what}.offset"
    if offset not in stored:
        return [Wanted(scale, stored[scale] * _value(made, "scale alone"), "1")]
    a, b = _value(made, "scale"), _value(made, "offset")
    found = [Wanted(offset, a * stored[offset] + b, made.unit)]
    if scale in stored:
        found.append(Wanted(scale, a * stored[scale], "1"))
    return found


def _value(made: Calibration, name: str) -> float:
    one = made.results.get(name)
    if one is None or one.value is None:
        raise ValueError(f"{made.id} has no number for {name}: {one.reason if one else 'it is another kind'}")
    return one.value
