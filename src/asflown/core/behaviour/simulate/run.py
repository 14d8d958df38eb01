"""Fly an airframe with a controller and keep the log."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asflown.core.behaviour.simulate.airframe import Airframe
from asflown.core.behaviour.simulate.controller import (
    Controller,
    FilterKind,
    LogSetup,
    LoopFilter,
    RateSource,
)
from asflown.core.behaviour.simulate.pilot import Commands
from asflown.core.flight import Conditions, Flight, Trace
from asflown.core.signals import AXES, signal

if TYPE_CHECKING:
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]
    Numbers = npt.NDArray[np.floating]


@dataclass(frozen=True, eq=False)
class SimulatedFlight:
    """A flown log.

    Attributes
    ----------
    time
        (n,) s.
    values
        (n,) float32 by canonical name, SI.
    saturated
        Share of loop steps with at least one motor clipped.
    log
        How it was logged.
    """

    time: FloatArray
    values: Mapping[str, Numbers]
    saturated: float
    log: LogSetup
    seed: int

    def to_flight(self, conditions: Conditions | None = None) -> Flight:
        """As a flight read from a log would be."""
        self.time.setflags(write=False)
        traces = {}
        for name, values in self.values.items():
            values.setflags(write=False)
            found = signal(name)
            traces[name] = Trace(name, self.time, values, found.unit if found else "1", name)
        return Flight(traces, conditions=conditions or Conditions(), rate_filter=self.log.rate_source.value)


def _section(part: LoopFilter, step: float) -> tuple[float, float, float, float, float]:
    """Coefficients b0 b1 b2 a1 a2 of a filter at a loop step (bilinear, corner kept).

    Written out here though :mod:`asflown.core.signal.filters` has them: the declared controller is computed
    with those, and this flight judges it.
    """
    if part.kind is FilterKind.ONE_POLE:
        share = -math.expm1(-2.0 * math.pi * part.frequency * step)
        return share, 0.0, 0.0, share - 1.0, 0.0
    angle = 2.0 * math.pi * part.frequency * step
    if angle >= math.pi:
        raise ValueError(
            f"a filter at {part.frequency:g} Hz needs a loop faster than {2 * part.frequency:g} Hz"
        )
    cosine, alpha = math.cos(angle), math.sin(angle) / (2.0 * part.quality)
    over = 1.0 / (1.0 + alpha)
    if part.kind is FilterKind.NOTCH:
        return over, -2.0 * cosine * over, over, -2.0 * cosine * over, (1.0 - alpha) * over
    low = 0.5 * (1.0 - cosine) * over
    return low, 2.0 * low, low, -2.0 * cosine * over, (1.0 - alpha) * over


def _chain(parts: tuple[LoopFilter, ...], step: float) -> FloatArray:
    return np.array([_section(part, step) for part in parts], dtype=np.float64).reshape(len(parts), 5)


def _mode_weights(airframe: Airframe, axis: int, length: float) -> FloatArray:
    """Transition (2, 2) and weights (2, 3) of start, middle, end of a parabolic input over ``length`` s."""
    from scipy.linalg import expm

    out = np.zeros((2, 5))
    mode = airframe.frame[axis]
    if mode is None or length <= 0.0:
        return out
    w = 2.0 * math.pi * mode.frequency
    # States x, v, and the input q with its first and second derivative over the segment, in units of it.
    system = np.zeros((5, 5))
    system[0, 1] = length
    system[1, :3] = -w * w * length, -2.0 * mode.damping * w * length, mode.participation * length
    system[2, 3] = system[3, 4] = 1.0
    whole = expm(system)
    out[:, :2] = whole[:2, :2]
    # q(x) through start, middle, end: slope -3 s + 4 m - e, second derivative 4 s - 8 m + 4 e.
    value, slope, bend = whole[:2, 2], whole[:2, 3], whole[:2, 4]
    out[:, 2] = value - 3.0 * slope + 4.0 * bend
    out[:, 3] = 4.0 * slope - 8.0 * bend
    out[:, 4] = -slope + 4.0 * bend
    return out


def _segments(delay: float, step: float) -> tuple[int, FloatArray]:
    """Whole loop steps of a delay, and the segments a loop step falls into."""
    whole = math.floor(delay / step + 1e-9)
    rest = delay - whole * step
    if rest < 1e-6 * step:
        return whole, np.array([step])
    return whole, np.array([rest, step - rest])


def _setup(
    airframe: Airframe, controller: Controller, commands: Commands, steps: int, log: LogSetup
) -> dict[str, Any]:
    step = 1.0 / controller.loop_rate
    hold = controller.loop_rate / commands.rate
    pick = controller.loop_rate / log.rate
    for ratio, what in ((hold, "command"), (pick, "log")):
        if abs(ratio - round(ratio)) > 1e-9 or ratio < 1.0:
            raise ValueError(f"the {what} rate must be the loop rate over a whole number, not over {ratio:g}")
    mixer = np.array(controller.mixer, dtype=np.float64)
    if mixer.shape != (airframe.motors, 3):
        raise ValueError(f"the mixer has {mixer.shape[0]} rows for {airframe.motors} motors")
    delay = controller.computation_steps * step + controller.output_delay + airframe.delay
    whole, segments = _segments(delay, step)
    damping, levelling = np.array(airframe.damping), controller.levelling
    ways = np.column_stack((segments, 0.5 * segments))
    effect = np.linalg.pinv(mixer) if airframe.effect is None else np.array(airframe.effect)
    battery, air = airframe.battery, airframe.air
    return {
        "steps": steps,
        "step": step,
        "pick": round(pick),
        "averaged": log.averaged,
        "log_filtered": log.rate_source is RateSource.FILTERED,
        "commands": np.ascontiguousarray(commands.values, dtype=np.float64),
        "command_hold": round(hold),
        "gains": np.array(
            [
                controller.kp,
                [value * step for value in controller.ki],
                [value / step for value in controller.kd],
                [value / step for value in controller.kf],
            ]
        ),
        "integral_limit": controller.integral_limit,
        "gyro_filters": _chain(controller.gyro_filters, step),
        "yaw_filters": _chain(controller.yaw_filters, step),
        "d_filters": _chain(controller.d_filters, step),
        "mixer": mixer,
        "idle": controller.idle,
        "keep_authority": controller.keep_authority,
        "compensate_to": controller.compensate_to or 0.0,
        "voltage_step": -math.expm1(-step / controller.voltage_lag),
        "hold_thrust": 0.0 if controller.compensate_to else step / 2.0,
        "levelled": levelling is not None,
        "level_gain": levelling.gain if levelling else 0.0,
        "level_angle": levelling.angle_limit if levelling else 0.0,
        "level_limit": levelling.rate_limit if levelling else 0.0,
        "delay_steps": whole,
        "segments": segments,
        "decay": np.exp(-segments[:, None] * damping),
        "half_decay": np.exp(-0.5 * segments[:, None] * damping),
        "up": np.exp(-ways / airframe.lag_up),
        "down": np.exp(-ways / airframe.lag_down),
        "flex": np.array([[_mode_weights(airframe, a, length) for a in range(3)] for length in segments]),
        "flexible": np.array([mode is not None for mode in airframe.frame]),
        "gain": np.array(airframe.gain),
        "effect": effect,
        "lead": airframe.reaction_lead,
        "damping": damping,
        "strength": np.array(airframe.strength),
        "command_exponent": airframe.command_exponent,
        "thrust_exponent": airframe.thrust_exponent,
        "reference_voltage": airframe.reference_voltage,
        "hover": airframe.hover,
        "rotor_speed_full": airframe.rotor_speed_full,
        "vibration": np.array(airframe.vibration),
        "harmonic": airframe.harmonic,
        "accel_vibration": airframe.accel_vibration,
        "gyro_sigma": airframe.gyro_noise * math.sqrt(0.5 * controller.loop_rate),
        "accel_sigma": airframe.accel_noise * math.sqrt(0.5 * controller.loop_rate),
        "accel_limit": airframe.accel_limit,
        "battery": np.array(
            [
                battery.full,
                battery.empty,
                battery.capacity,
                battery.resistance,
                battery.full_current,
                battery.idle_current,
            ]
        ),
        "air": np.array(air.turbulence),
        "air_pole": math.exp(-2.0 * math.pi * air.bandwidth * step),
        "air_order": air.order,
        "wake": np.array(air.wake),
        "wake_pole": math.exp(-2.0 * math.pi * air.wake_bandwidth * step),
    }


def _named(out: Numbers, controller: Controller, motors: int) -> dict[str, Numbers]:
    """The rows of the loop's output by canonical name."""
    names = [f"rate_command.{axis}" for axis in AXES]
    names += [f"rate.{axis}" for axis in AXES]
    names += [f"control.{axis}" for axis in AXES]
    names += ["throttle", "accel.x", "accel.y", "accel.z", "pack_voltage", "pack_current"]
    names += [f"stick.{axis}" for axis in (*AXES, "throttle")]
    names += [f"attitude.{axis}" for axis in AXES]
    names += [f"motor.{number}" for number in range(1, motors + 1)]
    names += [f"rotor_speed.{number}" for number in range(1, motors + 1)]
    values = {name: out[place] for place, name in enumerate(names)}
    for axis in AXES:
        if controller.levelling is None or axis == "yaw":
            values[f"stick.{axis}"] /= controller.rate_full
    values["stick.throttle"] *= 2.0
    values["stick.throttle"] -= 1.0
    if controller.levelling is None:
        for axis in AXES:
            del values[f"attitude.{axis}"]
    return values


