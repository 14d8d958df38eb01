"""A simulated bench log of the second example's aircraft: rocked by hand, propellers off.

Everything is invented. The controller is run step by step on what a hand does; nothing it puts out moves the
aircraft. Written beside what reads such a log, and with nothing of it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.behaviour.simulate import Controller, FilterKind, LogSetup, LoopFilter, SimulatedFlight
from asflown.core.signals import AXES
from asflown.demo.flight import RATE, log_of
from asflown.demo.tern import KEEPER, NEW, TERN, controller, values_of

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

#: s for each axis, of which the last part has the stick moved too; s on the bench before.
EACH, STICK, STANDING = 22.0, 10.0, 3.0
#: Throttle held, 1; rad/s rms of a hand's swings; rad/s of a tap's peak; taps a second; rad/s of the stick.
THROTTLE, SWING, TAP, TAPS, COMMAND = 0.5, 0.4, 0.06, 3.0, 0.35
_FREE_FALL = 9.80665


def rock_log(listing: bytes, release: str = NEW, seed: int = 12) -> bytes:
    """The log of a rocked aircraft with the settings of a listing, CSV."""
    loop = controller(values_of(listing, release), release)
    preamble = ("# reed log 3", "# craft: tern", f"# on the bench: {KEEPER}", "# propellers: none")
    return log_of(_rocked(loop, seed), TERN, preamble, seed, STANDING)


def _rocked(loop: Controller, seed: int) -> SimulatedFlight:
    rate = loop.loop_rate
    count = round(3 * EACH * rate)
    moved = np.stack([_hand(axis, count, rate, seed) for axis in range(3)])
    noise = np.random.default_rng((seed, 50)).standard_normal((3, count))
    measured = moved + noise * TERN.gyro_noise * math.sqrt(0.5 * rate)
    commands = np.stack([_stick(axis, count, rate, seed) for axis in range(3)])
    control = np.stack([_output(loop, axis, commands[axis], measured[axis]) for axis in range(3)])
    wanted = THROTTLE + np.asarray(loop.mixer) @ control
    motors = np.clip(wanted, loop.idle, 1.0)
    pick = round(rate / RATE)
    values = {f"rate_command.{axis}": commands[i] for i, axis in enumerate(AXES)}
    values |= {f"rate.{axis}": measured[i] for i, axis in enumerate(AXES)}
    values |= {f"accel.{axis}": row for axis, row in zip("xyz", _forces(moved, rate, seed), strict=True)}
    values |= {"throttle": np.full(count, THROTTLE), "pack_voltage": np.full(count, 16.3)}
    values |= {"pack_current": np.full(count, 1.8)}
    values |= {f"motor.{i + 1}": row for i, row in enumerate(motors)}
    values |= {f"rotor_speed.{i + 1}": 470.0 * row for i, row in enumerate(motors)}
    rows = {name: np.asarray(row[::pick], dtype=np.float32) for name, row in values.items()}
    share = float(np.mean(np.any(motors != wanted, axis=0)))
    return SimulatedFlight(np.arange(count // pick) / RATE, rows, share, LogSetup(rate=RATE), seed)


def _part(axis: int, count: int, rate: float, start: float, length: float) -> FloatArray:
    """(count,) 1 in a stretch of an axis' time, with soft ends; s."""
    time = np.arange(count) / rate - axis * EACH - start
    inside = np.minimum(time, length - time) / 0.5
    return np.asarray(np.clip(inside, 0.0, 1.0), dtype=np.float64)


