"""The known truth of a simulated aircraft, in the frequency domain, from its parameters alone.

Shares no code with the simulator's loop: transfer functions are written down here and evaluated at
``s = jw`` (rotors, body, frame, delays, hold) and ``z = exp(jw / loop rate)`` (controller, filters), linearised
at an operating point. Images of the sampled motor command around multiples of the loop rate are summed.

Definitions. ``P``: achieved differential motor command (axis command units, as logged) to raw gyro rate, the
other axes' loops closed. ``Cr``, ``Cy``: command and raw rate to controller output. ``L = P c Cy``,
``T = P c Cr / (1 + L)`` with ``c`` what voltage compensation multiplies the motors by (1 without). Bandwidths and
phase delay follow the attitude definitions of ADS-33E-PRF applied to ``T / (jw)``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.simulate.airframe import Airframe
from asflown.core.behaviour.simulate.controller import Controller, FilterKind, LoopFilter
from asflown.core.behaviour.simulate.run import SimulatedFlight

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]

AXES = ("roll", "pitch", "yaw")
_IMAGES = 6


@dataclass(frozen=True)
class OperatingPoint:
    """Where the thrust curves are linearised.

    Attributes
    ----------
    slopes
        (n,) mean slope of each motor's thrust against its command, full thrust at the reference voltage = 1.
    compensation
        What the firmware's voltage compensation multiplies motor commands by.
    """

    slopes: tuple[float, ...]
    compensation: float = 1.0


@dataclass(frozen=True)
class Responses:
    """Frequency responses (axis, frequency), raw rate; ``crossed`` is T of the whole aircraft (f, out, in)."""

    frequency: FloatArray
    plant: ComplexArray
    command: ComplexArray
    feedback: ComplexArray
    loop: ComplexArray
    response: ComplexArray
    crossed: ComplexArray


@dataclass(frozen=True)
class AxisTruth:
    """The figures of one axis; not a number where there is no such crossing.

    Attributes
    ----------
    bandwidth, bandwidth_gain
        Hz, by the phase rule (phase of T = -45 deg) and by the gain rule (T / jw 6 dB above its gain at f180).
    f180
        Hz, where the phase of T is -90 deg.
    phase_delay
        s.
    crossover, gain_crossover_first
        Hz, last and first frequency where |L| = 1.
    phase_margin
        deg, at the last crossing.
    gain_margin
        dB, at ``phase_crossover`` Hz.
    peak_sensitivity
        1, at ``peak_frequency`` Hz.
    """

    bandwidth: float
    bandwidth_gain: float
    f180: float
    phase_delay: float
    crossover: float
    phase_margin: float
    gain_margin: float
    phase_crossover: float
    peak_sensitivity: float
    peak_frequency: float
    gain_crossover_first: float


def at_hover(airframe: Airframe, controller: Controller, voltage: float | None = None) -> OperatingPoint:
    """The point in hover at a pack voltage, V (the reference voltage unless given)."""
    volts = airframe.reference_voltage if voltage is None else voltage
    ratio = volts / airframe.reference_voltage
    motor = airframe.hover ** (1.0 / airframe.exponent) / ratio
    slope = airframe.exponent * (motor * ratio) ** (airframe.exponent - 1.0) * ratio
    factor = controller.compensate_to / volts if controller.compensate_to else 1.0
    return OperatingPoint(tuple(slope * share for share in airframe.strength), factor)


def of_flight(airframe: Airframe, controller: Controller, flight: SimulatedFlight) -> OperatingPoint:
    """The mean of the local slopes over the rows of a flight."""
    volts = flight.values["pack_voltage"].astype(np.float64)
    ratio = volts / airframe.reference_voltage
    slopes = []
    for number, share in enumerate(airframe.strength, start=1):
        motor = flight.values[f"motor.{number}"].astype(np.float64)
        local = airframe.exponent * (motor * ratio) ** (airframe.exponent - 1.0) * ratio
        slopes.append(share * float(local.mean()))
    factor = float(np.mean(controller.compensate_to / volts)) if controller.compensate_to else 1.0
    return OperatingPoint(tuple(slopes), factor)


def rotor_lag(airframe: Airframe) -> float:
    """The lag of the thrust in s; for unequal lags the best linear one for normally distributed commands.

    With x' = k(e) e, k = k0 (1 + d) for e > 0 and k0 (1 - d) for e < 0, the gap's mean settles so that x' has
    none, which takes 2/pi d^2 off the mean of both speeds (first order in d^2).
    """
    up, down = 1.0 / airframe.lag_up, 1.0 / airframe.lag_down
    mean, share = 0.5 * (up + down), (up - down) / (up + down)
    return 1.0 / (mean * (1.0 - 2.0 / math.pi * share * share))


def _body(airframe: Airframe, s: ComplexArray, axis: int) -> ComplexArray:
    """Axis command equivalent of the thrust to measured rate."""
    out = 1.0 / (s + airframe.damping[axis])
    if axis == 2:
        out = out * (1.0 + airframe.reaction_lead * s)
    mode = airframe.frame[axis]
    if mode is not None:
        w = 2.0 * math.pi * mode.frequency
        out = out + mode.participation * s / (s * s + 2.0 * mode.damping * w * s + w * w)
    return np.asarray(airframe.gain[axis] * out)


def _plants(
    airframe: Airframe, controller: Controller, point: OperatingPoint, frequency: FloatArray
) -> ComplexArray:
    """(f, 3, 3): logged axis commands to measured rates of the sampled plant."""
    fs = controller.loop_rate
    delay = controller.computation_steps / fs + controller.output_delay + airframe.delay
    mixer = np.array(controller.mixer)
    effect = np.linalg.pinv(mixer) if airframe.effect is None else np.array(airframe.effect)
    coupling = effect @ np.diag(point.slopes) @ mixer
    shape = np.zeros((3, frequency.size), dtype=np.complex128)
    lag = rotor_lag(airframe)
    images = 8 * _IMAGES if airframe.reaction_lead else _IMAGES
    for image in range(-images, images + 1):
        s = 2j * math.pi * (frequency + image * fs)
        s = np.where(s == 0.0, 1e-9j, s)
        hold = -np.expm1(-s / fs) * fs / s
        common = hold * np.exp(-s * delay) / (1.0 + lag * s)
        for axis in range(3):
            shape[axis] += common * _body(airframe, s, axis)
    return np.asarray(shape.T[:, :, None] * coupling[None, :, :])


def _filter(part: LoopFilter, z: ComplexArray, fs: float) -> ComplexArray:
    if part.kind is FilterKind.ONE_POLE:
        kept = math.exp(-2.0 * math.pi * part.frequency / fs)
        return np.asarray((1.0 - kept) / (1.0 - kept / z))
    # the bilinear map of the analogue prototype in S = s / w0, corner frequency kept
    analogue = (z - 1.0) / (z + 1.0) / math.tan(math.pi * part.frequency / fs)
    bottom = analogue * analogue + analogue / part.quality + 1.0
    top = analogue * analogue + 1.0 if part.kind is FilterKind.NOTCH else np.ones_like(analogue)
    return np.asarray(top / bottom)


def _controllers(controller: Controller, frequency: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Cr and Cy, (3, f)."""
    fs = controller.loop_rate
    z = np.exp(2j * math.pi * frequency / fs)
    gyro = np.ones_like(z)
    for part in controller.gyro_filters:
        gyro = gyro * _filter(part, z, fs)
    slope = gyro
    for part in controller.d_filters:
        slope = slope * _filter(part, z, fs)
    difference = (1.0 - 1.0 / z) * fs
    kp, ki, kd, kf = (
        np.array(gain)[:, None] for gain in (controller.kp, controller.ki, controller.kd, controller.kf)
    )
    error = kp + ki / difference
    return np.asarray(error + kf * difference), np.asarray(error * gyro + kd * difference * slope)