def _as_logged(
    time: FloatArray, values: dict[str, Numbers], log: LogSetup, random: np.random.Generator
) -> tuple[FloatArray, dict[str, Numbers]]:
    """Round, drop rows and bend the clock as the log's setup says."""
    for name in values:
        size = log.steps.get(name, log.steps.get(name.split(".")[0], 0.0))
        if size > 0.0:
            values[name] = np.round(values[name] / size) * size
    if log.clock_error:
        time = time * (1.0 + log.clock_error)
    if log.jitter > 0.0:
        time = np.maximum.accumulate(time + log.jitter * random.standard_normal(time.size))
    if log.dropped > 0.0:
        keep = np.ones(time.size, dtype=bool)
        for first in random.integers(0, time.size, random.poisson(log.dropped * time.size / 4.0)):
            keep[first : first + random.integers(1, 8)] = False
        time, values = time[keep], {name: column[keep] for name, column in values.items()}
    return time, values


def simulate(
    airframe: Airframe,
    controller: Controller,
    commands: Commands,
    seconds: float,
    *,
    seed: int,
    log: LogSetup | None = None,
    precise: bool = False,
) -> SimulatedFlight:
    """Fly for some seconds and keep the log.

    Every random number comes from ``seed``: the same arguments give the same flight.

    Parameters
    ----------
    commands
        At least ``seconds`` long; the last row is held.
    precise
        Keep float64 instead of float32.

    Raises
    ------
    ValueError
        Where rates, mixer and motors do not fit each other.
    """
    from asflown.core.behaviour.simulate import kernel

    log = log or LogSetup()
    steps = round(seconds * controller.loop_rate)
    setup = _setup(airframe, controller, commands, steps, log)
    if commands.values.shape[0] * setup["command_hold"] < steps:
        raise ValueError(f"the commands are shorter than {seconds:g} s")
    rows = (steps + setup["pick"] - 1) // setup["pick"]
    out = np.zeros((22 + 2 * airframe.motors, rows), dtype=np.float64 if precise else np.float32)
    noise, logging = (np.random.default_rng((seed, number)) for number in range(2))
    saturated = float(kernel.fly(kernel.Setup(**setup), noise, out))
    time, values = _as_logged(
        np.arange(rows) / log.rate, _named(out, controller, airframe.motors), log, logging
    )
    return SimulatedFlight(time, values, saturated, log, seed)
