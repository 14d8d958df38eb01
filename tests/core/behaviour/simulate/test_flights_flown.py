"""Simulated flights: repeatable, canonical, and with the noise, pack, faults and activity asked for."""

from __future__ import annotations

import math
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from asflown.core.behaviour.simulate import (
    Activity,
    Air,
    Airframe,
    Battery,
    Commands,
    Controller,
    Levelling,
    LogSetup,
    SimulatedFlight,
    fly_freely,
    mixer_of,
    simulate,
    sweep,
)
from asflown.core.signals import signal


def _free(seed: int = 1, seconds: float = 10.0, **more: object) -> SimulatedFlight:
    commands = fly_freely(np.random.default_rng(seed), seconds, Activity.NORMAL)
    return simulate(Airframe(), Controller(), commands, seconds, seed=seed, **more)  # type: ignore[arg-type]


def test_a_seed_is_one_flight() -> None:
    one, again, other = _free(1), _free(1), _free(2)
    for name, values in one.values.items():
        assert np.array_equal(values, again.values[name])
    assert not np.array_equal(one.values["rate.roll"], other.values["rate.roll"])


def test_every_signal_is_canonical_and_within_what_is_plausible() -> None:
    flight = _free().to_flight()
    assert flight.has(
        "rate.roll", "rate_command.yaw", "motor.4", "rotor_speed.4", "accel.z", "stick.throttle"
    )
    for name, trace in flight.traces.items():
        known = signal(name)
        assert known is not None
        assert trace.unit == known.unit
        assert np.isfinite(trace.values).all()
        assert known.low is None or trace.values.min() >= known.low
        assert known.high is None or trace.values.max() <= known.high
        assert not trace.values.flags.writeable


def test_gyro_noise_has_the_stated_density() -> None:
    """Still air, no vibration: the one-sided spectrum of the raw rate well above the loop."""
    airframe = Airframe(vibration=(0.0,) * 4, air=Air(turbulence=(0.0, 0.0, 0.0)))
    commands = fly_freely(np.random.default_rng(1), 60.0, Activity.STILL)
    flight = simulate(airframe, Controller(), commands, 60.0, seed=5, log=LogSetup(rate=4000.0))
    rate = flight.values["rate.roll"].astype(np.float64).reshape(-1, 4000)
    power = (np.abs(np.fft.rfft(rate, axis=1)) ** 2).mean(0) * 2.0 / 4000.0 / 4000.0
    density = math.sqrt(power[500:1900].mean())
    # 60 x 1400 bins of two degrees of freedom: 0.17 % (1 sigma) on the density
    assert density == pytest.approx(airframe.gyro_noise, rel=0.01)


def test_wind_has_the_stated_strength_open_loop() -> None:
    """With no controller the rate's change over a step is the disturbing acceleration."""
    for order in (1, 2):
        air = Air(turbulence=(2.0, 2.0, 2.0), bandwidth=3.0, order=order)
        airframe = Airframe(vibration=(0.0,) * 4, gyro_noise=0.0, air=air, damping=(1e-6,) * 3)
        none = (0.0, 0.0, 0.0)
        controller = Controller(kp=none, ki=none, kd=none)
        commands = fly_freely(np.random.default_rng(1), 200.0, Activity.STILL)
        flight = simulate(airframe, controller, commands, 200.0, seed=2, precise=True)
        pushes = np.concatenate([np.diff(flight.values[f"rate.{axis}"]) for axis in ("roll", "pitch", "yaw")])
        # 600 s of noise below 3 Hz: some 5 000 independent values, 1 % (1 sigma)
        assert np.sqrt(np.mean((1000.0 * pushes) ** 2)) == pytest.approx(2.0, rel=0.05)


def test_the_pack_sags_by_its_resistance() -> None:
    airframe = replace(Airframe(), battery=Battery(full=16.8, empty=16.8, resistance=0.05, capacity=1e9))
    commands = fly_freely(np.random.default_rng(1), 20.0, Activity.NORMAL)
    flight = simulate(airframe, Controller(), commands, 20.0, seed=1, precise=True)
    volts, amps = flight.values["pack_voltage"], flight.values["pack_current"]
    slope, rest = np.polyfit(amps, volts, 1)
    assert -slope == pytest.approx(0.05, rel=1e-6)
    assert rest == pytest.approx(16.8, rel=1e-6)


def test_rotor_lines_stand_where_the_rotors_turn() -> None:
    commands = fly_freely(np.random.default_rng(1), 20.0, Activity.STILL, hover=0.3)
    flight = simulate(Airframe(), Controller(), commands, 20.0, seed=1)
    turning = float(flight.values["rotor_speed.1"].mean())
    assert turning == pytest.approx(400.0 * math.sqrt(0.3), rel=0.02)
    size = 2000
    rate = flight.values["rate.pitch"].astype(np.float64).reshape(-1, size)
    power = (np.abs(np.fft.rfft(rate * np.hanning(size), axis=1)) ** 2).mean(0)
    frequency = np.fft.rfftfreq(size, 1e-3)
    band = frequency > 150.0
    assert frequency[band][np.argmax(power[band])] == pytest.approx(turning, abs=3.0)


