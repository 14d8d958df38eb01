"""Specific force by its data: three columns whose common length at rest is one g; and which way z points."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from asflown.core.columns.data_units import length_of
from asflown.core.columns.log_units import FREE_FALL
from asflown.core.columns.open_columns import Scene
from asflown.core.layout import Doubt

_LENGTHS = {"m/s2": FREE_FALL, "g": 1.0, "mg": 1000.0}


def say_accel(scene: Scene) -> None:
    """Enter three undecided columns that together are one g long, in file order x, y, z."""
    if scene.named("accel"):
        return
    places = [p for p in scene.still_open() if scene.sample.levels[scene.at(p)] > 20]
    best: tuple[float, tuple[int, ...], float] | None = None
    for three in combinations(places, 3):
        if three[2] - three[0] != 2:
            continue
        found = _fits(scene, three)
        if found is not None and (best is None or found[0] < best[0]):
            best = (found[0], three, found[1])
    if best is None:
        return
    for place, axis in zip(best[1], "xyz", strict=True):
        told = f"with its neighbours it is {best[2]:.4g} long in the median: one g"
        scene.ledger.data(place, f"accel.{axis}", 2.6, told)


def _fits(scene: Scene, three: tuple[int, ...]) -> tuple[float, float] | None:
    """How far the length is from one g, and the length; the third carries it, the first two are small."""
    parts = scene.sample.blocks[:, :, [scene.at(p) for p in three]]
    size = length_of(parts)
    mean = np.abs(np.median(parts.reshape(-1, 3), axis=0))
    if size <= 0 or mean[2] < 0.8 * size or max(mean[0], mean[1]) > 0.5 * size:
        return None
    off = min(abs(np.log(size / length)) for length in _LENGTHS.values())
    return (float(off), size) if off < 0.2 else None


def say_sign_of_z(scene: Scene) -> None:
    """Body z points down, so specific force along it is -g in hover: a sensor whose z points up is turned."""
    found = [place for place, name in scene.named("accel").items() if name == "accel.z"]
    flies = scene.named("motor") or scene.named("rotor_speed") or scene.named("rate_command")
    if not found or not flies:
        return
    at = scene.at(found[0])
    middle = np.median(scene.sample.blocks[:, :, at], axis=1)
    if np.all(middle > 0) and float(np.median(middle)) > 2 * float(np.median(scene.sample.deviation[at])):
        value = float(np.median(middle))
        scene.ledger.signs[found[0], "accel.z"] = (
            f"its median is {value:+.4g} in flight: up is positive; body z points down, so it is turned"
        )
        scene.ledger.doubt(
            Doubt(
                "accel.y",
                "z of the accelerometer points up: do y and the yaw and pitch rates count the other way too?",
                ("as logged", "turn accel.y, rate.pitch and rate.yaw"),
                "axes are x forward, y right, z down (ISO 1151-1)",
            )
        )
