"""The simulator and the known truth share no code: flown sines must show the responses the parameters promise.

Without noise and saturation, small sines on all three axes at once; 40 s for what is not periodic to die out.
Linear parts agree to the digits of the arithmetic, curved thrust to the square of the sines' size.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from asflown.core.behaviour.simulate import (
    Air,
    Airframe,
    Battery,
    Commands,
    Controller,
    FilterKind,
    FrameMode,
    LogSetup,
    LoopFilter,
    RateSource,
    mixer_of,
    multisine,
    simulate,
)

QUIET = Airframe(
    gyro_noise=0.0,
    accel_noise=0.0,
    vibration=(0.0,) * 4,
    accel_vibration=0.0,
    air=Air(turbulence=(0.0, 0.0, 0.0)),
    battery=Battery(full=16.0, empty=16.0, capacity=1e12, resistance=0.0),
)
PLAIN = Controller()
MODES = (FrameMode(70.0, 0.05, 0.15), FrameMode(90.0, 0.04, -0.1), None)
LATE = replace(QUIET, delay=0.00113)
LOW_PACK = replace(QUIET, battery=replace(QUIET.battery, full=14.0, empty=14.0))

LINEAR = {
    "plain": (QUIET, PLAIN),
    "frame mode": (replace(QUIET, frame=MODES), PLAIN),
    "delay of no whole step": (LATE, replace(PLAIN, output_delay=0.00031)),
    "delay, frame mode, 2 kHz": (replace(LATE, frame=MODES), replace(PLAIN, loop_rate=2000.0)),
    "8 kHz": (LATE, replace(PLAIN, loop_rate=8000.0)),
    "filters and notch": (
        QUIET,
        replace(
            PLAIN,
            gyro_filters=(
                LoopFilter(FilterKind.LOW_PASS, 120.0, 0.8),
                LoopFilter(FilterKind.NOTCH, 200.0, 3.0),
            ),
            d_filters=(LoopFilter(FilterKind.LOW_PASS, 80.0), LoopFilter(FilterKind.ONE_POLE, 100.0)),
        ),
    ),
    "feed-forward": (QUIET, replace(PLAIN, kf=(0.0003, 0.0003, 0.0))),
    "no integral": (QUIET, replace(PLAIN, ki=(0.0, 0.0, 0.0))),
    "reaction lead": (replace(QUIET, reaction_lead=0.03), PLAIN),
    "low pack": (LOW_PACK, PLAIN),
    "unequal motors": (replace(QUIET, strength=(1.1, 0.95, 0.9, 1.0)), PLAIN),
    "six motors": (
        replace(QUIET, strength=(1.0,) * 6, vibration=(0.0,) * 6),
        replace(PLAIN, mixer=mixer_of(6)),
    ),
}
CURVED = {
    "quadratic": (replace(QUIET, thrust_exponent=2.0), PLAIN),
    "linear command over a quadratic rotor": (
        replace(QUIET, command_exponent=0.5, thrust_exponent=2.0),
        PLAIN,
    ),
    "between": (replace(QUIET, command_exponent=0.75, thrust_exponent=2.0), PLAIN),
    "compensated low pack": (replace(LOW_PACK, thrust_exponent=2.0), replace(PLAIN, compensate_to=16.0)),
    "unequal and quadratic": (
        replace(QUIET, strength=(1.1, 0.95, 0.9, 1.0), thrust_exponent=2.0),
        PLAIN,
    ),
}
AXES = ("roll", "pitch", "yaw")
BASE = np.array([0.5, 1, 1.5, 2.5, 4, 6, 9, 13, 18, 25, 35, 45, 60, 80, 100])
LINES = (BASE, BASE + 0.125, BASE - 0.125)
SECONDS, WARM = 8.0, 40.0


def _error(known: ModuleType, airframe: Airframe, controller: Controller) -> float:
    """Greatest relative error of T, P and L over axes and lines."""
    commands = multisine(
        LINES,
        1e-4,
        WARM + SECONDS,
        rate=controller.loop_rate,
        hover=airframe.hover ** (1.0 / airframe.exponent),
    )
    log = LogSetup(rate=controller.loop_rate)
    flight = simulate(airframe, controller, commands, WARM + SECONDS, seed=1, log=log, precise=True)
    assert flight.saturated == 0.0
    point = known.of_flight(airframe, controller, flight)
    count = round(SECONDS * controller.loop_rate)
    motors = np.array([flight.values[f"motor.{number}"][-count:] for number in range(1, airframe.motors + 1)])
    achieved = np.linalg.pinv(np.array(controller.mixer)) @ (motors - motors.mean(1, keepdims=True))
    worst = 0.0
    for axis, name in enumerate(AXES):
        bins = np.round(LINES[axis] * SECONDS).astype(int)
        sent, turned, asked = (
            np.fft.rfft(flight.values[f"{family}.{name}"][-count:])[bins]
            for family in ("rate_command", "rate", "control")
        )
        moved = np.fft.rfft(achieved[axis])[bins]
        told = known.responses(airframe, controller, point, LINES[axis])
        loop = (told.command[axis] * sent - asked) / asked  # Cy y / control: the loop as flown
        pairs = (
            (turned / sent, told.response[axis]),
            (turned / moved, told.plant[axis]),
            (loop, told.loop[axis]),
        )
        worst = max(worst, *(float(np.abs(flown / true - 1.0).max()) for flown, true in pairs))
    return worst


@pytest.mark.parametrize("name", LINEAR)
def test_linear_structures_agree_to_the_digits_of_the_arithmetic(known: ModuleType, name: str) -> None:
    assert _error(known, *LINEAR[name]) < 1e-6


@pytest.mark.parametrize("name", CURVED)
def test_curved_thrust_agrees_about_its_operating_point(known: ModuleType, name: str) -> None:
    assert _error(known, *CURVED[name]) < 1e-4


def test_a_wrong_parameter_is_seen(known: ModuleType) -> None:
    """The check would notice one tenth of a millisecond."""
    airframe, controller = LINEAR["plain"]
    point = known.at_hover(airframe, controller)
    late = replace(airframe, delay=airframe.delay + 1e-4)
    one, other = (
        known.responses(which, controller, point, np.array([20.0])).response[0, 0]
        for which in (airframe, late)
    )
    assert abs(one / other - 1.0) > 1e-3


def test_rotors_slower_down_than_up_act_as_the_stated_lag(known: ModuleType) -> None:
    """No line response exists here (even small signals bend); noise-driven spectra must lie on the truth.

    400 s; the same aircraft with equal lags, flown with the same commands, takes the window's leakage out.
    """
    uneven = replace(QUIET, lag_up=0.020, lag_down=0.030)
    controller = replace(PLAIN, kp=(0.15, 0.15, 0.3))
    random, seconds, size = np.random.default_rng(3), 400, 2000
    values = 0.25 * random.standard_normal((seconds * 250 + 2, 4))
    values[:, 3] = 0.3
    frequency = np.fft.rfftfreq(size, 1e-3)

    def off_truth(airframe: Airframe) -> np.ndarray:
        flight = simulate(airframe, controller, Commands(250.0, values), seconds, seed=1)
        motors = np.array([flight.values[f"motor.{number}"] for number in range(1, 5)], dtype=np.float64)
        achieved = (np.linalg.pinv(np.array(controller.mixer)) @ motors)[0]

        def spectra(signal: np.ndarray) -> np.ndarray:
            return np.asarray(np.fft.rfft(signal.reshape(-1, size) * np.hanning(size), axis=1))

        sent, moved = spectra(flight.values["rate_command.roll"]), spectra(achieved - achieved.mean())
        turned = spectra(flight.values["rate.roll"])
        flown = (sent.conj() * turned).sum(0) / (sent.conj() * moved).sum(0)
        point = known.of_flight(airframe, controller, flight)
        true = known.responses(airframe, controller, point, np.maximum(frequency, 0.1)).plant[0]
        bands = ((3.0, 8.0), (8.0, 15.0), (15.0, 30.0), (30.0, 60.0))
        return np.array([(flown / true)[(frequency >= a) & (frequency < b)].mean() for a, b in bands])

    equal = replace(uneven, lag_up=known.rotor_lag(uneven), lag_down=known.rotor_lag(uneven))
    assert np.abs(off_truth(uneven) / off_truth(equal) - 1.0).max() < 0.006


def test_bent_thrust_in_free_flight_lies_on_the_mean_slope(known: ModuleType, population: ModuleType) -> None:
    """Noise, wind, clipped motors, moving throttle: rates over thrusts, the curve applied, show the stated plant.

    Twice 240 s at normal activity, 4 s windows of the differences; command-weighted from 2 to 9 Hz.
    """
    size = 4000
    frequency = np.fft.rfftfreq(size, 1e-3)
    band = (frequency >= 2.0) & (frequency < 9.0)

    def spectra(signal: np.ndarray) -> np.ndarray:
        steps = np.diff(np.asarray(signal, dtype=np.float64))
        rows = [steps[first : first + size] for first in range(0, steps.size - size + 1, size // 2)]
        return np.asarray(np.fft.rfft(np.array(rows) * np.hanning(size), axis=1))

    for structure in ("quadratic", "compensated"):
        airframe, controller = aircraft = population.draw(21, structure)
        log = LogSetup(rate=1000.0)
        flight = population.fly(21, structure, 240.0, "normal", aircraft=aircraft, log=log)
        point = known.of_flight(airframe, controller, flight)
        true = known.responses(airframe, controller, point, np.maximum(frequency, 0.1)).plant[0]
        volts = flight.values["pack_voltage"] / airframe.reference_voltage
        motors = np.array([flight.values[f"motor.{number}"] for number in range(1, 5)], dtype=np.float64)
        pushed = (np.linalg.pinv(np.array(controller.mixer)) @ (motors * volts) ** airframe.exponent)[0]
        sent = spectra(flight.values["rate_command.roll"])
        turned = spectra(flight.values["rate.roll"])
        flown = (sent.conj() * turned).sum(0) / (sent.conj() * spectra(pushed)).sum(0)
        weight = (np.abs(sent) ** 2).sum(0)[band]
        ratio = (flown / true * np.mean(point.slopes))[band]
        assert abs((weight * ratio).sum() / weight.sum() - 1.0) < 0.02


@pytest.mark.parametrize(
    "log", [LogSetup(rate=1000.0, averaged=True), LogSetup(rate_source=RateSource.FILTERED)]
)
def test_what_the_log_makes_of_the_rate(known: ModuleType, log: LogSetup) -> None:
    commands = multisine(LINES, 1e-2, 20.0, rate=4000.0, hover=0.3)
    raw, logged = (
        simulate(QUIET, PLAIN, commands, 20.0, seed=1, log=setup, precise=True) for setup in (LogSetup(), log)
    )
    bins = np.round(BASE * SECONDS).astype(int)
    ratio = [np.fft.rfft(flight.values["rate.roll"][-8000:])[bins] for flight in (logged, raw)]
    told = known.logged_rate(PLAIN, log, BASE)
    assert np.abs(ratio[0] / ratio[1] / told - 1.0).max() < 2e-3  # images above half the log rate fold


def test_margins_against_a_library(known: ModuleType, population: ModuleType) -> None:
    """Margins, crossovers and peak sensitivity against python-control (disk margins of a response table)."""
    control = pytest.importorskip("control")
    grid = np.geomspace(0.3, 200.0, 1_500)
    for seed in (1, 2):
        airframe, controller = population.draw(seed, "mixed")
        point = known.at_hover(airframe, controller)
        told = known.truth(airframe, controller, point)
        loops = known.responses(airframe, controller, point, grid).loop
        for axis, name in enumerate(AXES):
            table = control.frd(loops[axis], 2.0 * math.pi * grid)
            gains, phases, _, at_phase, at_gain, _ = control.stability_margins(table, returnall=True)
            place = int(np.argmax(at_gain))
            assert at_gain[place] / (2.0 * math.pi) == pytest.approx(told[name].crossover, rel=1e-5)
            assert phases[place] == pytest.approx(told[name].phase_margin, abs=1e-3)
            turns = [
                (at, gain)
                for at, gain in zip(at_phase, gains, strict=True)
                if at > at_gain[place] and gain > 1.0
            ]
            at, gain = min(turns)
            assert at / (2.0 * math.pi) == pytest.approx(told[name].phase_crossover, rel=1e-4)
            assert 20.0 * math.log10(gain) == pytest.approx(told[name].gain_margin, abs=1e-3)
            peak = np.abs(1.0 / (1.0 + loops[axis])).max()
            assert told[name].peak_sensitivity == pytest.approx(peak, rel=1e-4)


def test_handling_of_a_first_order_answer(known: ModuleType) -> None:
    """By hand: a slow integrating loop answers as 1 / (1 + s/w), w = gain x kp: -45 deg at w."""
    airframe = replace(QUIET, gain=(100.0, 100.0, 100.0), damping=(1e-6,) * 3, delay=0.0)
    airframe = replace(airframe, lag_up=1e-5, lag_down=1e-5)
    fast = LoopFilter(FilterKind.ONE_POLE, 1e5)
    controller = Controller(
        loop_rate=8000.0,
        kp=(0.02,) * 3,
        ki=(0.0,) * 3,
        kd=(0.0,) * 3,
        gyro_filters=(fast,),
        d_filters=(fast,),
        computation_steps=0,
    )
    told = known.truth(airframe, controller, known.at_hover(airframe, controller))["roll"]
    corner = 2.0 / (2.0 * math.pi)
    assert told.bandwidth == pytest.approx(corner, rel=2e-3)
    assert told.crossover == pytest.approx(corner, rel=2e-3)
    assert told.phase_margin == pytest.approx(90.0, abs=0.1)


def test_the_stability_call_is_what_flies(known: ModuleType) -> None:
    """Gains 3 % under the gain margin die out, 3 % over it grow."""
    airframe = replace(QUIET, lag_up=0.03, lag_down=0.03)
    controller = replace(PLAIN, kp=(0.15, 0.15, 0.08), kd=(0.003, 0.003, 0.0))
    point = known.at_hover(airframe, controller)
    margin = 10.0 ** (known.truth(airframe, controller, point)["roll"].gain_margin / 20.0)
    for share, stable in ((0.97, True), (1.03, False)):
        scale = share * margin
        louder = replace(
            controller,
            kp=(0.15 * scale, 0.15, 0.08),
            ki=(controller.ki[0] * scale, *controller.ki[1:]),
            kd=(0.003 * scale, 0.003, 0.0),
        )
        values = np.zeros((1000, 4))
        values[:, 3] = 0.3
        values[10:60, 0] = 1e-6
        flight = simulate(airframe, louder, Commands(250.0, values), 3.0, seed=1, precise=True)
        rate = np.abs(flight.values["rate.roll"])
        early, late = rate[500:900].max(), rate[-400:].max()
        assert known.is_stable(airframe, louder, known.at_hover(airframe, louder)) is stable
        assert bool(late < early) is stable
