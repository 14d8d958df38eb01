"""The known controller as a route: the controller that flew is taken, at the log's scale; another is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_flight import opened

from asflown.app.flights.known import Declared
from asflown.app.flights.measure import measure
from asflown.core.behaviour.declared import controller_of
from asflown.core.record import Key
from asflown.demo import scenario
from asflown.demo.firmware import control, releases
from asflown.demo.flight import OLD_LOOP
from asflown.formats import control_toml

AXES = ("roll", "pitch", "yaw")


def settings() -> dict[str, float]:
    """What plover's settings say, by role in the unit of the role (read without asflown's own roles)."""
    made = {}
    values = scenario.PLOVER.values()
    for item in releases.old().parameters:
        if item.role:
            text = values[Key(item.name, releases.SETS[1] if item.banks else None)]
            made[item.role] = float(text) * float(item.factor or 1)
    return made


def declared(**other: float) -> Declared:
    """The controllers the release's own declaration gives with the settings, some of them changed."""
    structures = control_toml.read(control.declared(releases.old())).control
    values = settings() | {role.replace("__", "."): value for role, value in other.items()}
    made = {axis: controller_of(structures[axis], values) for axis in AXES}
    return Declared(made, record="plover-001", release="marram-4.1")


def test_what_the_release_declares_is_what_the_board_flies(truth):
    """The declaration as asflown reads it, against transfer functions written down apart (tools/flights/truth.py)."""
    frequencies = np.geomspace(0.05, 900.0, 100)
    command, rate = truth.controllers(OLD_LOOP, frequencies)
    for number, axis in enumerate(AXES):
        read = declared().controllers[axis].response(frequencies)
        np.testing.assert_allclose(read[0], command[number], rtol=1e-9)
        np.testing.assert_allclose(read[1], rate[number], rtol=1e-9)


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
    made = measure(opened(), declared=declared(rate_loop__roll__derivative_gain=0.05))
    assert made.study.of("axes.roll.by_route.known_controller.crossover") is None
    assert made.study.of("axes.roll.crossover").route == "model-free"
    told = " ".join(made.study.statements["axes"])
    assert "of the logged drive alone" in told
    assert "measured model-free" in told


def test_why_no_controller_is_known_is_said_once():
    reason = "plover has no record; keep one: asflown found LISTING --aircraft plover"
    made = measure(opened(), declared=Declared({}, dict.fromkeys(AXES, reason)))
    assert list(made.study.statements["axes"]).count(reason) == 1
