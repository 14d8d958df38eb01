"""Drawn aircraft with a declared controller, and the three cases of a carry-over gone wrong.

The old controller is a drawn one (tools/flights/population.py); the new one is the same in a structure of
blocks declared here, and what comes out is judged by tools/flights/truth.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from asflown.core.behaviour.declared import KnownController, controller_of
from asflown.core.behaviour.retune.knobs import Limits, knobs_of
from asflown.core.behaviour.retune.loops import GRID
from asflown.core.behaviour.retune.result import Retuned
from asflown.core.behaviour.retune.tasks import AxisTask, retune_axes
from asflown.core.behaviour.simulate import Airframe, Controller, FilterKind, LoopFilter
from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.core.signals import AXES

FINE = 0.004  # a step, as a share of the value
CASES = ("derivative x8", "derivative x0.25", "slow filters")
TERMS = {"proportional": "kp", "integral": "ki", "derivative": "kd", "feedforward": "kf"}


def structure(
    axis: str, rate: float, gyro: str = "one-pole", notch: LoopFilter | None = None
) -> ControlStructure:
    """Gains by axis, one gyro and one derivative low-pass for all axes; a fixed notch where there is one."""

    def filtered(name: str, source: str, role: str, kind: str) -> Block:
        if kind == "one-pole":
            return Block(name, BlockKind.ONE_POLE, (source,), {"cutoff": role}, {"rule": "impulse"})
        return Block(name, BlockKind.BIQUAD, (source,), {"cutoff": role}, {"quality": 0.7071067811865476})

    def gain(name: str, source: str, term: str) -> Block:
        return Block(name, BlockKind.GAIN, (source,), {"gain": f"rate_loop.{axis}.{term}_gain"})

    blocks = [filtered("smooth", "rate", "gyro_filter.cutoff", gyro)]
    last = "smooth"
    if notch is not None:
        constants: dict[str, float | str] = {"centre": notch.frequency, "quality": notch.quality}
        blocks.append(Block("quiet", BlockKind.NOTCH, (last,), constants=constants))
        last = "quiet"
    blocks += [
        Block("error", BlockKind.SUM, ("command", f"-{last}")),
        gain("p", "error", "proportional"),
        Block("sum", BlockKind.INTEGRATOR, ("error",)),
        gain("i", "sum", "integral"),
        filtered("smoother", last, "derivative_filter.cutoff", "one-pole"),
        Block("change", BlockKind.DERIVATIVE, ("smoother",)),
        gain("d", "change", "derivative"),
        Block("moved", BlockKind.DERIVATIVE, ("command",)),
        gain("f", "moved", "feedforward"),
        Block("drive", BlockKind.SUM, ("p", "i", "-d", "f")),
    ]
    return ControlStructure(axis, tuple(blocks), rate)


@dataclass(frozen=True)
class Carried:
    """One aircraft with its new release."""

    airframe: Airframe
    controller: Controller
    structures: dict[str, ControlStructure]
    old_values: dict[str, float]
    old_structures: dict[str, ControlStructure]
    gyro: str
    truth: Any

    @property
    def point(self) -> Any:
        return self.truth.at_hover(self.airframe, self.controller)

    def old(self, axis: str) -> KnownController:
        return controller_of(self.old_structures[axis], self.old_values)

    def plant(self, axis: str, grid: Any = GRID) -> Any:
        made = self.truth.responses(self.airframe, self.controller, self.point, grid)
        return made.plant[AXES.index(axis)]

    def sharing(self, role: str) -> Carried:
        """With a release in which roll and pitch have one derivative gain."""

        def shared(axis: str, old: ControlStructure) -> ControlStructure:
            if axis == "yaw":
                return old
            blocks = tuple(
                replace(block, parameters={"gain": role}) if block.name == "d" else block
                for block in old.blocks
            )
            return replace(old, blocks=blocks)

        return replace(self, structures={axis: shared(axis, old) for axis, old in self.structures.items()})

    def with_values(self, values: dict[str, float]) -> Controller:
        """The simulator's controller with values of the new release."""
        kind = FilterKind.ONE_POLE if self.gyro == "one-pole" else FilterKind.LOW_PASS
        notches = tuple(part for part in self.controller.gyro_filters if part.kind is FilterKind.NOTCH)
        gains = {
            short: tuple(values[f"rate_loop.{axis}.{term}_gain"] for axis in AXES)
            for term, short in TERMS.items()
        }
        return replace(
            self.controller,
            gyro_filters=(LoopFilter(kind, values["gyro_filter.cutoff"]), *notches),
            d_filters=(LoopFilter(FilterKind.ONE_POLE, values["derivative_filter.cutoff"]),),
            **gains,
        )


