"""The known truth of a simulated aircraft, in the frequency domain, from its parameters alone.

Shares no code with the simulator's loop: transfer functions are written down here and evaluated at
``z = exp(jw / loop rate)`` (rotors, body, frame and delays as the exact pulse response of their poles;
controller and filters as they are), linearised at an operating point.

Definitions. ``P``: achieved differential motor command (axis command units, as logged) to raw gyro rate, the
other axes' loops closed. ``Cr``, ``Cy``: command and raw rate to controller output. ``L = P c Cy``,
``T = P c Cr / (1 + L)`` with ``c`` what voltage compensation multiplies the motors by (1 without). Bandwidths
and phase delay follow the attitude definitions of ADS-33E-PRF applied to ``T / (jw)``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.simulate.airframe import Airframe
from asflown.core.behaviour.simulate.controller import (
    Controller,
    FilterKind,
    LogSetup,
    LoopFilter,
    RateSource,
)

if TYPE_CHECKING:
    from asflown.core.behaviour.simulate.run import SimulatedFlight

FloatArray = npt.NDArray[np.float64]
ComplexArray = npt.NDArray[np.complex128]

AXES = ("roll", "pitch", "yaw")


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
    """Frequency responses (axis, frequency) of the raw rate.

    ``plant`` P, ``command`` Cr, ``feedback`` Cy, ``loop`` L, ``response`` T of one axis each; ``crossed``
    is T of the whole aircraft (frequency, axis out, axis in).
    """

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
        Hz, by the phase rule (phase of T = -45 deg) and by the gain rule (T / jw 6 dB above that at f180).
    f180
        Hz, where the phase of T is -90 deg.
    phase_delay
        s.
    crossover, crossover_first
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
    crossover_first: float


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


def _poles(airframe: Airframe, axis: int) -> list[tuple[complex, complex]]:
    """Poles and residues of axis command equivalent of the commands to measured rate, without the delay.

    ``gain ((1 + lead s) / (s + d) + participation s / (s^2 + 2 damping w s + w^2)) / (1 + lag s)`` in partial
    fractions; the poles are distinct for any real aircraft.
    """
    lag, slow = rotor_lag(airframe), -max(airframe.damping[axis], 1e-9)
    fast = -1.0 / lag
    lead = airframe.reaction_lead if axis == 2 else 0.0
    gain = airframe.gain[axis]
    found = [
        (complex(slow), complex(gain * (1.0 + lead * slow) / (1.0 + lag * slow))),
        (complex(fast), complex(gain * (1.0 + lead * fast) / (fast - slow) / lag)),
    ]
    mode = airframe.frame[axis]
    if mode is not None:
        w = 2.0 * math.pi * mode.frequency
        ring = complex(-mode.damping * w, w * math.sqrt(1.0 - mode.damping**2))
        share = gain * mode.participation
        for pole in (ring, ring.conjugate()):
            found.append((pole, share * pole / (pole - pole.conjugate()) / (1.0 + lag * pole)))
        bottom = fast * fast + 2.0 * mode.damping * w * fast + w * w
        found.append((complex(fast), complex(share * fast / bottom / lag)))
    return found


def _plants(
    airframe: Airframe, controller: Controller, point: OperatingPoint, frequency: FloatArray
) -> ComplexArray:
    """(f, 3, 3): logged axis commands to measured rates, held commands, sampled rates.

    Exact: a pole p with residue r, its input held for a step h, late by m whole steps and a rest q h, gives
    ``r / p ((e^(p h (1-q)) - 1) z^-(1+m) + (e^(p h) - e^(p h (1-q))) z^-(2+m)) / (1 - e^(p h) z^-1)``
    (the modified z-transform).
    """
    h = 1.0 / controller.loop_rate
    late = controller.computation_steps + (controller.output_delay + airframe.delay) / h
    whole = math.floor(late + 1e-9)
    rest = late - whole if late - whole > 1e-6 else 0.0
    back = np.exp(-2j * math.pi * frequency * h)
    shape = np.zeros((3, frequency.size), dtype=np.complex128)
    for axis in range(3):
        for pole, residue in _poles(airframe, axis):
            part = np.expm1(pole * h * (1.0 - rest))
            first, second = part, np.expm1(pole * h) - part
            top = (first + second * back) * back ** (1 + whole)
            shape[axis] += residue / pole * top / (1.0 - np.exp(pole * h) * back)
    mixer = np.array(controller.mixer)
    effect = np.linalg.pinv(mixer) if airframe.effect is None else np.array(airframe.effect)
    coupling = effect @ np.diag(point.slopes) @ mixer
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


def controllers(controller: Controller, frequency: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Cr and Cy, (3, f)."""
    fs = controller.loop_rate
    z = np.exp(2j * math.pi * frequency / fs)
    gyro = np.ones((3, z.size), dtype=np.complex128)
    for part in controller.gyro_filters:
        gyro = gyro * _filter(part, z, fs)
    for part in controller.yaw_filters:
        gyro[2] *= _filter(part, z, fs)
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
    command, feedback = controllers(controller, frequency)
    c = point.compensation
    inward = plants * c * feedback.T[:, None, :]
    outward = plants * c * command.T[:, None, :]
    crossed = np.linalg.solve(np.eye(3) + inward, outward)
    response = np.stack([crossed[:, a, a] for a in range(3)])
    plant = response / (c * (command - feedback * response))
    loop = plant * c * feedback
    return Responses(frequency, plant, command, feedback, loop, response, np.asarray(crossed))


