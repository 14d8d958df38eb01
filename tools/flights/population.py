"""Random aircraft with a known truth, flown by a simulated pilot: the population every coverage run flies.

``python tools/flights/population.py --seed 3 --structure linear --seconds 60 --out f.parquet``

Ranges (uniform unless said; set from common practice for quads of 0.3 to 5 kg, no source):

- rotors: lag 15 to 40 ms, pure delay 0.5 to 3 ms, hover at 0.2 to 0.42 of full thrust, full speed 280 to
  600 rev/s; angular acceleration of a unit of roll command about hover 200 to 1200 rad/s^2 (log-uniform),
  pitch 0.75 to 1.1 of it, yaw 30 to 150; damping 0.3 to 2 1/s.
- controller: 4 kHz (one in six 2 kHz), one or two steps of computation and up to 0.4 ms of output; gyro
  low-pass 100 to 250 Hz of first or second order, in one of three a notch at 140 to 260 Hz; derivative
  low-pass 60 to 120 Hz; derivative time 0.4 to 1.3 of the rotor lag; integral 0.4 to 3 1/s of the
  proportional; in one of three a feed-forward of 0.2 to 0.7 of the inverse plant. Gains are set for a
  wanted crossover of 5.5 to 20 Hz, one for 25 to 80 rad/s^2 of authority (yaw 1.8 to 6 Hz, 12 to 30
  rad/s^2).
- sensors: gyro noise 0.005 to 0.02 deg/s/rtHz, vibration of each rotor 0.3 to 4 deg/s at full speed, less
  where the controller would shake the motors by more than 1.5 % rms in hover.
- air: turbulence 0.4 to 2.5 rad/s^2 rms below 0.7 to 3 Hz (first or second order), rotor wake 2 to 8
  rad/s^2 in hard manoeuvres; ``wind`` scales both.
- log: 1000 Hz, one in eight 500, one in eight 2000.
- kept where every axis is stable with peak sensitivity under 3 (also with a full and a low pack), and roll
  and pitch have a crossover of 5 to 20 Hz, phase margin 30 to 70 deg, gain margin 4 to 14 dB at 25 to 80
  Hz.

Structures: ``linear``; ``quadratic`` (thrust with the square of the command); ``flexible`` (frame mode of
55 to 110 Hz on roll and pitch); ``unequal`` (each motor 0.85 to 1.12 of nominal, thrust exponent 1 to 2);
``compensated`` (voltage compensation in firmware, exponent 1 to 2); ``spin`` (rotors slow down up to 1.5
times slower than they speed up, yaw reaction lead of 5 to 30 ms); ``mixed`` (any of them together).
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import truth as known

from asflown.core.behaviour.simulate import (
    Activity,
    Air,
    Airframe,
    Battery,
    Commands,
    Controller,
    FilterKind,
    FrameMode,
    Levelling,
    LogSetup,
    LoopFilter,
    SimulatedFlight,
    fly_freely,
    simulate,
)

STRUCTURES = ("linear", "quadratic", "flexible", "unequal", "compensated", "spin", "mixed")
_MOST_DRAWS = 2000  # before a seed is given up
#: Share of loop steps with a clipped motor the pilot's hand is fitted to.
_SATURATION = {"still": (0.0, 1.0), "low": (0.0, 0.005), "normal": (0.0, 0.03), "high": (0.1, 0.2)}
_NOISE_SHARE = 0.015  # of full command, rms, that vibration makes of the control in hover at most


def _airframe(random: np.random.Generator, traits: frozenset[str]) -> Airframe:
    exponent = 1.0
    if "quadratic" in traits:
        exponent = 2.0
    elif traits & {"unequal", "compensated"}:
        exponent = random.uniform(1.0, 2.0)
    hover = random.uniform(0.2, 0.42)
    slope = exponent * hover ** ((exponent - 1.0) / exponent)
    roll = math.exp(random.uniform(math.log(200.0), math.log(1200.0)))
    gains = (roll / slope, roll * random.uniform(0.75, 1.1) / slope, random.uniform(30.0, 150.0) / slope)
    lag = random.uniform(0.015, 0.040)
    slower = random.uniform(1.1, 1.5) if "spin" in traits else 1.0
    modes: list[FrameMode | None] = [None, None, None]
    if "flexible" in traits:
        for axis in range(2):
            modes[axis] = FrameMode(
                random.uniform(55.0, 110.0), random.uniform(0.02, 0.08), random.uniform(0.03, 0.15)
            )
    strength: tuple[float, ...] = (1.0,) * 4
    if "unequal" in traits:
        strength = tuple(float(value) for value in random.uniform(0.85, 1.12, 4))
    shake = math.radians(random.uniform(0.3, 4.0))
    hover_current = random.uniform(8.0, 16.0)
    full_current = hover_current / hover**1.5
    wind, wake = random.uniform(0.4, 2.5), random.uniform(2.0, 8.0)
    return Airframe(
        gain=gains,
        damping=tuple(float(value) for value in random.uniform(0.3, 2.0, 3)),  # type: ignore[arg-type]
        lag_up=lag / math.sqrt(slower),
        lag_down=lag * math.sqrt(slower),
        thrust_exponent=exponent,
        strength=strength,
        reaction_lead=random.uniform(0.005, 0.03) if "spin" in traits else 0.0,
        delay=random.uniform(0.0005, 0.003),
        frame=(modes[0], modes[1], modes[2]),
        hover=hover,
        rotor_speed_full=random.uniform(280.0, 600.0),
        vibration=tuple(float(value) for value in shake * random.uniform(0.4, 1.6, 4)),
        harmonic=random.uniform(0.2, 0.6),
        accel_vibration=random.uniform(3.0, 25.0),
        gyro_noise=math.radians(math.exp(random.uniform(math.log(0.005), math.log(0.02)))),
        battery=Battery(
            capacity=hover_current * random.uniform(360.0, 600.0),
            resistance=random.uniform(0.25, 0.6) / hover_current,
            full_current=full_current,
        ),
        air=Air(
            (wind, wind * random.uniform(0.8, 1.2), 0.3 * wind),
            random.uniform(0.7, 3.0),
            int(random.integers(1, 3)),
            (wake, wake, 0.3 * wake),
            random.uniform(8.0, 16.0),
        ),
    )


def _controller(
    random: np.random.Generator, airframe: Airframe, traits: frozenset[str], loop_rate: float | None
) -> Controller:
    """With gains for a plant of gain one; :func:`_tuned` scales them."""
    drawn = 2000.0 if random.random() < 1.0 / 6.0 else 4000.0
    kind = FilterKind.ONE_POLE if random.random() < 0.5 else FilterKind.LOW_PASS
    gyro = [LoopFilter(kind, random.uniform(100.0, 250.0))]
    if random.random() < 1.0 / 3.0:
        gyro.append(LoopFilter(FilterKind.NOTCH, random.uniform(140.0, 260.0), random.uniform(2.0, 4.0)))
    time = random.uniform(0.4, 1.3) * 0.5 * (airframe.lag_up + airframe.lag_down)
    share = random.uniform(0.4, 3.0)
    forward = random.uniform(0.2, 0.7) if random.random() < 1.0 / 3.0 else 0.0
    return Controller(
        loop_rate=loop_rate or drawn,
        kp=(1.0, 1.0, 1.0),
        ki=(share, share, share),
        kd=(time, time, 0.0),
        kf=(forward, forward, 0.0),
        gyro_filters=tuple(gyro),
        d_filters=(LoopFilter(FilterKind.ONE_POLE, random.uniform(60.0, 120.0)),),
        computation_steps=int(random.integers(1, 3)),
        output_delay=random.uniform(0.0, 0.0004),
        compensate_to=airframe.reference_voltage if "compensated" in traits else None,
    )


def _tuned(random: np.random.Generator, airframe: Airframe, controller: Controller) -> Controller:
    point = known.at_hover(airframe, controller)
    flat = replace(airframe, strength=(1.0,) * airframe.motors)
    slope = float(np.mean(known.at_hover(flat, controller).slopes))
    roll_gain, yaw_gain = slope * airframe.gain[0], slope * airframe.gain[2]
    roll = random.uniform(max(5.5, roll_gain / 80.0), min(20.0, roll_gain / 25.0))
    yaw = random.uniform(max(1.8, yaw_gain / 30.0), min(6.0, yaw_gain / 12.0))
    wanted = (roll, roll * random.uniform(0.8, 1.1), yaw)
    loops = known.responses(flat, controller, point, np.array(wanted)).loop
    scale = [1.0 / abs(loops[axis, axis]) for axis in range(3)]
    forward = [controller.kf[axis] / (airframe.gain[axis] * slope) for axis in range(3)]

    def scaled(gains: tuple[float, float, float]) -> tuple[float, float, float]:
        return gains[0] * scale[0], gains[1] * scale[1], gains[2] * scale[2]

    return replace(
        controller,
        kp=scaled(controller.kp),
        ki=scaled(controller.ki),
        kd=scaled(controller.kd),
        kf=(forward[0], forward[1], 0.0),
    )


def _quietened(airframe: Airframe, controller: Controller) -> Airframe:
    """With vibration no stronger than the filters leave the motors in peace with: a builder sees to that."""
    point = known.at_hover(airframe, controller)
    turning = np.array([airframe.rotor_speed_full * math.sqrt(airframe.hover)])
    gain = np.abs(known.responses(airframe, controller, point, turning).feedback[:2, 0]).max()
    made = gain * airframe.hover * math.sqrt(0.5 * sum(value * value for value in airframe.vibration))
    factor = min(1.0, _NOISE_SHARE / made)
    return replace(airframe, vibration=tuple(factor * value for value in airframe.vibration))


def _plausible(loop: np.ndarray, grid: np.ndarray) -> bool:
    """Whether roll and pitch are near the ranges wanted, by the grid alone: sorts most draws out cheaply."""
    for axis in range(2):
        size, turn = np.abs(loop[axis]), np.unwrap(np.angle(loop[axis]))
        above = np.flatnonzero(size >= 1.0)
        late = np.flatnonzero(turn <= -math.pi)
        if not above.size or not late.size:
            return False
        crossing, turning = int(above[-1]), int(late[0])
        if not (4.5 <= grid[crossing] <= 21.0 and 24.0 <= grid[turning] <= 83.0):
            return False
        margin = 180.0 + math.degrees(turn[crossing])
        if not (26.0 <= margin <= 74.0 and 0.18 <= size[turning] <= 0.66):
            return False
    return True


def _acceptable(airframe: Airframe, controller: Controller) -> bool:
    grid = np.geomspace(0.3, 400.0, 240)
    for voltage in (airframe.reference_voltage, airframe.battery.full, 0.94 * airframe.reference_voltage):
        point = known.at_hover(airframe, controller, voltage)
        loop = known.responses(airframe, controller, point, grid).loop
        if voltage == airframe.reference_voltage and not _plausible(loop, grid):
            return False
        if np.max(np.abs(1.0 / (1.0 + loop))) > 3.0 or not known.is_stable(airframe, controller, point):
            return False
    figures = known.truth(airframe, controller, known.at_hover(airframe, controller))
    yaw = figures["yaw"]
    return (
        all(_within(figures[axis]) for axis in ("roll", "pitch"))
        and 1.5 <= yaw.crossover <= 10.0
        and yaw.phase_margin >= 30.0
    )


def _within(one: known.AxisTruth) -> bool:
    return (
        5.0 <= one.crossover <= 20.0
        and 30.0 <= one.phase_margin <= 70.0
        and 4.0 <= one.gain_margin <= 14.0
        and 25.0 <= one.phase_crossover <= 80.0
    )


def traits_of(seed: int, structure: str) -> frozenset[str]:
    """What a structure word means for a seed: itself, or a random choice of them for ``mixed``."""
    if structure not in STRUCTURES:
        raise ValueError(f"structure {structure!r}: one of {', '.join(STRUCTURES)}")
    if structure != "mixed":
        return frozenset({structure})
    random = np.random.default_rng((seed, 101))
    kinds = STRUCTURES[1:-1]
    return frozenset(kind for kind in kinds if random.random() < 0.45)


def draw(
    seed: int, structure: str = "linear", *, loop_rate: float | None = None
) -> tuple[Airframe, Controller]:
    """The aircraft of a seed: the first draw within the ranges of the module's docstring.

    Raises
    ------
    ValueError
        For an unknown structure.
    """
    traits = traits_of(seed, structure)
    random = np.random.default_rng((seed, STRUCTURES.index(structure)))
    for _ in range(_MOST_DRAWS):
        airframe = _airframe(random, traits)
        controller = _tuned(random, airframe, _controller(random, airframe, traits, loop_rate))
        if _acceptable(airframe, controller):
            return _quietened(airframe, controller), controller
    raise RuntimeError(f"no aircraft within the ranges in {_MOST_DRAWS} draws of seed {seed}, {structure}")


def log_rate(seed: int) -> float:
    """Hz: 1000, for one seed in eight 500, for one in eight 2000."""
    return (500.0, 2000.0, *(6 * (1000.0,)))[int(np.random.default_rng((seed, 102)).integers(0, 8))]


def commands_of(
    seed: int, airframe: Airframe, seconds: float, activity: str, *, sticks: bool = False
) -> Commands:
    """The pilot of a seed."""
    return fly_freely(
        np.random.default_rng((seed, 103)),
        seconds,
        Activity(activity),
        hover=airframe.hover ** (1.0 / airframe.exponent),
        sticks=sticks,
    )


def levelled(seed: int, controller: Controller) -> Controller:
    """The controller with a self-levelling loop around it."""
    random = np.random.default_rng((seed, 104))
    loop = Levelling(random.uniform(3.0, 7.0), random.uniform(0.6, 1.0), random.uniform(4.0, 8.0))
    return replace(controller, levelling=loop)


def fly(
    seed: int,
    structure: str = "linear",
    seconds: float = 60.0,
    activity: str = "normal",
    *,
    wind: float = 1.0,
    level: bool = False,
    log: LogSetup | None = None,
    loop_rate: float | None = None,
    aircraft: tuple[Airframe, Controller] | None = None,
) -> SimulatedFlight:
    """Fly the aircraft of a seed.

    The pilot's hand is fitted to the aircraft: smaller where the motors would saturate for more than 0.5 % of
    the time (low) or 3 % (normal), and such that 10 to 20 % saturate at high activity; 120 s decide.
    Where an aircraft cannot be brought there within a size of 0.25 to 2.5, the nearest is flown.

    Parameters
    ----------
    activity
        ``still``, ``low``, ``normal`` or ``high``.
    wind
        Scales turbulence and wake: 0 still air, 1 light, 4 strong.
    level
        Flown self-levelled: the rate command answers the disturbance, the stick does not.
    aircraft
        What :func:`draw` gave, to save drawing it again.
    """
    flown = by_hand(
        seed,
        structure,
        seconds,
        activity,
        wind=wind,
        level=level,
        log=log,
        loop_rate=loop_rate,
        aircraft=aircraft,
    )
    return fitted(flown, seconds, activity)[0]


def by_hand(
    seed: int,
    structure: str = "linear",
    seconds: float = 60.0,
    activity: str = "normal",
    *,
    wind: float = 1.0,
    level: bool = False,
    log: LogSetup | None = None,
    loop_rate: float | None = None,
    aircraft: tuple[Airframe, Controller] | None = None,
) -> Callable[[float, float], SimulatedFlight]:
    """The flight of a seed for a size of the pilot's hand and a length in s; see :func:`fly`."""
    airframe, controller = aircraft or draw(seed, structure, loop_rate=loop_rate)
    air = airframe.air
    airframe = replace(
        airframe,
        air=replace(
            air,
            turbulence=tuple(wind * value for value in air.turbulence),  # type: ignore[arg-type]
            wake=tuple(wind * value for value in air.wake),  # type: ignore[arg-type]
        ),
    )
    if level:
        controller = levelled(seed, controller)
    commands = commands_of(seed, airframe, seconds, activity, sticks=level)
    setup = log or LogSetup(rate=log_rate(seed))

    def flown(size: float, length: float) -> SimulatedFlight:
        hand = np.array([size, size, size, 1.0])
        limit = 1.0 if level else 14.0
        values = np.clip(commands.values * hand, -limit, limit)
        return simulate(airframe, controller, Commands(commands.rate, values), length, seed=seed, log=setup)

    return flown


