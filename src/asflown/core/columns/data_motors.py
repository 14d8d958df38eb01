"""Motor commands and rotor speeds by their data: a set of columns of one span that move together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.columns.open_columns import Scene

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray

_SIZES = (8, 6, 4, 3)


def say_motors(scene: Scene) -> None:
    """Enter sets of undecided columns that look like motor commands or rotor speeds."""
    _speeds_that_are_commands(scene)
    sets = _alike(scene)
    named_motors, named_rotors = scene.named("motor"), scene.named("rotor_speed")
    for places in sets:
        family = _family(scene, places, bool(named_motors), bool(named_rotors))
        if family is None:
            continue
        low = min(float(scene.sample.low[scene.at(p)]) for p in places)
        high = max(float(scene.sample.high[scene.at(p)]) for p in places)
        partners = _by_partner(scene, places, named_motors if family == "rotor_speed" else {})
        for count, place in enumerate(places, 1):
            number = partners.get(place, count)
            how = (
                "numbered by the motor command it follows" if place in partners else "numbered in file order"
            )
            words = "motor commands" if family == "motor" else "rotor speeds"
            told = f"one of {len(places)} columns that share the span {low:.4g} to {high:.4g}"
            reason = f"{told} like {words}; {how}"
            scene.ledger.data(place, f"{family}.{number}", 3.0, reason)
        if family == "motor":
            named_motors = {p: f"motor.{n}" for n, p in enumerate(places, 1)}
        else:
            named_rotors = dict.fromkeys(places, "rotor_speed")


def _speeds_that_are_commands(scene: Scene) -> None:
    """Rotor speeds by name whose numbers run from 0 to 1 are commands, where no others are."""
    rotors = scene.named("rotor_speed")
    if not rotors or scene.named("motor"):
        return
    high = max(float(scene.sample.high[scene.at(place)]) for place in rotors)
    if high > 1.05:
        return
    for place, name in rotors.items():
        scene.ledger.data(place, name, -12.0)
        number = name.partition(".")[2]
        told = f"no rotor speed: the numbers of its set end at {high:.3g}, as commands do"
        scene.ledger.data(place, f"motor.{number}", 4.0, told)


def _alike(scene: Scene) -> list[list[int]]:
    """Sets of one-sided, lively columns with nearly the same mean and spread; the largest numbers last."""
    sample = scene.sample
    rest = []
    for place in scene.still_open():
        at = scene.at(place)
        one_sided = (
            sample.low[at] >= -0.05 * abs(sample.mean[at]) and sample.mean[at] > 1.2 * sample.deviation[at]
        )
        if one_sided and sample.levels[at] > 20 and sample.roughness[at] > 1e-4:
            rest.append(place)
    made: list[list[int]] = []
    while rest:
        first = rest[0]
        same = [place for place in rest if _is_alike(scene, first, place)]
        size = next((size for size in _SIZES if size == len(same)), 0)
        if size:
            made.append(same)
            rest = [place for place in rest if place not in same]
        else:
            rest = rest[1:]
    return sorted(made, key=lambda places: float(sample.mean[scene.at(places[0])]))


def _is_alike(scene: Scene, a: int, b: int) -> bool:
    sample, i, j = scene.sample, scene.at(a), scene.at(b)
    spread = abs(np.log(sample.deviation[i] / sample.deviation[j]))
    mean = abs(np.log(sample.mean[i] / sample.mean[j]))
    rough = abs(np.log(sample.roughness[i] / sample.roughness[j]))
    return bool(spread < 0.8 and mean < 0.35 and rough < 0.8)


def _family(scene: Scene, places: list[int], has_motors: bool, has_rotors: bool) -> str | None:
    sample = scene.sample
    ats = [scene.at(place) for place in places]
    low, high = float(sample.low[ats].min()), float(sample.high[ats].max())
    noise = float(np.std(sample.flat[:, ats].mean(axis=1)))
    if noise <= 0:
        return None
    if not has_motors and (high <= 1.05 or (high <= 101 and low >= 0) or (low >= 850 and high <= 2250)):
        return "motor"
    if not has_motors and not has_rotors:
        return "motor" if high <= 4096 and _is_whole(sample.flat[:, ats]) else "rotor_speed"
    if not has_rotors and has_motors:
        return "rotor_speed" if high > 50 else None
    return "motor" if not has_motors else None


def _is_whole(values: FloatArray) -> bool:
    return bool(np.all(values[::7] == np.rint(values[::7])))


def _by_partner(scene: Scene, places: list[int], motors: dict[int, str]) -> dict[int, int]:
    """Rotor speeds numbered by the motor command each goes with most."""
    if scene.tied is None or len(motors) != len(places):
        return {}
    size = np.array([[scene.tied.correlation(scene.at(m), scene.at(p))[0] for m in motors] for p in places])
    choice = np.argmax(size, axis=1)
    if len(set(choice.tolist())) < len(places) or float(size.max(axis=1).min()) < 0.5:
        return {}
    numbers = [int(name.partition(".")[2]) for name in motors.values()]
    return {place: numbers[int(at)] for place, at in zip(places, choice, strict=True)}


def motor_mean(scene: Scene) -> FloatArray | None:
    """(b, n) mean of the motor commands of the sample, ``None`` without motors."""
    motors = scene.named("motor") or scene.named("rotor_speed")
    if not motors:
        return None
    values: FloatArray = scene.sample.blocks[:, :, [scene.at(place) for place in motors]].mean(axis=2)
    return values