Curve = Callable[[FloatArray], FloatArray]
_ZOOM = 48  # points a look, between the neighbours of what was found the look before


def _root(curve: Curve, low: float, high: float) -> float:
    """Root of a curve that changes its sign once in between, to 1e-11 of the frequency."""
    for _ in range(4):
        grid = np.linspace(low, high, _ZOOM)
        values = curve(grid)
        place = int(np.flatnonzero(np.signbit(values[1:]) != np.signbit(values[:-1]))[0])
        low, high = float(grid[place]), float(grid[place + 1])
    left, right = values[place], values[place + 1]
    return float(low - left * (high - low) / (right - left))


def _roots(grid: FloatArray, values: FloatArray, curve: Curve) -> list[float]:
    signs = np.signbit(values)
    return [_root(curve, grid[i], grid[i + 1]) for i in np.flatnonzero(signs[1:] != signs[:-1])]


def _peak(grid: FloatArray, values: FloatArray, curve: Curve) -> tuple[float, float]:
    """Where the greatest value lies, and the value."""
    place = int(np.argmax(values))
    low, high = float(grid[max(place - 1, 0)]), float(grid[min(place + 1, grid.size - 1)])
    for _ in range(3):
        near = np.linspace(low, high, _ZOOM)
        found = curve(near)
        place = int(np.argmax(found))
        low, high = float(near[max(place - 1, 0)]), float(near[min(place + 1, _ZOOM - 1)])
    return float(near[place]), float(found[place])


@dataclass(frozen=True)
class _Axis:
    """One axis' curves at any frequency; phases in deg, continuous from zero frequency on."""

    airframe: Airframe
    controller: Controller
    point: OperatingPoint
    axis: int
    whole: Responses

    def _at(self, frequency: FloatArray) -> Responses:
        return responses(self.airframe, self.controller, self.point, frequency)

    def loop(self, frequency: FloatArray) -> ComplexArray:
        return np.asarray(self._at(frequency).loop[self.axis])

    def response(self, frequency: FloatArray) -> ComplexArray:
        return np.asarray(self._at(frequency).response[self.axis])

    def _phase(self, known: ComplexArray, at: ComplexArray, frequency: FloatArray) -> FloatArray:
        along = np.degrees(np.unwrap(np.angle(known)))
        along -= 360.0 * round((along[0] - math.degrees(np.angle(known[0]))) / 360.0)
        raw = np.degrees(np.angle(at))
        near = np.interp(frequency, self.whole.frequency, along)
        return np.asarray(raw + 360.0 * np.round((near - raw) / 360.0))

    def loop_phase(self, frequency: FloatArray) -> FloatArray:
        return self._phase(self.whole.loop[self.axis], self.loop(frequency), frequency)

    def response_phase(self, frequency: FloatArray) -> FloatArray:
        return self._phase(self.whole.response[self.axis], self.response(frequency), frequency)


def _one(value: float) -> FloatArray:
    return np.array([value])