def fitted(
    flown: Callable[[float, float], SimulatedFlight], seconds: float, activity: str
) -> tuple[SimulatedFlight, float]:
    """The flight with the hand fitted to the aircraft, and the hand's size."""
    low, high = _SATURATION[activity]
    small, large, size = 0.0, math.inf, 1.0
    length = min(seconds, 120.0)
    flight = flown(size, length)
    for _ in range(9):
        if low <= flight.saturated <= high:
            break
        if flight.saturated > high:
            large = size
        else:
            small = size
        if large == math.inf:
            size *= 1.25
        elif small == 0.0:
            size *= 0.8
        else:
            size = math.sqrt(small * large)
        if not 0.25 <= size <= 2.5:
            break
        flight = flown(size, length)
    if length == seconds:
        return flight, size
    size = min(max(size, 0.25), 2.5)
    return flown(size, seconds), size


def truth_of(
    seed: int,
    structure: str,
    flight: SimulatedFlight,
    *,
    loop_rate: float | None = None,
    aircraft: tuple[Airframe, Controller] | None = None,
) -> dict[str, known.AxisTruth]:
    """Figures of the three axes, linearised at the flight's mean slope of each motor's thrust.

    Where thrust bends with the command and the throttle moves, spectra of rates over *motor commands* lie off
    this plant by up to 7 % at normal activity and 12 % at high (a strong loop shows the mean of 1 / P, not
    of P); over *thrusts*, the curve applied to motor command times voltage, by up to 2 % (2 to 9 Hz, nine
    aircraft, 240 s each).
    """
    airframe, controller = aircraft or draw(seed, structure, loop_rate=loop_rate)
    return known.truth(airframe, controller, known.of_flight(airframe, controller, flight))


