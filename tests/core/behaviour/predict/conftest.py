"""A flight of a drawn aircraft, measured, and truth for any controller on it (tools/flights, code of its own)."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from asflown.core.behaviour.declared import KnownController
from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.response.axis import measure_axes
from asflown.core.behaviour.simulate import Airframe, Controller
from asflown.core.identified import Identified
from asflown.core.motors.mixer import mixer_from
from asflown.core.signal.timebase import even_parts
from asflown.core.signals import AXES

TOOLS = Path(__file__).parents[4] / "tools" / "flights"


@pytest.fixture(scope="session")
def tools() -> tuple[ModuleType, ModuleType]:
    """``population`` and ``truth``."""
    sys.path.insert(0, str(TOOLS))
    import population
    import truth

    return population, truth


@dataclass(frozen=True)
class AsTruth(KnownController):
    """A controller whose response is the truth's own: the prediction is judged, not the declaration."""

    answers: Callable[[Any], Any] = lambda frequencies: None

    def response(self, frequencies: Any) -> Any:
        return self.answers(np.asarray(frequencies))

    def scaled(self, scale: float) -> KnownController:
        assert scale == 1.0
        return self


@dataclass(frozen=True)
class Flown:
    """An aircraft, its flight's fits and what is true of it."""

    airframe: Airframe
    controller: Controller
    identified: dict[str, Identified]
    point: Any
    truth: ModuleType

    def controls(self, controller: Controller, axis: str, *, latency: bool = True) -> Controls:
        """The controller of one axis, as the truth answers."""
        place = AXES.index(axis)

        def answers(frequencies: Any) -> Any:
            command, rate = self.truth.controllers(controller, frequencies)
            return command[place], rate[place]

        known = AsTruth(axis, controller.loop_rate, (), answers=answers)
        late = (controller.computation_steps + 0.5) / controller.loop_rate if latency else None
        return Controls(declared=known, loop_rate=controller.loop_rate, latency=late)

    def true(self, controller: Controller, axis: str) -> Any:
        """Figures of one axis with another controller."""
        return self.truth.truth(self.airframe, controller, self.point)[axis]

    def holds(self, controller: Controller) -> bool:
        """Whether the three axes are stable with another controller."""
        return bool(self.truth.is_stable(self.airframe, controller, self.point))


@pytest.fixture(scope="session")
def flown(tools: tuple[ModuleType, ModuleType]) -> Callable[..., Flown]:
    """Fly and measure the aircraft of a seed; each once."""
    population, truth = tools
    kept: dict[tuple[Any, ...], Flown] = {}

    def fly(seed: int, structure: str = "linear", wind: float = 0.0) -> Flown:
        place = (seed, structure, wind)
        if place not in kept:
            aircraft = population.draw(seed, structure)
            flight = population.fly(seed, structure, 60.0, "normal", wind=wind, aircraft=aircraft)
            kept[place] = Flown(
                *aircraft, _measured(flight, aircraft, truth), truth.of_flight(*aircraft, flight), truth
            )
        return kept[place]

    return fly


def _measured(flight: Any, aircraft: Any, truth: ModuleType) -> dict[str, Identified]:
    names = [f"{kind}.{axis}" for kind in ("rate_command", "rate", "control") for axis in AXES]
    motors = [f"motor.{n}" for n in range(1, aircraft[0].motors + 1)]
    parts = even_parts(flight.to_flight(), [*names, *motors, "pack_voltage"])
    values = parts[0].values

    def stack(family: str) -> Any:
        return np.stack([values[f"{family}.{axis}"] for axis in AXES])

    mixer = mixer_from(
        np.stack([values[name] for name in motors]),
        stack("control"),
        stack("rate"),
        parts[0].rate,
        commands=stack("rate_command"),
    )
    found = measure_axes(parts, mixer.matrix)
    return {axis: one.identified for axis, one in found.items() if one.identified is not None}
