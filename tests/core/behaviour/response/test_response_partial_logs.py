"""What is measured where not everything was logged, and where the command may not be used."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
from flown_rates import Flown, flown, without

from asflown.core.behaviour.identify.bands import banded, edges
from asflown.core.behaviour.identify.fit import fit_plant
from asflown.core.behaviour.response.axis import Instrument, measure_axes
from asflown.core.behaviour.response.drives import driven, records, stretches, thrust_drives
from asflown.core.behaviour.response.result import FREE, KNOWN, RESPONSE_ONLY, UNITS
from asflown.core.flight import EvenPart
from asflown.core.signals import AXES


@pytest.fixture(scope="module")
def flight(population: ModuleType) -> Flown:
    return flown(population, 300_200, "linear", 40.0, activity="normal", wind=0.3)


@pytest.fixture(scope="module")
def levelled(population: ModuleType) -> list[Flown]:
    """Self-levelled in strong wind: the command answers it, the stick does not."""
    return [
        flown(population, seed, "linear", 60.0, activity="low", wind=6.0, level=True)
        for seed in (300_100, 300_101, 300_102)
    ]


def test_everything_logged_gives_both_routes_and_their_curves(flight: Flown) -> None:
    found = measure_axes(flight.parts, flight.pattern, known=flight.controllers)
    assert list(found) == list(AXES)
    roll = found["roll"]
    assert set(roll.routes) == {KNOWN, FREE}
    assert roll.figures == dict(roll.routes[KNOWN].figures)
    assert set(roll.figures) == set(UNITS)
    for name, figure in roll.figures.items():
        assert figure.unit == UNITS[name]
        assert figure.route == KNOWN
    assert roll.excited_low is not None
    assert roll.excited_high is not None
    assert 0.3 < roll.excited_low < 2.0 < 8.0 < roll.excited_high < 120.0
    assert roll.saturated_share is not None
    motors = np.stack([flight.parts[0].values[f"motor.{n}"] for n in range(1, 5)])
    at_end = np.mean(((motors <= motors.min() + 1e-6) | (motors >= motors.max() - 1e-6)).any(axis=0))
    assert roll.saturated_share == pytest.approx(at_end, abs=0.01)
    assert roll.thrust_exponent == pytest.approx(1.0, abs=0.3)
    for route in roll.routes.values():
        for curve in (route.response, route.loop):
            assert curve is not None
            assert np.all(curve.gain_low <= curve.gain_high)
            outside = (curve.frequencies < roll.excited_low * 0.98) | (
                curve.frequencies > roll.excited_high * 1.02
            )
            assert not curve.excited[outside].any()
            assert curve.excited.any()
        assert route.step is not None
        assert np.all(route.step.low <= route.step.answer)
        assert np.all(route.step.answer <= route.step.high)
    assert "model-conditional" in roll.figures["gain_margin"].caveats[0]


def test_the_same_flight_gives_the_same_numbers(flight: Flown) -> None:
    one, other = (measure_axes(flight.parts, flight.pattern)["roll"] for _ in range(2))
    assert one.figures == other.figures


def test_motors_not_logged_leaves_the_controllers_output_and_says_so(flight: Flown) -> None:
    found = measure_axes(without(flight.parts, "motor."), None, known=flight.controllers)["roll"]
    assert found.saturated_share is None
    assert found.thrust_exponent is None
    assert any("motors were not logged" in text for text in found.statements)
    # linear thrust, hardly saturated: the output is the drive
    assert found.figures["crossover"].value == pytest.approx(flight.truth["roll"].crossover, rel=0.05)


def test_neither_motors_nor_output_leaves_the_response_alone(flight: Flown) -> None:
    found = measure_axes(without(flight.parts, "motor.", "control."), None)["roll"]
    assert not found.routes
    assert found.figures["bandwidth"].route == RESPONSE_ONLY
    assert found.figures["bandwidth"].value == pytest.approx(flight.truth["roll"].bandwidth, rel=0.05)
    for name in set(UNITS) - {"bandwidth"}:
        assert found.figures[name].value is None
        assert "log every motor's command" in str(found.figures[name].reason)
    assert found.measured_response is not None
    assert found.measured_response.excited.any()


def test_without_yaw_the_others_are_measured_alike(flight: Flown) -> None:
    whole = measure_axes(flight.parts, flight.pattern)
    found = measure_axes(without(flight.parts, "rate_command.yaw", "rate.yaw", "control.yaw"), flight.pattern)
    assert list(found) == ["roll", "pitch"]
    assert found["roll"].figures == whole["roll"].figures


def test_a_refused_axis_says_why_and_leaves_the_others(flight: Flown) -> None:
    why = "the roll command answers the disturbance; log the pilot's stick, or fly with rate commands"
    found = measure_axes(flight.parts, flight.pattern, instruments={"roll": Instrument(refusal=why)})
    assert all(figure.reason == why for figure in found["roll"].figures.values())
    assert {name: figure.unit for name, figure in found["roll"].figures.items()} == dict(UNITS)
    assert found["roll"].measured_response is None
    assert found["pitch"].figures["bandwidth"].value is not None


def test_stretches_of_a_second_are_refused(flight: Flown) -> None:
    part = flight.parts[0]
    short = replace(part, values={name: rows[: int(part.rate)] for name, rows in part.values.items()})
    found = measure_axes([short], flight.pattern)["roll"]
    assert "longer than 1 s" in str(found.figures["bandwidth"].reason)


def test_a_command_held_still_is_refused_with_what_to_fly(flight: Flown) -> None:
    still = [
        replace(part, values={**part.values, "rate_command.roll": np.zeros(part.samples)})
        for part in flight.parts
    ]
    found = measure_axes(still, flight.pattern)["roll"]
    assert "fly roll steps and doublets" in str(found.figures["bandwidth"].reason)


def test_a_logs_statement_about_its_instrument_is_kept(flight: Flown) -> None:
    found = measure_axes(flight.parts, flight.pattern, instruments={"roll": Instrument(statement="as told")})
    assert found["roll"].statements == ("as told",)


def _plant_off(one: Flown, axis: str, instrument: str | None) -> np.ndarray:
    """Error of the plant at 3, 6 and 9 Hz, complex, as a share."""
    at = np.array([3.0, 6.0, 9.0])
    made = driven(one.parts, one.pattern, [] if instrument is None else [instrument])
    drives = [rows[AXES.index(axis)] for rows in thrust_drives(made, one.pattern, 1.0)]
    limits = edges(made[0].rate, made[0].samples / made[0].rate)
    found = fit_plant(banded(stretches(made, axis, drives, instrument), limits))
    return np.asarray(np.abs(found.response(at) / one.plant(at)[AXES.index(axis)] - 1))


def test_levelled_in_wind_the_stick_gives_the_plant_and_the_command_does_not(levelled: list[Flown]) -> None:
    """Measured, three aircraft, roll and pitch, 3 to 9 Hz: by the stick a few per cent, by the command up to 170 %."""
    by_stick = [_plant_off(one, axis, f"stick.{axis}") for one in levelled for axis in ("roll", "pitch")]
    by_command = [_plant_off(one, axis, None) for one in levelled for axis in ("roll", "pitch")]
    assert np.median(by_stick) < 0.1
    assert np.max(by_stick) < 0.2
    assert np.median(by_command) > 2 * np.median(by_stick)
    assert np.max(by_command) > 0.5


def test_levelled_the_figures_hold_by_the_stick_alone(levelled: list[Flown]) -> None:
    one = levelled[0]
    stick = {axis: Instrument(signal=f"stick.{axis}") for axis in ("roll", "pitch")}
    right = measure_axes(one.parts, one.pattern, known=one.controllers, instruments=stick)
    wrong = measure_axes(one.parts, one.pattern, known=one.controllers)
    for axis in ("roll", "pitch"):
        truth = one.truth[axis].crossover
        good, bad = right[axis].figures["crossover"], wrong[axis].figures["crossover"]
        assert good.value == pytest.approx(truth, rel=0.08)
        assert bad.value is None or abs(bad.value / truth - 1) > 0.2
        assert good.low is not None
        assert good.high is not None
        assert good.low <= truth <= good.high
        # its own spectra say nothing
        assert right[axis].measured_response is None
        assert right[axis].as_flown is not None
        assert right[axis].as_flown.value is None


def test_motors_at_their_ends_are_seen_before_anything_is_filtered() -> None:
    """A motor held at its end for every second tenth of a second, at 2000 rows a second: half of the time."""
    rate, count = 2000.0, 20_000
    time = np.arange(count) / rate
    random = np.random.default_rng(1)
    motors = 0.5 + 0.05 * random.standard_normal((4, count))
    held = (time % 0.2) < 0.1
    motors[0, held] = 1.0
    values = {f"motor.{n + 1}": row for n, row in enumerate(motors)}
    values |= {"rate_command.roll": np.sin(time), "rate.roll": np.sin(time - 0.02)}
    (made,) = driven([EvenPart(0.0, rate, values)], np.eye(3, 4))
    assert made.rate == 500.0
    assert made.saturated.size == made.samples == made.command["roll"].size
    assert made.saturated.mean() == pytest.approx(0.5, abs=0.03)
    (record,) = records([made], "roll")
    np.testing.assert_array_equal(record.saturated, made.saturated)
    # a highest command that is only touched is no end
    values["motor.1"] = 0.5 + 0.05 * random.standard_normal(count)
    (free,) = driven([EvenPart(0.0, rate, values)], np.eye(3, 4))
    assert free.saturated.max() == 0.0


def test_thrust_drives_bend_about_the_mean_command() -> None:
    """With exponent 2, the drive is the difference of squares over twice the mean: exact for opposite pairs."""
    count = 4000
    random = np.random.default_rng(2)
    turn = 0.1 * np.cumsum(random.standard_normal(count)) / 60
    level = 0.5
    motors = np.stack([level + turn, level - turn])
    values = {f"motor.{n + 1}": row for n, row in enumerate(motors)}
    values |= {"rate_command.roll": turn, "rate.roll": turn}
    pattern = np.array([[0.5, -0.5], [0.0, 0.0], [0.0, 0.0]])
    made = driven([EvenPart(0.0, 500.0, values)], pattern)
    (bent,) = thrust_drives(made, pattern, 2.0)
    (straight,) = thrust_drives(made, pattern, 1.0)
    np.testing.assert_allclose(bent[0], turn, atol=1e-9)  # ((l + t)^2 - (l - t)^2) / 2 / (2 l) = t
    np.testing.assert_allclose(straight[0], turn, atol=1e-12)