def responses(
    airframe: Airframe, controller: Controller, point: OperatingPoint, frequency: FloatArray
) -> Responses:
    """All responses at frequencies in Hz."""
    frequency = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    plants = _plants(airframe, controller, point, frequency)
    command, feedback = _controllers(controller, frequency)
    c = point.compensation
    inward = plants * c * feedback.T[:, None, :]
    outward = plants * c * command.T[:, None, :]
    crossed = np.linalg.solve(np.eye(3) + inward, outward)
    response = np.stack([crossed[:, a, a] for a in range(3)])
    plant = response / (c * (command - feedback * response))
    loop = plant * c * feedback
    return Responses(frequency, plant, command, feedback, loop, response, np.asarray(crossed))


Curve = Callable[[float], float]


def _refine(curve: Curve, low: float, high: float) -> float:
    """Root of a curve between two frequencies of opposite sign (bisection to 1e-12 of the frequency)."""
    at_low = curve(low)
    for _ in range(60):
        middle = 0.5 * (low + high)
        at_middle = curve(middle)
        if (at_middle < 0.0) == (at_low < 0.0):
            low, at_low = middle, at_middle
        else:
            high = middle
        if high - low < 1e-12 * high:
            break
    return 0.5 * (low + high)


def _roots(grid: FloatArray, values: FloatArray, curve: Curve) -> list[float]:
    signs = np.signbit(values)
    return [_refine(curve, grid[i], grid[i + 1]) for i in np.flatnonzero(signs[1:] != signs[:-1])]


def _peak(grid: FloatArray, values: FloatArray, curve: Curve) -> tuple[float, float]:
    """Greatest value between 0.3 Hz and the end by golden section about the grid's greatest."""
    place = int(np.argmax(values))
    low, high = grid[max(place - 1, 0)], grid[min(place + 1, grid.size - 1)]
    golden = 0.5 * (math.sqrt(5.0) - 1.0)
    for _ in range(50):
        left, right = high - golden * (high - low), low + golden * (high - low)
        if curve(left) > curve(right):
            high = right
        else:
            low = left
    found = 0.5 * (low + high)
    return found, curve(found)