def _hand(axis: int, count: int, rate: float, seed: int) -> FloatArray:
    """Rate of the frame, rad/s: swings and taps about one axis at a time, a little about the others."""
    from scipy import signal

    random = np.random.default_rng((seed, axis))
    turn = signal.butter(3, [0.6, 4.0], "bandpass", fs=rate, output="sos")
    swing = signal.sosfilt(turn, random.standard_normal(count))
    blows = np.zeros(count)
    at = random.integers(0, count, round(TAPS * count / rate))
    blows[at] = random.choice([-1.0, 1.0], at.size) * random.uniform(0.4, 1.0, at.size)
    blow = np.sin(np.linspace(0, math.pi, round(0.006 * rate))) ** 2
    struck = signal.lfilter(blow / blow.sum(), [1.0], blows)
    w = 2 * math.pi * 14.0
    turned = signal.lfilter(*signal.bilinear([1.0, 0.0], [1.0, 0.8 * w, w * w], rate), struck)
    alone = 0.08 + 0.92 * _part(axis, count, rate, 0.0, EACH)
    made = SWING * swing / swing.std() + TAP * turned / np.abs(turned).max()
    return np.asarray(alone * made)


def _stick(axis: int, count: int, rate: float, seed: int) -> FloatArray:
    """Command, rad/s: to and fro, back in the middle on average."""
    from scipy import signal

    random = np.random.default_rng((seed, 10 + axis))
    step = round(0.12 * rate)
    held = np.repeat(random.choice([-1.0, 0.0, 1.0], count // step + 1), step)[:count]
    quick = signal.butter(2, [0.5, 7.0], "bandpass", fs=rate, output="sos")
    return np.asarray(COMMAND * _part(axis, count, rate, EACH - STICK, STICK) * signal.sosfilt(quick, held))


def _filtered(parts: tuple[LoopFilter, ...], values: FloatArray, rate: float) -> FloatArray:
    from scipy import signal

    for part in parts:
        if part.kind is FilterKind.ONE_POLE:
            kept = math.exp(-2 * math.pi * part.frequency / rate)
            b, a = np.array([1 - kept]), np.array([1.0, -kept])
        elif part.kind is FilterKind.LOW_PASS:
            b, a = signal.butter(2, part.frequency, fs=rate)
        else:
            w, q = 2 * math.pi * part.frequency / rate, part.quality
            b = np.array([1.0, -2 * math.cos(w), 1.0])
            a = np.array([1 + math.sin(w) / (2 * q), -2 * math.cos(w), 1 - math.sin(w) / (2 * q)])
        values = signal.lfilter(b, a, values)
    return np.asarray(values)


def _output(loop: Controller, axis: int, command: FloatArray, rate: FloatArray) -> FloatArray:
    """The controller's output of one axis, 1."""
    filters = loop.gyro_filters + (loop.yaw_filters if axis == 2 else ())
    smooth = _filtered(filters, rate, loop.loop_rate)
    slope = np.diff(_filtered(loop.d_filters, smooth, loop.loop_rate), prepend=0.0) * loop.loop_rate
    lead = np.diff(command, prepend=0.0) * loop.loop_rate
    error = command - smooth
    held = _limited(loop.ki[axis] / loop.loop_rate * error, loop.integral_limit)
    return np.asarray(loop.kp[axis] * error + held - loop.kd[axis] * slope + loop.kf[axis] * lead)


def _limited(steps: FloatArray, limit: float) -> FloatArray:
    """Running sum that stays within a limit."""
    whole = np.cumsum(steps)
    if np.all(np.abs(whole) <= limit):
        return np.asarray(whole)
    total, made = 0.0, []
    for step in steps.tolist():
        total = min(limit, max(-limit, total + step))
        made.append(total)
    return np.asarray(made)


def _forces(moved: FloatArray, rate: float, seed: int) -> FloatArray:
    """(3, n) m/s2: gravity as the turning frame sees it, and the sensor's noise."""
    from scipy.spatial.transform import Rotation

    step = 4
    turns = Rotation.from_rotvec(moved[:, ::step].T * (step / rate))
    down = np.array([0.0, 0.0, _FREE_FALL])
    made = np.empty((3, len(turns)))
    for i, back in enumerate(turns.inv()):
        down = back.apply(down)
        made[:, i] = -down
    places = np.arange(moved.shape[1])
    even = np.stack([np.interp(places, places[::step], row) for row in made])
    noise = np.random.default_rng((seed, 60)).standard_normal(even.shape)
    return even + noise * TERN.accel_noise * math.sqrt(0.5 * rate)
