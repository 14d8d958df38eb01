"""The parts of a measurement put together: right numbers in the right places, reasons where there are none.

The truths are the parameters of the simulated aircraft; how exactly each is met is tested where it is computed. Here
a tolerance of 5 % (or what stands beside it) shows that signal, unit, span and place are the right ones.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from made_flight import FLOWN, GROUND, log_bytes, opened, table

from asflown.app.flights.measure import measure
from asflown.app.flights.open_log import Said
from asflown.app.views.flight_curves import curves_json
from asflown.core.aircraft import Aircraft, Battery, Motors, Propellers
from asflown.core.study.quantities import QUANTITIES
from asflown.demo.flight import HOVER, OLD_LOOP, PLOVER


@pytest.fixture(scope="module")
def plover():
    about = Aircraft(
        id="plover",
        title="Plover",
        mass_kg=0.94,
        motors=Motors(count=4),
        propellers=Propellers(diameter_m=0.18, blades=3),
        battery=Battery(cells=4),
    )
    return measure(opened(), aircraft=about)


def value(made, name):
    one = made.study.of(name)
    assert one is not None, name
    assert one.value is not None, f"{name}: {one.reason}"
    return one.value


@pytest.mark.parametrize(
    ("name", "truth", "share"),
    [
        ("motors.thrust_exponent", PLOVER.exponent, 0.05),
        ("motors.lag", PLOVER.lag_up + PLOVER.delay, 0.1),
        ("motors.hover", PLOVER.hover ** (1 / PLOVER.exponent), 0.05),
        ("power.resistance", PLOVER.battery.resistance, 0.05),
        ("power.open_circuit_start", PLOVER.battery.full, 0.01),
        ("ground.gyro_bias.roll", math.radians(0.12), 0.05),
        ("ground.gyro_noise.yaw", PLOVER.gyro_noise, 0.05),
        ("ground.accel_norm", 9.80665, 0.001),
        ("ground.accel_noise.z", PLOVER.accel_noise, 0.05),
    ],
)
def test_what_the_simulated_aircraft_is_made_of_is_found(plover, name, truth, share):
    assert value(plover, name) == pytest.approx(truth, rel=share)


@pytest.fixture(scope="module")
def true_figures(truth):
    """Figures of the loop from the aircraft's parameters, by code that shares nothing with the estimator."""
    return truth.truth(PLOVER, OLD_LOOP, truth.at_hover(PLOVER, OLD_LOOP))


@pytest.mark.parametrize("axis", ["roll", "pitch", "yaw"])
def test_every_axis_has_its_response(plover, true_figures, axis):
    """A short flight (10 s with sticks moving): that the right signals of the right axis went in shows."""
    shares = {"bandwidth": 0.1, "bandwidth_gain": 0.3, "phase_delay": 0.4, "crossover": 0.15}
    shares |= {"phase_margin": 0.15, "gain_margin": 0.3, "peak_sensitivity": 0.2}
    for name, share in shares.items():
        true = getattr(true_figures[axis], name)
        assert value(plover, f"axes.{axis}.{name}") == pytest.approx(true, rel=share), name
    one = plover.study.of(f"axes.{axis}.bandwidth")
    assert one.route == "model-free"
    assert one.span == pytest.approx((GROUND, GROUND + FLOWN), abs=0.6)
    assert "model-conditional" in plover.study.of(f"axes.{axis}.gain_margin").caveats[0]
    assert 0 < value(plover, f"axes.{axis}.excited_low") < value(plover, f"axes.{axis}.excited_high") < 60
    curves = curves_json(plover.results["axes"])[axis]["model_free"]
    assert {len(part) for part in curves["response"].values()} == {len(curves["loop"]["gain"])}
    direct = curves_json(plover.results["axes"])[axis]["as_flown"]["response"]
    assert len({len(part) for part in direct.values()}) == 1
    assert 0 < sum(direct["excited"]) < len(direct["excited"])


def test_where_nothing_was_flown_each_part_says_so():
    names = ",".join(f"motor.{n} (1)" for n in range(1, 5))
    header = f"time (s),rate.roll (rad/s),rate_command.roll (rad/s),{names},pack_voltage (V)"
    rest = table(header, 6000, "i/1000", "0.001*(i%3)", "0.0", "0", "0", "0", "0", "16.0")
    made = measure(opened(rest))
    said = {
        made.study.of(name).reason for name in ("axes.roll.bandwidth", "motors.hover", "power.resistance")
    }
    assert said == {"nothing was flown in this log; log a flight"}