def _handling(one: _Axis) -> tuple[float, float, float, float]:
    """Bandwidth by phase and by gain, f180 (Hz), phase delay (s)."""
    grid, response = one.whole.frequency, one.whole.response[one.axis]
    phase, nan = one.response_phase(grid), math.nan
    bandwidth = next(iter(_roots(grid, phase + 45.0, lambda f: one.response_phase(f) + 45.0)), nan)
    f180 = next(iter(_roots(grid, phase + 90.0, lambda f: one.response_phase(f) + 90.0)), nan)
    if math.isnan(f180):
        return bandwidth, nan, nan, nan
    wanted = 10.0 ** (6.0 / 20.0) * abs(one.response(_one(f180))[0]) / f180
    above = _roots(grid, np.abs(response) / grid - wanted, lambda f: np.abs(one.response(f)) / f - wanted)
    below = [f for f in above if f < f180]
    delay = nan
    if 2.0 * f180 < grid[-1]:
        delay = -(one.response_phase(_one(2.0 * f180))[0] + 90.0) / (360.0 * 2.0 * f180)
    return bandwidth, below[-1] if below else nan, f180, float(delay)


def _figures(one: _Axis) -> AxisTruth:
    bandwidth, by_gain, f180, delay = _handling(one)
    grid, loop, nan = one.whole.frequency, one.whole.loop[one.axis], math.nan
    crossings = _roots(grid, np.abs(loop) - 1.0, lambda f: np.abs(one.loop(f)) - 1.0)
    crossover = crossings[-1] if crossings else nan
    margin = 180.0 + float(one.loop_phase(_one(crossover))[0]) if crossings else nan
    turns = _roots(grid, one.loop_phase(grid) + 180.0, lambda f: one.loop_phase(f) + 180.0)
    turn = next((f for f in turns if not f < crossover), nan)
    gain_margin = nan if math.isnan(turn) else -20.0 * math.log10(abs(one.loop(_one(turn))[0]))
    peak_at, peak = _peak(grid, np.abs(1.0 / (1.0 + loop)), lambda f: np.abs(1.0 / (1.0 + one.loop(f))))
    return AxisTruth(
        bandwidth=bandwidth,
        bandwidth_gain=by_gain,
        f180=f180,
        phase_delay=delay,
        crossover=crossover,
        phase_margin=margin,
        gain_margin=gain_margin,
        phase_crossover=turn,
        peak_sensitivity=peak,
        peak_frequency=peak_at,
        crossover_first=crossings[0] if crossings else nan,
    )


def logged_rate(controller: Controller, log: LogSetup, frequency: FloatArray) -> ComplexArray:
    """What the log's setup makes of the raw rate: gyro filters where filtered, means where averaged."""
    z = np.exp(2j * math.pi * np.asarray(frequency) / controller.loop_rate)
    out = np.ones_like(z)
    if log.rate_source is RateSource.FILTERED:
        for part in controller.gyro_filters:
            out = out * _filter(part, z, controller.loop_rate)
        if controller.yaw_filters:
            raise ValueError("filtered rates with filters of yaw alone are not told here")
    if log.averaged:
        count = round(controller.loop_rate / log.rate)
        out = out * np.mean([z ** (-step) for step in range(count)], axis=0)
    return np.asarray(out)


def truth(airframe: Airframe, controller: Controller, point: OperatingPoint) -> dict[str, AxisTruth]:
    """The figures of all axes at an operating point."""
    grid = np.geomspace(0.02, min(0.45 * controller.loop_rate, 400.0), 600)
    whole = responses(airframe, controller, point, grid)
    return {name: _figures(_Axis(airframe, controller, point, axis, whole)) for axis, name in enumerate(AXES)}


def is_stable(airframe: Airframe, controller: Controller, point: OperatingPoint) -> bool:
    """Whether the loop of all three axes is stable, by the winding of ``det(1 + L)``.

    No open-loop pole is outside.

    The integral's pole at zero frequency is passed on the right: three of them add 3/4 turn, and a damped
    plant none.
    """
    grid = np.concatenate(
        (np.geomspace(1e-4, 1.0, 200), np.geomspace(1.0, 0.5 * controller.loop_rate, 1500)[1:])
    )
    plants = _plants(airframe, controller, point, grid)
    _, feedback = controllers(controller, grid)
    full = np.eye(3) + plants * point.compensation * feedback.T[:, None, :]
    phase = np.unwrap(np.angle(np.linalg.det(full)))
    integrators = sum(1 for gain in controller.ki if gain > 0.0)
    return bool(abs(float(phase[-1] - phase[0]) - 0.5 * math.pi * integrators) < 0.3)