@cache
def _drawn(population: Any, seed: int) -> Any:
    return population.draw(seed, "linear")


def carried(population: Any, truth: Any, seed: int, *, other: bool = False) -> Carried:
    """The aircraft of a seed; the new release filters the gyro as the old one, or by the other kind."""
    airframe, controller = _drawn(population, seed)
    first = controller.gyro_filters[0]
    kind = "one-pole" if first.kind is FilterKind.ONE_POLE else "biquad"
    notch = next((part for part in controller.gyro_filters if part.kind is FilterKind.NOTCH), None)
    gyro = kind if not other else "biquad" if kind == "one-pole" else "one-pole"
    values = {
        "gyro_filter.cutoff": first.frequency,
        "derivative_filter.cutoff": controller.d_filters[0].frequency,
    }
    for place, axis in enumerate(AXES):
        for term, short in TERMS.items():
            values[f"rate_loop.{axis}.{term}_gain"] = float(getattr(controller, short)[place])

    def all_axes(kind: str) -> dict[str, ControlStructure]:
        return {axis: structure(axis, controller.loop_rate, kind, notch) for axis in AXES}

    return Carried(airframe, controller, all_axes(gyro), values, all_axes(kind), gyro, truth)


def case(one: Carried, name: str) -> dict[str, float]:
    """The values that a naive copy leaves on the new release."""
    values = dict(one.old_values)
    for role in values:
        if role.endswith("derivative_gain"):
            values[role] *= {"derivative x8": 8.0, "derivative x0.25": 0.25}.get(name, 1.0)
        if name == "slow filters" and role.endswith("cutoff"):
            values[role] *= 0.5
    return values


def limits(values: dict[str, float], steps: float = 0.0) -> dict[str, Limits]:
    """Wide ranges; steps as a share of the values."""
    return {role: Limits(0.0, np.inf, steps * value) for role, value in values.items()}


def tasks(one: Carried) -> dict[str, AxisTask]:
    """On the true plant, the loop's rate unchanged."""
    return {axis: AxisTask(one.plant(axis), one.old(axis), one.plant(axis)) for axis in AXES}


def retuned(
    one: Carried,
    values: dict[str, float],
    ranges: dict[str, Limits] | None = None,
    *,
    filters: bool = True,
    steps: float = FINE,
) -> Retuned:
    """Of all three axes; steps as a share of the old values where no ranges are given."""
    knobs = knobs_of(one.structures, values, values, ranges or limits(one.old_values, steps))
    return retune_axes(tasks(one), one.structures, values, values, knobs, filters=filters)


@dataclass(frozen=True)
class Judged:
    """What the truth says of an axis: largest differences over 0.5 to 25 Hz, ratios of peak and noise."""

    decibels: float
    degrees: float
    peak: float
    noise: float


def judged(one: Carried, values: dict[str, float]) -> dict[str, Judged]:
    """By tools/flights/truth.py, three axes coupled; and whether they are stable."""
    after = one.with_values(values)
    assert one.truth.is_stable(one.airframe, after, one.point)
    grid = np.geomspace(0.5, 25.0, 300)
    answers = [
        one.truth.responses(one.airframe, c, one.point, grid).response for c in (one.controller, after)
    ]
    figures = [one.truth.truth(one.airframe, c, one.point) for c in (one.controller, after)]
    noises = [noise(one.truth, c) for c in (one.controller, after)]
    ratio = answers[1] / answers[0]
    return {
        axis: Judged(
            float(np.max(np.abs(20 * np.log10(np.abs(ratio[place]))))),
            float(np.max(np.abs(np.degrees(np.angle(ratio[place]))))),
            figures[1][axis].peak_sensitivity / figures[0][axis].peak_sensitivity,
            float(noises[1][place] / noises[0][place]),
        )
        for place, axis in enumerate(AXES)
    }


def noise(truth: Any, controller: Controller) -> Any:
    """What white gyro noise does to the drive of each axis, by scipy's rule over the truth's controller."""
    from scipy.integrate import simpson

    grid = np.geomspace(0.5, 0.5 * controller.loop_rate, 4001)
    _, rate = truth.controllers(controller, grid)
    return np.sqrt(simpson(np.abs(rate) ** 2, x=grid))