def test_a_slow_log_has_no_margins_and_says_why():
    lines = log_bytes().decode().split("\n")
    head = next(i for i, line in enumerate(lines) if line.startswith("time (us)"))
    slow = lines[: head + 1] + lines[head + 1 :: 4]
    made = measure(opened("\n".join(slow).encode(), Said({"rate": "deg/s"})))
    reason = made.study.of("axes.roll.crossover").reason
    assert reason == "logged at 250 rows a second; margins need 500 Hz or more"
    assert made.study.of("axes.pitch.bandwidth").value is not None


def test_the_fourth_rotor_shakes_most(plover):
    levels = [value(plover, f"vibration.rotors.{n}.order_1.rate") for n in range(1, 5)]
    assert max(levels) == levels[3]
    speed = value(plover, "vibration.rotor_speed")
    assert value(plover, "vibration.order_1.frequency") == pytest.approx(speed, rel=1e-3)


def test_spans_say_what_was_used(plover):
    assert plover.study.of("ground.gyro_bias.roll").span == pytest.approx((0.0, GROUND), abs=1.1)
    assert plover.study.of("power.resistance").span == pytest.approx((GROUND, GROUND + FLOWN), abs=0.6)
    assert plover.study.of("power.used_charge").span == (plover.span.start, plover.span.end)
    kinds = {segment.kind.value for segment in plover.segments.found}
    assert {"on ground", "hover", "manoeuvre"} <= kinds
    assert sum(s.span.length for s in plover.segments.of("hover")) == pytest.approx(HOVER - 2.0, abs=1.5)


def test_what_is_known_of_the_aircraft_is_used(plover):
    ideal = value(plover, "power.hover_power_ideal")
    # momentum theory (Leishman, ch. 2): P = T^1.5 / sqrt(2 rho A) with four rotors of 0.18 m
    thrust, area, density = 0.94 * 9.80665, 4 * math.pi * 0.18**2 / 4, 101400 / (287.05287 * 287.15)
    assert ideal == pytest.approx(thrust**1.5 / math.sqrt(2 * density * area), rel=1e-4)
    assert 0 < value(plover, "power.figure_of_merit") < 1
    alone = measure(opened())
    assert "mass and propeller diameter" in alone.study.of("power.figure_of_merit").reason


def test_every_part_gives_all_of_its_quantities_or_reasons(plover):
    """Families that count motors or orders follow what was flown; every other name is always there."""
    nothing = measure(opened(table("time (s),pack_current (A)", 3000, "i/1000", "10 + i % 3")))
    assert nothing.study.measured == 0
    for made in (plover, nothing):
        for one in QUANTITIES:
            if "{n}" in one.name or "{order}" in one.name or "{route}" in one.name:
                continue
            assert any(one.pattern.fullmatch(name) for name in made.study.evidence), one.name
    reasons = {one.reason for one in nothing.study.evidence.values()}
    assert all(reason and not reason.endswith(".") for reason in reasons)
    assert "motor commands are not known in this log; log every motor's command" in reasons


def test_oscillation_needs_a_baseline_and_none_stands_out_against_the_flight_itself():
    log = opened()
    assert "--baseline" in measure(log).study.of("limit_cycle.roll.found").reason
    told = measure(log, baseline=log).study
    for axis in ("roll", "pitch", "yaw"):
        assert told.of(f"limit_cycle.{axis}.found").value == 0.0
        assert (
            told.of(f"limit_cycle.{axis}.rms").reason == "no oscillation stood out over the baseline flight"
        )


def test_an_oscillation_is_a_finding_with_its_place():
    lines = log_bytes().decode().split("\n")
    head = next(i for i, line in enumerate(lines) if line.startswith("time (us)"))
    column = lines[head].split(",").index("gyro roll (deg/s)")
    for i in range(head + 1 + 20_000, head + 1 + 26_000):
        cells = lines[i].split(",")
        cells[column] = f"{float(cells[column]) + 40 * math.sin(2 * math.pi * 37 * i / 1000):.3f}"
        lines[i] = ",".join(cells)
    made = measure(opened("\n".join(lines).encode()), baseline=opened())
    assert value(made, "limit_cycle.roll.found") >= 1
    assert value(made, "limit_cycle.roll.frequency") == pytest.approx(37, abs=2)
    assert value(made, "limit_cycle.roll.rms") == pytest.approx(math.radians(40) / math.sqrt(2), rel=0.15)
    start, end = made.study.of("limit_cycle.roll.rms").span
    assert 19 < start < end < 27.5
    finding = next(one for one in made.study.findings if one.source == "limit cycle")
    assert finding.subject == "roll rate"
    assert finding.consequence.value == "safety"


def test_the_same_log_gives_the_same_evidence(plover):
    again = measure(opened(), aircraft=replace(Aircraft(id="plover", title="Plover")))
    assert again.study.of("motors.hover") == plover.study.of("motors.hover")
    assert again.study.of("vibration.order_1.rate.total") == plover.study.of("vibration.order_1.rate.total")
