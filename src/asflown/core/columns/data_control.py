"""Controller outputs by their data: what the differences between the motors are made of."""

from __future__ import annotations

import numpy as np

from asflown.core.columns.open_columns import Scene
from asflown.core.signals import AXES


def made_of_motors(scene: Scene) -> dict[int, float]:
    """Undecided two-sided columns that the motors' differences reproduce, and to what share."""
    motors = list(scene.named("motor"))
    if len(motors) < 3:
        return {}
    values = scene.sample.flat[:, [scene.at(place) for place in motors]]
    parts = values - values.mean(axis=1, keepdims=True)
    parts = (parts - parts.mean(axis=0))[:, : len(motors) - 1]
    square = parts.T @ parts
    made: dict[int, float] = {}
    for place in scene.still_open():
        target = scene.sample.flat[:, scene.at(place)]
        target = target - target.mean()
        power = float(target @ target)
        one_sided = abs(scene.sample.mean[scene.at(place)]) > 2 * scene.sample.deviation[scene.at(place)]
        if power <= 0 or one_sided:
            continue
        gain = np.linalg.lstsq(square, parts.T @ target, rcond=None)[0]
        left = target - parts @ gain
        made[place] = 1 - float(left @ left) / power
    return {place: share for place, share in made.items() if share >= 0.8}


def say_control(scene: Scene) -> None:
    """Enter columns made of the motors' differences, by the rate each drives."""
    rates = scene.named("rate")
    if scene.tied is None or scene.named("control"):
        return
    for place, explained in made_of_motors(scene).items():
        axis, size = _driven(scene, place, rates)
        if axis is not None:
            told = f"the motors' differences make up {explained:.0%} of it, and it drives rate.{axis}"
            scene.ledger.data(place, f"control.{axis}", 2.4 + 0.5 * size, told)


def _driven(scene: Scene, place: int, rates: dict[int, str]) -> tuple[str | None, float]:
    """The rate whose change goes most with a column."""
    best: tuple[float, str | None] = (0.3, None)
    for rate, name in rates.items():
        if scene.tied is None or name.partition(".")[2] not in AXES:
            continue
        value, lag = scene.tied.correlation(scene.at(rate), scene.at(place), derivative=True)
        if abs(lag) < 0.1 and abs(value) > best[0]:
            best = (abs(value), name.partition(".")[2])
    return best[1], best[0]
