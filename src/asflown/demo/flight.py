"""A simulated flight of the worked example's quadrotor, as the log its firmware would write.

Everything is invented: the aircraft's figures, the names and units of the columns, the person who flies.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.behaviour.simulate import (
    Activity,
    Air,
    Airframe,
    Battery,
    Commands,
    Controller,
    LogSetup,
    SimulatedFlight,
    fly_freely,
    simulate,
)
from asflown.demo import scenario
from asflown.demo.firmware import flies, releases
from asflown.demo.scenario import PILOT

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

#: Rows a second of the log; s on the ground before the flight; s flown, of these s of hover at first.
RATE, GROUND, FLOWN, HOVER = 1000.0, 32.0, 64.0, 14.0
_FREE_FALL = 9.80665
_DEGREES = 180.0 / math.pi

#: Plover: 0.94 kg, four motors.
PLOVER = Airframe(
    gain=(260.0, 225.0, 75.0),
    damping=(0.9, 1.0, 0.6),
    lag_up=0.026,
    lag_down=0.026,
    thrust_exponent=1.6,
    strength=(1.0, 0.97, 1.02, 1.0),
    hover=0.24,
    rotor_speed_full=410.0,
    vibration=(0.012, 0.009, 0.010, 0.026),
    accel_vibration=9.0,
    gyro_noise=math.radians(0.008),
    battery=Battery(capacity=3.3 * 3600.0, resistance=0.022, full_current=88.0),
    air=Air(turbulence=(1.2, 1.2, 0.4), bandwidth=1.4, wake=(3.0, 3.0, 0.8)),
)
#: The loop of plover's settings as found, its second set in use.
OLD_LOOP = flies.controller(releases.old(), scenario.PLOVER.values(), releases.SETS[1])
#: A surveyor's hand: sticks this far of what someone flying for fun does.
HAND = 0.7

#: Column, its unit and the factor from SI, by canonical signal.
COLUMNS: tuple[tuple[str, str, str, float, int], ...] = (
    *(
        (f"rate_command.{axis}", f"wanted {axis} rate", "deg/s", _DEGREES, 2)
        for axis in ("roll", "pitch", "yaw")
    ),
    *((f"rate.{axis}", f"gyro {axis}", "deg/s", _DEGREES, 3) for axis in ("roll", "pitch", "yaw")),
    *((f"accel.{axis}", f"accel {axis}", "g", 1.0 / _FREE_FALL, 4) for axis in "xyz"),
    ("throttle", "throttle", "%", 100.0, 2),
    *((f"motor.{n}", f"motor {n}", "%", 100.0, 2) for n in range(1, 5)),
    *((f"rotor_speed.{n}", f"rotor speed {n}", "rpm", 60.0, 0) for n in range(1, 5)),
    ("pack_voltage", "pack voltage", "V", 1.0, 3),
    ("pack_current", "pack current", "A", 1.0, 2),
)
PREAMBLE = (
    "# saltings log 2",
    "# craft: plover",
    f"# pilot: {PILOT}",
    "# pack: blue 2",
    "# wind: 3 m/s",
    "# temperature: 14 degC",
    "# pressure: 1014 hPa",
    "# place: north marsh",
)


def flown(
    seed: int = 7,
    seconds: float = FLOWN,
    controller: Controller = OLD_LOOP,
    airframe: Airframe = PLOVER,
    hovering: float = HOVER,
) -> SimulatedFlight:
    """Fly plover, or another airframe: first in hover, s, then about."""
    hover = airframe.hover ** (1.0 / airframe.exponent)
    commands = fly_freely(np.random.default_rng(seed), seconds, Activity.NORMAL, hover=hover)
    still = fly_freely(np.random.default_rng(seed), seconds, Activity.STILL, hover=hover)
    share = np.clip((np.arange(len(commands.values)) / commands.rate - hovering) / 0.5, 0.0, 1.0)[:, None]
    commands = Commands(commands.rate, still.values + share * (commands.values - still.values))
    commands = Commands(commands.rate, commands.values * np.array([HAND, HAND, HAND, 1.0]))
    return simulate(airframe, controller, commands, seconds, seed=seed, log=LogSetup(rate=RATE))


def plover_log(seed: int = 7, seconds: float = FLOWN, on_ground: float = GROUND) -> bytes:
    """The log of a flight, CSV: first the aircraft stands on the ground, then it flies."""
    return log_of(flown(seed, seconds), PLOVER, PREAMBLE, seed, on_ground)


def log_of(
    flight: SimulatedFlight, airframe: Airframe, preamble: tuple[str, ...], seed: int, on_ground: float
) -> bytes:
    """A flight as a log, CSV, with so many seconds on the ground before it."""
    random = np.random.default_rng((seed, 1))
    ground = round(on_ground * RATE)
    columns = [_column(flight, airframe, name, factor, ground, random) for name, _, _, factor, _ in COLUMNS]
    rows = columns[0].size
    formats = ",".join(["%d", *(f"%.{digits}f" for *_, digits in COLUMNS), "%d"])
    time = np.round(np.arange(rows) * (1e6 / RATE))
    armed = (np.arange(rows) >= ground - min(ground, RATE)).astype(np.float64)
    header = ",".join(["time (us)", *(f"{name} ({unit})" for _, name, unit, _, _ in COLUMNS), "armed"])
    table = np.column_stack([time, *columns, armed]).tolist()
    lines = [formats % tuple(row) for row in table]
    return "\n".join([*preamble, header, *lines, ""]).encode()


def _column(
    flight: SimulatedFlight,
    airframe: Airframe,
    name: str,
    factor: float,
    ground: int,
    random: np.random.Generator,
) -> FloatArray:
    flying = np.asarray(flight.values[name], dtype=np.float64)
    return np.concatenate([_standing(airframe, name, flying, ground, random), flying]) * factor


def _standing(
    airframe: Airframe, name: str, flying: FloatArray, rows: int, random: np.random.Generator
) -> FloatArray:
    """The signal while the aircraft stands still, motors off."""
    family, _, member = name.partition(".")
    if family == "rate":
        noise = airframe.gyro_noise * math.sqrt(RATE / 2)
        return np.asarray(random.normal(math.radians(0.12), noise, rows))
    if family == "accel":
        at_rest = -_FREE_FALL if member == "z" else 0.0
        return np.asarray(random.normal(at_rest, airframe.accel_noise * math.sqrt(RATE / 2), rows))
    if family == "pack_voltage":
        return np.full(rows, airframe.battery.full)
    if family == "pack_current":
        return np.full(rows, airframe.battery.idle_current)
    return np.zeros(rows)