@dataclass(frozen=True)
class _Unwrapped:
    """Continuous phase (deg) of one axis' response at any frequency, and its parts."""

    grid: FloatArray
    phase: FloatArray
    at: Callable[[float], complex]

    def __call__(self, frequency: float) -> float:
        near = float(np.interp(frequency, self.grid, self.phase))
        raw = math.degrees(np.angle(self.at(frequency)))
        return raw + 360.0 * round((near - raw) / 360.0)


def _unwrapped(grid: FloatArray, values: ComplexArray, at: Callable[[float], complex]) -> _Unwrapped:
    return _Unwrapped(grid, np.degrees(np.unwrap(np.angle(values))), at)


def axis_truth(
    airframe: Airframe, controller: Controller, point: OperatingPoint, axis: int, *, points: int = 600
) -> AxisTruth:
    """The figures of one axis."""
    top = min(0.45 * controller.loop_rate, 400.0)
    grid = np.geomspace(0.02, top, points)
    whole = responses(airframe, controller, point, grid)
    return _figures(airframe, controller, point, axis, whole)


def _figures(
    airframe: Airframe, controller: Controller, point: OperatingPoint, axis: int, whole: Responses
) -> AxisTruth:
    grid, loop, response = whole.frequency, whole.loop[axis], whole.response[axis]

    def loop_at(f: float) -> complex:
        return complex(responses(airframe, controller, point, np.array([f])).loop[axis, 0])

    def response_at(f: float) -> complex:
        return complex(responses(airframe, controller, point, np.array([f])).response[axis, 0])

    nan = math.nan
    phase_t, phase_l = _unwrapped(grid, response, response_at), _unwrapped(grid, loop, loop_at)
    bandwidth = next(iter(_roots(grid, phase_t.phase + 45.0, lambda f: phase_t(f) + 45.0)), nan)
    f180 = next(iter(_roots(grid, phase_t.phase + 90.0, lambda f: phase_t(f) + 90.0)), nan)
    by_gain, delay = nan, nan
    if not math.isnan(f180):
        wanted = 2.0 * abs(response_at(f180)) / f180 * 10.0 ** (6.0 / 20.0) / 2.0
        attitude = np.abs(response) / grid - wanted
        below = [f for f in _roots(grid, attitude, lambda f: abs(response_at(f)) / f - wanted) if f < f180]
        by_gain = below[-1] if below else nan
        if 2.0 * f180 < grid[-1]:
            delay = -(phase_t(2.0 * f180) + 90.0) / (360.0 * 2.0 * f180)
    crossings = _roots(grid, np.abs(loop) - 1.0, lambda f: abs(loop_at(f)) - 1.0)
    crossover = crossings[-1] if crossings else nan
    margin = 180.0 + phase_l(crossover) if crossings else nan
    turns = [
        f for f in _roots(grid, phase_l.phase + 180.0, lambda f: phase_l(f) + 180.0) if not f < crossover
    ]
    gain_margin = -20.0 * math.log10(abs(loop_at(turns[0]))) if turns else nan
    peak_at, peak = _peak(grid, np.abs(1.0 / (1.0 + loop)), lambda f: abs(1.0 / (1.0 + loop_at(f))))
    return AxisTruth(
        bandwidth, by_gain, f180, delay, crossover, margin, gain_margin, turns[0] if turns else nan, peak, peak_at,
        crossings[0] if crossings else nan,
    )  # fmt: skip


def truth(airframe: Airframe, controller: Controller, point: OperatingPoint) -> dict[str, AxisTruth]:
    """The figures of all axes at an operating point."""
    grid = np.geomspace(0.02, min(0.45 * controller.loop_rate, 400.0), 600)
    whole = responses(airframe, controller, point, grid)
    return {name: _figures(airframe, controller, point, axis, whole) for axis, name in enumerate(AXES)}


def is_stable(airframe: Airframe, controller: Controller, point: OperatingPoint) -> bool:
    """Whether the loop of all three axes is stable, by the winding of ``det(1 + L)`` (no open-loop pole outside).

    The integral's pole at zero frequency is passed on the right: three of them add 3/4 turn, and a damped
    plant none.
    """
    grid = np.concatenate(
        (np.geomspace(1e-4, 1.0, 400), np.geomspace(1.0, 0.5 * controller.loop_rate, 4000)[1:])
    )
    plants = _plants(airframe, controller, point, grid)
    _, feedback = _controllers(controller, grid)
    full = np.eye(3) + plants * point.compensation * feedback.T[:, None, :]
    phase = np.unwrap(np.angle(np.linalg.det(full)))
    integrators = sum(1 for gain in controller.ki if gain > 0.0)
    return bool(abs(float(phase[-1] - phase[0]) - 0.5 * math.pi * integrators) < 0.3)