def test_gravity_in_hover() -> None:
    commands = fly_freely(np.random.default_rng(1), 10.0, Activity.STILL, hover=0.3)
    flight = simulate(Airframe(), Controller(), commands, 10.0, seed=1)
    assert float(flight.values["accel.z"].mean()) == pytest.approx(-9.80665, rel=0.02)


def test_levelled_flight_answers_the_disturbance_with_its_command() -> None:
    airframe = replace(Airframe(), air=Air(turbulence=(5.0, 5.0, 1.0)))
    controller = replace(Controller(), levelling=Levelling())
    commands = fly_freely(np.random.default_rng(1), 20.0, Activity.STILL, sticks=True)
    flight = simulate(airframe, controller, commands, 20.0, seed=1)
    assert not flight.values["stick.roll"].any()
    assert flight.values["rate_command.roll"].std() > 0.01
    assert np.abs(flight.values["attitude.roll"]).max() < 0.3


def test_faults_of_a_log() -> None:
    log = LogSetup(steps={"rate": 0.01, "motor": 0.01}, clock_error=0.01, dropped=0.02, jitter=1e-4)
    whole, faulty = _free(1), _free(1, log=log)
    assert 0.005 < 1.0 - faulty.time.size / whole.time.size < 0.05
    assert faulty.time[-1] == pytest.approx(1.01 * whole.time[-1], abs=0.02)
    assert np.all(np.diff(faulty.time) >= 0.0)
    counts = faulty.values["motor.1"].astype(np.float64) / 0.01
    assert np.abs(counts - np.round(counts)).max() < 1e-4


def test_a_sweep_passes_its_frequencies() -> None:
    commands = sweep(0, 1.0, 20.0, 0.5, 20.0)
    roll = commands.values[:, 0]
    assert np.abs(roll).max() == pytest.approx(0.5, rel=1e-3)
    crossings = np.flatnonzero(np.diff(np.signbit(roll[2000:18_000]))).size
    assert crossings == pytest.approx(2 * 18.0 * 19.0 / math.log(20.0) * 0.8, rel=0.25)
    assert not commands.values[:, 1:3].any()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"log": LogSetup(rate=1500.0)}, "log rate"),
        ({"seconds": 100.0}, "shorter than 100 s"),
        ({"controller": replace(Controller(), mixer=mixer_of(6))}, "6 rows for 4 motors"),
    ],
)
def test_what_does_not_fit_is_refused(change: dict[str, object], says: str) -> None:
    commands = Commands(250.0, np.zeros((2502, 4)))
    plain: dict[str, object] = {
        "airframe": Airframe(),
        "controller": Controller(),
        "commands": commands,
        "seconds": 10.0,
        "seed": 1,
    }
    with pytest.raises(ValueError, match=says):
        simulate(**{**plain, **change})  # type: ignore[arg-type]


def test_motors_must_be_even() -> None:
    with pytest.raises(ValueError, match="5 motors"):
        mixer_of(5)


def test_activity_is_what_its_word_says() -> None:
    """rms on roll over 10 pilots of 60 s, deg/s; power falls by 20 dB and more from 1 to 12 Hz."""
    wanted = {Activity.LOW: (15, 35), Activity.NORMAL: (80, 140), Activity.HIGH: (200, 330)}
    for activity, (low, high) in wanted.items():
        flights = [
            fly_freely(np.random.default_rng(seed), 60.0, activity).values[:15_000] for seed in range(10)
        ]
        rms = math.degrees(np.mean([np.std(values[:, 0]) for values in flights]))
        assert low < rms < high
        blocks = np.concatenate([values[:, 0].reshape(-1, 1000) for values in flights])
        power = (np.abs(np.fft.rfft(blocks * np.hanning(1000), axis=1)) ** 2).mean(0)
        assert 10.0 * math.log10(power[3:5].mean() / power[46:51].mean()) > 20.0
        pairs = [abs(np.corrcoef(values[:, 0], values[:, 1])[0, 1]) for values in flights]
        assert np.mean(pairs) < 0.1


@pytest.mark.parametrize("structure", ["linear", "quadratic", "flexible", "unequal", "compensated", "spin"])
def test_the_population_keeps_its_ranges(population: ModuleType, structure: str) -> None:
    for seed in (11, 12):
        aircraft = population.draw(seed, structure)
        told = population.known.truth(*aircraft, population.known.at_hover(*aircraft))
        for axis in ("roll", "pitch"):
            assert 5.0 <= told[axis].crossover <= 20.0
            assert 30.0 <= told[axis].phase_margin <= 70.0
            assert 4.0 <= told[axis].gain_margin <= 14.0
            assert told[axis].peak_sensitivity <= 3.0
        assert population.draw(seed, structure) == aircraft
        for activity, low, high in (("low", 0.0, 0.005), ("normal", 0.0, 0.03), ("high", 0.1, 0.2)):
            flight = population.fly(seed, structure, 20.0, activity, aircraft=aircraft)
            assert low <= flight.saturated <= high
            flown = population.truth_of(seed, structure, flight, aircraft=aircraft)
            assert flown["roll"].crossover == pytest.approx(told["roll"].crossover, rel=0.35)


def test_an_unknown_structure_is_refused(population: ModuleType) -> None:
    with pytest.raises(ValueError, match="one of linear"):
        population.draw(1, "wobbly")
