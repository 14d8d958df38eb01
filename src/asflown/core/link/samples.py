"""What an aircraft measures, as MAVLink's common messages carry it, in the canonical signals and SI units.

Source: MAVLink common message set (field units and the values that mean *unknown*, from memory; pymavlink's
own common dialect is the independent counterpart in the tests).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

#: m/s2 of a standard gravity (ISO 80000-3): the acceleration field counts thousandths of it.
GRAVITY = 9.80665
SYS_STATUS, SCALED_IMU, ATTITUDE, RC_CHANNELS, HIGHRES_IMU, BATTERY_STATUS = 1, 26, 30, 65, 105, 147
#: Messages whose interval may be asked for. Raw readings without units (RAW_IMU) are none of them.
SENSORS = (SYS_STATUS, SCALED_IMU, ATTITUDE, RC_CHANNELS, HIGHRES_IMU, BATTERY_STATUS)
_UNKNOWN_16, _CHANNELS = 65_535, 18
_XYZ = "xyz"
_RATES = ("roll", "pitch", "yaw")


@dataclass(frozen=True, slots=True)
class Sample:
    """One message.

    Attributes
    ----------
    message
        Its number.
    seconds
        Of the aircraft's own clock, ``None`` where the message has no time.
    values
        By signal, SI; what is unknown is not in it. ``mag.*`` in microtesla, ``channel.n`` in microseconds,
        ``sensor_temperature`` in degrees Celsius.
    """

    message: int
    seconds: float | None
    values: Mapping[str, float]


def sample_of(message: int, fields: Mapping[str, Any]) -> Sample | None:
    """A sample of a message's fields by their names; ``None`` for a message that is no sample.

    Examples
    --------
    >>> sample_of(30, {"time_boot_ms": 1500, "roll": 0.5, "pitch": 0.0, "yaw": 0.0, "rollspeed": 0.0,
    ...                "pitchspeed": 0.0, "yawspeed": 0.0}).values["attitude.roll"]
    0.5
    """
    read = _READ.get(message)
    if read is None:
        return None
    values = {name: float(value) for name, value in read(fields).items() if math.isfinite(value)}
    return Sample(message, _seconds(fields), values)


def _seconds(fields: Mapping[str, Any]) -> float | None:
    if "time_boot_ms" in fields:
        return float(fields["time_boot_ms"]) / 1e3
    if "time_usec" in fields:
        return float(fields["time_usec"]) / 1e6
    return None


def _status(fields: Mapping[str, Any]) -> dict[str, float]:
    made = {}
    if fields["voltage_battery"] not in (_UNKNOWN_16, 0):
        made["pack_voltage"] = fields["voltage_battery"] / 1e3
    if fields["current_battery"] != -1:
        made["pack_current"] = fields["current_battery"] / 1e2
    return made


def _pack(fields: Mapping[str, Any]) -> dict[str, float]:
    made: dict[str, float] = {}
    if fields["id"] != 0:  # another pack than the first
        return made
    cells = [cell for cell in fields["voltages"] if cell != _UNKNOWN_16]
    if cells:
        made["pack_voltage"] = sum(cells) / 1e3
    if fields["current_battery"] != -1:
        made["pack_current"] = fields["current_battery"] / 1e2
    return made


def _scaled(fields: Mapping[str, Any]) -> dict[str, float]:
    made = {f"accel.{a}": fields[f"{a}acc"] * GRAVITY / 1e3 for a in _XYZ}
    made |= {f"rate.{r}": fields[f"{a}gyro"] / 1e3 for a, r in zip(_XYZ, _RATES, strict=True)}
    if any(fields[f"{a}mag"] for a in _XYZ):  # all nought: it has none
        made |= {f"mag.{a}": fields[f"{a}mag"] / 10.0 for a in _XYZ}
    if fields.get("temperature"):  # nought: not told
        made["sensor_temperature"] = fields["temperature"] / 1e2
    return made


#: Bits of fields_updated.
_ACCEL, _GYRO, _MAG, _TEMPERATURE = 0b111, 0b111_000, 0b111_000_000, 1 << 12


def _fine(fields: Mapping[str, Any]) -> dict[str, float]:
    told = fields["fields_updated"]
    made: dict[str, float] = {}
    if told & _ACCEL == _ACCEL:
        made |= {f"accel.{a}": fields[f"{a}acc"] for a in _XYZ}
    if told & _GYRO == _GYRO:
        made |= {f"rate.{r}": fields[f"{a}gyro"] for a, r in zip(_XYZ, _RATES, strict=True)}
    if told & _MAG == _MAG:
        made |= {f"mag.{a}": fields[f"{a}mag"] * 100.0 for a in _XYZ}
    if told & _TEMPERATURE:
        made["sensor_temperature"] = fields["temperature"]
    return made


def _attitude(fields: Mapping[str, Any]) -> dict[str, float]:
    made = {f"attitude.{r}": fields[r] for r in _RATES}
    return made | {f"rate.{r}": fields[f"{r}speed"] for r in _RATES}


def _channels(fields: Mapping[str, Any]) -> dict[str, float]:
    count = min(_CHANNELS, fields["chancount"])
    read = {f"channel.{n}": fields[f"chan{n}_raw"] for n in range(1, count + 1)}
    return {name: value for name, value in read.items() if value not in (_UNKNOWN_16, 0)}


_READ: Mapping[int, Callable[[Mapping[str, Any]], dict[str, float]]] = {
    SYS_STATUS: _status,
    SCALED_IMU: _scaled,
    ATTITUDE: _attitude,
    RC_CHANNELS: _channels,
    HIGHRES_IMU: _fine,
    BATTERY_STATUS: _pack,
}
#: Messages that tell a signal's family, best first.
TOLD_BY: Mapping[str, tuple[int, ...]] = {
    "accel": (HIGHRES_IMU, SCALED_IMU),
    "rate": (HIGHRES_IMU, SCALED_IMU, ATTITUDE),
    "mag": (HIGHRES_IMU, SCALED_IMU),
    "sensor_temperature": (HIGHRES_IMU, SCALED_IMU),
    "attitude": (ATTITUDE,),
    "channel": (RC_CHANNELS,),
    "pack_voltage": (BATTERY_STATUS, SYS_STATUS),
    "pack_current": (BATTERY_STATUS, SYS_STATUS),
}
