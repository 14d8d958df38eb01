"""Simulated flights as the estimators take them, with the truth beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from asflown.core.flight import EvenPart
from asflown.core.motors.mixer import mixer_from
from asflown.core.signal.timebase import even_parts
from asflown.core.signals import AXES

Known = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True)
class Flown:
    """One flight: even stretches, which motor turns which axis, the controller, and the truth by axis."""

    parts: list[EvenPart]
    pattern: np.ndarray
    controllers: dict[str, Known]
    truth: dict[str, Any]
    plant: Callable[[np.ndarray], np.ndarray]


def flown(population: ModuleType, seed: int, structure: str, seconds: float, **how: Any) -> Flown:
    """Fly the aircraft of a seed; ``how`` as :func:`population.fly` takes it."""
    known = population.known
    aircraft = population.draw(seed, structure)
    flight = population.fly(seed, structure, seconds, aircraft=aircraft, **how)
    names = [f"{kind}.{axis}" for kind in ("rate_command", "rate", "control") for axis in AXES]
    names += [f"motor.{n}" for n in range(1, aircraft[0].motors + 1)] + ["pack_voltage"]
    if how.get("level"):
        names += [f"stick.{axis}" for axis in AXES]
    parts = list(even_parts(flight.to_flight(), names))
    values = parts[0].values

    def stack(kind: str) -> np.ndarray:
        return np.stack([values[f"{kind}.{axis}"] for axis in AXES])

    motors = np.stack([values[name] for name in names if name.startswith("motor.")])
    mixer = mixer_from(motors, stack("control"), stack("rate"), parts[0].rate, commands=stack("rate_command"))
    assert mixer.matrix is not None

    def controller(place: int) -> Known:
        return lambda f: tuple(one[place] for one in known.controllers(aircraft[1], f))  # type: ignore[return-value]

    point = known.of_flight(*aircraft, flight)
    return Flown(
        parts,
        mixer.matrix,
        {axis: controller(place) for place, axis in enumerate(AXES)},
        population.truth_of(seed, structure, flight, aircraft=aircraft),
        lambda f: np.asarray(known.responses(*aircraft, point, f).plant),
    )


def without(parts: list[EvenPart], *families: str) -> list[EvenPart]:
    """The same stretches with some signals not logged."""
    return [
        EvenPart(
            part.start,
            part.rate,
            {name: rows for name, rows in part.values.items() if not name.startswith(families)},
            part.filled,
        )
        for part in parts
    ]