def write(flight: SimulatedFlight, path: Path) -> None:
    """Columns by canonical name into a Parquet or CSV file (by its ending)."""
    import polars

    table = polars.DataFrame({"time": flight.time, **flight.values})
    if path.suffix == ".csv":
        table.write_csv(path, float_precision=7)
    else:
        table.write_parquet(path)


def main() -> None:
    """Fly one aircraft, write its log, print its truth."""
    parser = argparse.ArgumentParser(description="Fly one aircraft of the population and write its log.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--structure", choices=STRUCTURES, default="linear")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--activity", choices=[str(kind) for kind in Activity], default="normal")
    parser.add_argument("--wind", type=float, default=1.0)
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    aircraft = draw(asked.seed, asked.structure)
    flight = fly(
        asked.seed, asked.structure, asked.seconds, asked.activity, wind=asked.wind, aircraft=aircraft
    )
    write(flight, asked.out)
    print(f"{flight.time.size} rows at {flight.log.rate:g} Hz, {100 * flight.saturated:.2f} % saturated")
    for axis, one in truth_of(asked.seed, asked.structure, flight, aircraft=aircraft).items():
        print(
            f"{axis}: bandwidth {one.bandwidth:.3f} Hz, phase delay {1e3 * one.phase_delay:.2f} ms, crossover"
            f" {one.crossover:.3f} Hz, phase margin {one.phase_margin:.2f} deg, gain margin"
            f" {one.gain_margin:.2f} dB, peak sensitivity {one.peak_sensitivity:.3f}"
        )


if __name__ == "__main__":
    main()
