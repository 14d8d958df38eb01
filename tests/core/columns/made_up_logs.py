"""Made-up flights and headers: closed-loop-like data in many namings and units, with the truth beside them.

The flights are second-order lags of a command with noise, vibration and disturbance; motors, rotors and supply
follow from them. Nothing of it is recorded. Factors of units stand here a second time, apart from the code's.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.signal import lfilter

from asflown.core.log_table import Column, LogTable

#: number in the log = SI value / factor + offset
FACTORS = {
    "s": (1, 0), "ms": (1e-3, 0), "us": (1e-6, 0), "ns": (1e-9, 0),
    "rad/s": (1, 0), "deg/s": (math.pi / 180, 0), "mrad/s": (1e-3, 0), "rpm": (1 / 60, 0), "rev/s": (1, 0),
    "rotor rad/s": (1 / (2 * math.pi), 0),
    "m/s2": (1, 0), "g": (9.80665, 0), "mg": (9.80665e-3, 0),
    "0..1": (1, 0), "%": (0.01, 0), "us 1000..2000": (1e-3, 1000), "0..1000": (1e-3, 0), "0..2047": (1 / 2047, 0),
    "-1..1": (1, 0), "stick us": (2e-3, 1500), "-500..500": (2e-3, 0), "-100..100": (1e-2, 0),
    "V": (1, 0), "mV": (1e-3, 0), "cV": (1e-2, 0), "A": (1, 0), "mA": (1e-3, 0), "cA": (1e-2, 0),
    "rad": (1, 0), "deg": (math.pi / 180, 0), "m": (1, 0), "cm": (0.01, 0),
    "degC": (1, -273.15), "K": (1, 0), "Pa": (1, 0), "hPa": (100, 0), "m/s": (1, 0), "": (1, 0),
}  # fmt: skip
_MIXER = np.array([[-1, 1, -1], [-1, -1, 1], [1, 1, 1], [1, -1, -1]], dtype=float)


def _smooth(values, rate, corner):
    share = 1 - math.exp(-2 * math.pi * corner / rate)
    return lfilter([share], [1, share - 1], values, axis=0)


@lru_cache(maxsize=12)
def made_up_flight(seed: int, rate: float = 1000.0, seconds: float = 30.0) -> dict[str, np.ndarray]:
    """Signals in SI by canonical name, and words."""
    random = np.random.default_rng(seed)
    n = int(rate * seconds)
    time = np.arange(n) / rate
    commands, rates, controls = [], [], []
    for axis in range(3):
        hold = int(rate * random.uniform(0.25, 0.6))
        steps = np.repeat(random.normal(0, (1.8, 1.6, 0.9)[axis], n // hold + 1), hold)[:n]
        command = _smooth(_smooth(steps, rate, 6.0), rate, 8.0)
        wn = 2 * math.pi * (random.uniform(7, 14) if axis < 2 else random.uniform(3.5, 6))
        zeta, delay = random.uniform(0.6, 0.9), int(rate * random.uniform(0.004, 0.009))
        lag = _second_order(command, wn, zeta, rate)
        lag = np.concatenate((np.zeros(delay), lag[:-delay]))
        gust = _smooth(random.normal(0, 1, n), rate, 2.0) * random.uniform(2, 5)
        clean = lag + gust * 0.15
        push = np.gradient(clean, 1 / rate) + 1.5 * clean
        ahead = int(0.02 * rate)
        push = np.concatenate((push[ahead:], np.zeros(ahead)))
        control = push / (450.0, 400.0, 60.0)[axis]
        line = 0.04 * np.sin(2 * math.pi * random.uniform(140, 220) * time + random.uniform(0, 6))
        measured = clean + line + random.normal(0, 0.03, n)
        commands.append(command)
        rates.append(measured)
        controls.append(_smooth(control + random.normal(0, 0.004, n), rate, 120.0))
    made = {"time": time}
    for axis, name in enumerate(("roll", "pitch", "yaw")):
        made[f"rate_command.{name}"], made[f"rate.{name}"] = commands[axis], rates[axis]
        made[f"control.{name}"] = controls[axis]
    _drive(made, np.column_stack(controls), random, rate, n)
    _body(made, np.column_stack(rates), random, rate, n)
    return made


def _second_order(values, wn, zeta, rate):
    k = wn / rate
    a = np.array([1 + 2 * zeta * k + k * k, -2 - 2 * zeta * k, 1.0])
    return lfilter([k * k / a[0]], a / a[0], values)


def _drive(made, controls, random, rate, n):
    hold = int(rate * 1.5)
    throttle = np.repeat(random.uniform(0.28, 0.5, n // hold + 1), hold)[:n]
    throttle = np.clip(_smooth(_smooth(throttle, rate, 1.0), rate, 2.0) + 0.02, 0.05, 1)
    throttle[: n // 50] = np.linspace(0.05, throttle[n // 50], n // 50)
    motors = np.clip(throttle[:, None] + controls @ _MIXER.T, 0.04, 1.0)
    full = random.uniform(380, 520)
    speed = _smooth(np.sqrt(motors) * full, rate, 1 / (2 * math.pi * 0.025))
    current = 1.0 + 22 * np.sum((speed / full) ** 3, axis=1)
    charge = np.cumsum(current) / rate / 900
    made["throttle"] = throttle
    for motor in range(4):
        made[f"motor.{motor + 1}"], made[f"rotor_speed.{motor + 1}"] = motors[:, motor], speed[:, motor]
    made["pack_current"] = current + random.normal(0, 0.4, n)
    made["pack_voltage"] = 16.7 - 2.0 * charge - 0.025 * current + random.normal(0, 0.02, n)
    made["stick.throttle"] = 2 * throttle - 1
    for axis in ("roll", "pitch", "yaw"):
        made[f"stick.{axis}"] = np.clip(made[f"rate_command.{axis}"] / 9.0, -1, 1)


def _body(made, rates, random, rate, n):
    angles = np.empty((n, 3))
    for axis in range(3):
        leak = math.exp(-1.2 / rate) if axis < 2 else 1.0
        angles[:, axis] = lfilter([1 / rate], [1, -leak], rates[:, axis])
    angles[:, 2] = (angles[:, 2] + math.pi) % (2 * math.pi) - math.pi
    thrust = np.sum([made[f"rotor_speed.{m}"] ** 2 for m in range(1, 5)], axis=0)
    made["accel.z"] = -9.80665 * thrust / np.median(thrust) + random.normal(0, 0.8, n)
    made["accel.x"] = 0.6 * _smooth(angles[:, 1], rate, 0.5) + random.normal(0, 0.6, n)
    made["accel.y"] = -0.6 * _smooth(angles[:, 0], rate, 0.5) + random.normal(0, 0.6, n)
    for axis, name in enumerate(("roll", "pitch", "yaw")):
        made[f"attitude.{name}"] = angles[:, axis]
    made["altitude"] = 30 + 8 * _smooth(np.cumsum(random.normal(0, 1, n)) / math.sqrt(n), rate, 0.5)
    made["air_temperature"] = 291.0 + 0.5 * np.linspace(0, 1, n)
    made["air_pressure"] = 101_325 - 12 * made["altitude"] + random.normal(0, 2, n)
    made["velocity.north"] = 3 * _smooth(angles[:, 1], rate, 0.2)


def _extra(name, n, random):
    if name == "#rows":
        return np.arange(n, dtype=float)
    if name == "#noise":
        return random.normal(0, 40, n)
    if name == "#load":
        return np.clip(random.normal(30, 4, n), 0, 100)
    if name == "#constant":
        return np.full(n, 3.0)
    raise KeyError(name)


_WORDS = {"mode": ("level", "rate"), "armed": ("no", "yes"), "failsafe": ("none", "none")}


def log_of(header, seed: int, rate: float = 1000.0, *, order=None, seconds: float = 30.0) -> LogTable:
    """A table of a header: pairs (signal or #what, column name, unit of the numbers, unit the header states)."""
    flight = made_up_flight(seed, rate, seconds)
    random = np.random.default_rng(seed + 1000)
    n = flight["time"].size
    columns = []
    for signal, name, unit, stated in header:
        cell = name if stated is None else f"{name} [{stated}]"
        if signal in _WORDS:
            first, then = _WORDS[signal]
            columns.append(Column(name, stated, None, (first,) * 500 + (then,) * (n - 500), cell))
            continue
        values = _extra(signal, n, random) if signal.startswith("#") else flight[signal]
        factor, offset = FACTORS[unit]
        numbers = values / factor + offset
        counts = ("us 1000..2000", "stick us", "0..2047", "0..1000", "mV", "cV", "mA", "cA")
        if unit in counts or (signal == "time" and unit != "s"):
            numbers = np.rint(numbers)
        columns.append(Column(name, stated, numbers, (), cell))
    if order is not None:
        columns = [columns[at] for at in order]
    return LogTable(tuple(columns), n, "csv")


def read_header(text: str):
    """Lines ``signal : column : unit of the numbers [: unit stated in the header]``; ``rpy``/``xyz``/``1-4`` families expand."""
    made = []
    for line in filter(None, map(str.strip, text.splitlines())):
        parts = [part.strip() for part in (line + " ").split(" : ")]
        signal, names, unit = parts[:3]
        stated = parts[3] if len(parts) > 3 else None
        members = {"3": ("roll", "pitch", "yaw"), "xyz": ("x", "y", "z"), "4": ("1", "2", "3", "4")}
        family, _, kind = signal.partition("*")
        columns = [name.strip() for name in names.split(",")]
        signals = [f"{family}.{m}" for m in members[kind]] if kind else [signal]
        assert len(signals) == len(columns), line
        made += [(s, c, unit, stated) for s, c in zip(signals, columns, strict=True)]
    return tuple(made)


def right_factor(signal: str, unit: str) -> tuple[float, float]:
    """What value = (number - offset) * factor should say."""
    return FACTORS[unit]
