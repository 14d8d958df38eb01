"""The known controller as a route: the controller that flew is taken, at the log's scale; another is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_flight import opened

from asflown.app.flights.known import Declared
from asflown.app.flights.measure import measure
from asflown.core.behaviour.declared import controller_of
from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.demo.flight import OLD_LOOP

GAINS = {"kp": "p", "ki": "i", "kd": "d"}
AXES = ("roll", "pitch", "yaw")


def structure(axis: str) -> ControlStructure:
    """The simulated controller (core/behaviour/simulate/controller), as a release would declare it."""
    blocks = (
        Block("clean", BlockKind.BIQUAD, ("rate",), {"cutoff": "gyro"}),
        Block("error", BlockKind.SUM, ("command", "-clean")),
        Block("p", BlockKind.GAIN, ("error",), {"gain": "p"}),
        Block("summed", BlockKind.INTEGRATOR, ("error",), constants={"rule": "backward"}),
        Block("i", BlockKind.GAIN, ("summed",), {"gain": "i"}),
        Block("smooth", BlockKind.ONE_POLE, ("clean",), {"cutoff": "d_gyro"}, {"rule": "impulse"}),
        Block("slope", BlockKind.DERIVATIVE, ("smooth",)),
        Block("d", BlockKind.GAIN, ("slope",), {"gain": "d"}),
        Block("total", BlockKind.SUM, ("p", "i", "-d")),
        Block("drive", BlockKind.DELAY, ("total",), constants={"steps": float(OLD_LOOP.computation_steps)}),
    )
    return ControlStructure(axis, blocks, rate_hz=OLD_LOOP.loop_rate)


def declared(**other: float) -> Declared:
    made = {}
    for number, axis in enumerate(AXES):
        values = {
            "p": OLD_LOOP.kp[number],
            "i": OLD_LOOP.ki[number],
            "d": OLD_LOOP.kd[number],
            "gyro": OLD_LOOP.gyro_filters[0].frequency,
            "d_gyro": OLD_LOOP.d_filters[0].frequency,
        }
        made[axis] = controller_of(structure(axis), {**values, **other})
    return Declared(made, record="plover-001", release="marram-4.1")


def test_the_controller_that_flew_is_taken_and_agrees_with_the_model_free_route():
    made = measure(opened(), declared=declared())
    for axis in AXES:
        known = made.study.of(f"axes.{axis}.by_route.known_controller.crossover")
        free = made.study.of(f"axes.{axis}.by_route.model_free.crossover")
        assert known is not None, made.study.statements
        assert made.study.of(f"axes.{axis}.crossover") == replace(known, quantity=f"axes.{axis}.crossover")
        assert known.route == "known controller"
        assert known.value == pytest.approx(free.value, rel=0.1)
    told = " ".join(made.study.statements["axes"])
    assert "the controller declared by marram-4.1 with the settings of plover-001 explains" in told


def test_the_scale_of_the_declared_drive_does_not_matter():
    one = measure(opened(), declared=declared())
    tens = Declared({a: c.scaled(10.0) for a, c in declared().controllers.items()})
    other = measure(opened(), declared=tens)
    name = "axes.roll.by_route.known_controller.crossover"
    assert other.study.of(name).value == pytest.approx(one.study.of(name).value, rel=1e-9)


def test_a_controller_that_did_not_fly_is_refused_in_words():
    made = measure(opened(), declared=declared(d=0.05))
    assert made.study.of("axes.roll.by_route.known_controller.crossover") is None
    assert made.study.of("axes.roll.crossover").route == "model-free"
    told = " ".join(made.study.statements["axes"])
    assert "of the logged drive alone" in told
    assert "measured model-free" in told


def test_why_no_controller_is_known_is_said_once():
    reason = "plover has no record; keep one: asflown found LISTING --aircraft plover"
    made = measure(opened(), declared=Declared({}, dict.fromkeys(AXES, reason)))
    assert list(made.study.statements["axes"]).count(reason) == 1
