"""The controller taken apart, held against the declared one; and which settings may be turned."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from aircraft import carried, limits, tasks
from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.behaviour.amounts import amounts
from asflown.core.behaviour.declared import controller_of
from asflown.core.behaviour.retune.knobs import Knob, Limits, knobs_of
from asflown.core.behaviour.retune.loops import GRID, Loop, noise_rule, target_of, target_of_log
from asflown.core.behaviour.retune.retune import retune
from asflown.core.behaviour.retune.tasks import retune_axes
from asflown.core.behaviour.retune.terms import terms_of
from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.core.signals import AXES


@settings(max_examples=20, deadline=None)
@given(factors=st.lists(st.floats(0.3, 3.0), min_size=6, max_size=6), seed=st.integers(1, 6))
def test_the_parts_are_the_declared_controller(judges: Any, factors: list[float], seed: int) -> None:
    """Against controller_of, which multiplies block by block; gains that were zero stay out."""
    one = carried(*judges, seed)
    roles = [role for role in one.old_values if role.endswith("cutoff") or ".roll." in role][:6]
    frequencies, weights = noise_rule(one.controller.loop_rate)
    grid = np.concatenate([GRID, frequencies])
    terms = terms_of(one.structures["roll"], one.old_values, one.old_values, roles, grid, 1.7)
    values = np.array([one.old_values[role] * f for role, f in zip(roles, factors, strict=True)])
    made = terms.sides(terms.frozen(values), terms.weights(values))
    turned = {**one.old_values, **dict(zip(roles, values, strict=True))}
    slow = controller_of(one.structures["roll"], turned, scale=1.7)
    for quick, other in zip(made, slow.response(grid), strict=True):
        np.testing.assert_allclose(quick, other, rtol=1e-9, atol=1e-12)
    summed = np.sqrt(weights @ np.abs(made[1][GRID.size :]) ** 2)
    assert summed == pytest.approx(amounts(slow).noise, rel=5e-6)


@pytest.mark.parametrize("seed", range(1, 5))
def test_slopes_are_differences_of_the_declared_controller(judges: Any, seed: int) -> None:
    """By central differences of controller_of."""
    one = carried(*judges, seed)
    roles = [role for role in one.old_values if role.endswith("cutoff") or ".pitch." in role]
    roles = [role for role in roles if one.old_values[role] > 0.0]
    structure = one.structures["pitch"]
    terms = terms_of(structure, one.old_values, one.old_values, roles, GRID)
    values = np.array([one.old_values[role] for role in roles])
    slopes = terms.slopes(terms.frozen(values, slopes=True), terms.weights(values))
    for place, role in enumerate(roles):
        sides = [
            controller_of(structure, {**one.old_values, role: values[place] * f}).response(GRID)
            for f in (np.exp(1e-4), np.exp(-1e-4))
        ]
        for side in (0, 1):
            wanted = (sides[0][side] - sides[1][side]) / 2e-4
            scale = np.max(np.abs(sides[0][side]))
            np.testing.assert_allclose(slopes[side][place], wanted, atol=1e-6 * scale)


def _master(values: dict[str, float]) -> tuple[ControlStructure, dict[str, float]]:
    """A gain over all terms: gains multiply each other; and a filter passed twice."""
    blocks = (
        Block("smooth", BlockKind.ONE_POLE, ("rate",), {"cutoff": "f"}, {"rule": "exact"}),
        Block("again", BlockKind.ONE_POLE, ("smooth",), {"cutoff": "f"}, {"rule": "exact", "stages": 2.0}),
        Block("error", BlockKind.SUM, ("command", "-again")),
        Block("p", BlockKind.GAIN, ("error",), {"gain": "p", "times": "t"}),
        Block("sum", BlockKind.INTEGRATOR, ("error",)),
        Block("i", BlockKind.GAIN, ("sum",), {"gain": "i"}),
        Block("all", BlockKind.SUM, ("p", "i")),
        Block("drive", BlockKind.GAIN, ("all",), {"gain": "m"}),
    )
    return ControlStructure("roll", blocks, 2000.0), values


@settings(max_examples=20, deadline=None)
@given(st.tuples(*[st.floats(0.2, 5.0)] * 4))
def test_gains_that_multiply_each_other(numbers: tuple[float, ...]) -> None:
    structure, values = _master({"f": 60.0, "p": 0.1, "i": 0.2, "m": 1.0, "t": 1.5})
    roles = ["f", "p", "i", "m"]
    terms = terms_of(structure, values, values, roles, GRID)
    assert not terms.is_linear
    turned = np.array([values[role] * f for role, f in zip(roles, numbers, strict=True)])
    made = terms.sides(terms.frozen(turned), terms.weights(turned))
    slow = controller_of(structure, {**values, **dict(zip(roles, turned, strict=True))}).response(GRID)
    for quick, other in zip(made, slow, strict=True):
        np.testing.assert_allclose(quick, other, rtol=1e-9)


def test_a_master_gain_is_turned_too() -> None:
    """Half of it, twice the terms: the answer comes back, by whichever."""
    structure, values = _master({"f": 60.0, "p": 0.1, "i": 0.2, "m": 1.0, "t": 1.5})
    plant = 60.0 / (2j * np.pi * GRID + 1.0) / (2j * np.pi * GRID * 0.03 + 1.0)
    target = target_of(plant, plant, controller_of(structure, values))
    copied = {**values, "p": 0.3, "i": 0.1}
    knobs = knobs_of({"roll": structure}, copied, copied, dict.fromkeys(values, Limits()))
    assert {knob.role for knob in knobs} == {"f", "p", "i", "m"}
    made = retune({"roll": Loop(structure, copied, copied, 1.0, target)}, knobs)
    assert made.is_good
    after = {**copied, **made.values}
    assert after["m"] * after["p"] == pytest.approx(0.1, rel=0.01)
    assert after["m"] * after["i"] == pytest.approx(0.2, rel=0.02)


def test_noise_that_is_not_known_is_said(judges: Any) -> None:
    """The old controller was read from a log."""
    one = carried(*judges, 1)
    plant = one.plant("roll")
    known = one.old("roll").response(GRID)
    loop = Loop(
        one.structures["roll"], one.old_values, one.old_values, 1.0, target_of_log(plant, plant, *known)
    )
    assert loop.kept({}).noise is None
    knobs = knobs_of({"roll": one.structures["roll"]}, one.old_values, one.old_values, limits(one.old_values))
    made = retune({"roll": loop}, knobs)
    assert made.is_good
    assert any("read from a log" in reason for reason in made.reasons)


def test_a_slower_loop(judges: Any) -> None:
    """From 4 to 2 kHz, later by 1.5 steps. The delay of the answer stays: 360 deg times 25 Hz times 0.375 ms.

    No gain or filter takes a delay away; peak and noise are brought back.
    """
    one = carried(*judges, 2)
    assert one.controller.loop_rate == 4000.0
    late = 1.5 * (1 / 2000.0 - 1 / 4000.0)
    slower = {axis: replace(structure, rate_hz=2000.0) for axis, structure in one.structures.items()}
    given = {
        axis: replace(task, plant_after=task.plant * np.exp(-2j * np.pi * GRID * late))
        for axis, task in tasks(one).items()
    }
    values = dict(one.old_values)
    knobs = knobs_of(slower, values, values, limits(values, 0.004))
    made = retune_axes(given, slower, values, values, knobs)
    assert made.refusal is None
    assert made.planned["roll"].peak > 1.01
    assert all(kept.peak <= 1.0 + 1e-5 for kept in made.axes.values())
    assert all(kept.noise is not None and kept.noise <= 1.0 + 1e-5 for kept in made.axes.values())
    at_least = 360.0 * 25.0 * late
    assert all(0.9 * at_least < kept.degrees < 1.6 * at_least for kept in made.axes.values())


def test_what_may_be_turned(judges: Any) -> None:
    one = carried(*judges, 3)
    values = dict(one.old_values)
    knobs = {knob.role: knob for knob in knobs_of(one.structures, values, values, limits(values))}
    assert values["rate_loop.yaw.derivative_gain"] == 0.0
    assert "rate_loop.yaw.derivative_gain" not in knobs  # switched off
    assert knobs["gyro_filter.cutoff"].axes == AXES
    assert knobs["gyro_filter.cutoff"].high <= 0.4 * one.controller.loop_rate
    assert not any(knob.is_gain for role, knob in knobs.items() if role.endswith("cutoff"))
    alone = knobs_of(one.structures, values, values, limits(values), filters=False)
    assert all(knob.is_gain for knob in alone)
    only = knobs_of(one.structures, values, values, {"rate_loop.roll.integral_gain": Limits()})
    assert [knob.role for knob in only] == ["rate_loop.roll.integral_gain"]
    with pytest.raises(ValueError, match="setting to turn"):
        retune({}, ())


def test_what_is_not_turned() -> None:
    """Blocks out of the loop, roles that decide about blocks, and roles with a second use."""
    blocks = (
        Block("a", BlockKind.ONE_POLE, ("rate",), {"cutoff": "off"}, when={"kind": (1.0,)}),
        Block("b", BlockKind.BIQUAD, ("a",), {"cutoff": "b", "quality": "q"}),
        Block("n", BlockKind.NOTCH, ("b",), {"centre": "twice", "quality": "q"}),
        Block("c", BlockKind.ONE_POLE, ("n",), {"cutoff": "twice"}),
        Block("error", BlockKind.SUM, ("command", "-c")),
        Block("p", BlockKind.GAIN, ("error",), {"gain": "p", "times": "share"}),
        Block("d", BlockKind.GAIN, ("p",), {"gain": "mode"}),
        Block("drive", BlockKind.GAIN, ("d",), {"gain": "mixer.roll.share"}, when={"mode": (2.0,)}),
    )
    structure = ControlStructure("roll", blocks, 1000.0)
    values = {"off": 50.0, "b": 90.0, "q": 0.7, "twice": 120.0, "p": 1.0, "share": 1.0, "mode": 2.0}
    values |= {"kind": 0.0, "mixer.roll.share": 1.0}
    knobs = knobs_of({"roll": structure}, values, values, dict.fromkeys(values, Limits()))
    assert [knob.role for knob in knobs] == ["b", "p"]


def test_the_nearest_value_of_a_knob() -> None:
    knob = Knob("x", 5.0, 0.5, 9.5, 0.5, ("roll",), is_gain=True)
    assert (knob.nearest(3.3), knob.nearest(0.1), knob.nearest(99.0)) == (3.5, 0.5, 9.5)
    assert knob.around(3.3) == (3.5, 3.0)
    assert knob.around(99.0) == (9.5,)
    assert Knob("x", 5.0, 0.5, 9.6, 0.0, ("roll",), is_gain=True).nearest(99.0) == 9.6
    odd = Knob("x", 5.0, 0.25, 9.25, 1.0, ("roll",), is_gain=True, offset=0.25)
    assert (odd.nearest(3.3), odd.moved(3.3, 2), odd.nearest(0.0)) == (3.25, 5.25, 0.25)


@settings(max_examples=200, deadline=None)
@given(
    value=st.floats(0.01, 100.0),
    low=st.floats(0.0, 10.0),
    width=st.floats(0.0, 50.0),
    step=st.one_of(st.just(0.0), st.floats(1e-3, 20.0)),
    offset=st.floats(-5.0, 5.0),
)
def test_a_knob_ends_on_its_grid_and_within_its_range(
    value: float, low: float, width: float, step: float, offset: float
) -> None:
    block = Block("drive", BlockKind.GAIN, ("rate",), {"gain": "x"})
    structure = {"roll": ControlStructure("roll", (block,), 1000.0)}
    given = Limits(low, low + width, step, offset if step else 0.0)
    for knob in knobs_of(structure, {"x": value}, {}, {"x": given}):
        slack = 1e-8 * max(1.0, knob.high)
        assert max(low, 0.0) - slack <= knob.low <= knob.high <= low + width + slack
        assert knob.low > 0.0
        for end in (knob.low, knob.high, knob.nearest(value)):
            count = (end - given.offset) / step if step else 0.0
            assert count == pytest.approx(round(count), abs=1e-6)
