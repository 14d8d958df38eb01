"""Rates that no name tells: pairs of lively two-sided columns of which one follows the other."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from asflown.core.columns.data_control import made_of_motors
from asflown.core.columns.data_rates import FOLLOWS, LATEST, Pair
from asflown.core.columns.open_columns import Scene
from asflown.core.layout import Doubt
from asflown.core.signals import AXES


@dataclass(frozen=True, slots=True)
class Angle:
    """A column whose derivative another is."""

    angle: int
    rate: int
    correlation: float


def say_pairs(scene: Scene) -> None:
    """Enter commands, rates and angles found by lag and derivative."""
    if scene.tied is None:
        return
    controls = made_of_motors(scene)
    lively = [p for p in scene.still_open() if p not in controls and _is_lively(scene, p)]
    named_rates = [*scene.named("rate")]
    angles = _angles(scene, lively, [*lively, *named_rates])
    is_angle = {angle.angle for angle in angles}
    pairs = _pairs(scene, [place for place in lively if place not in is_angle])
    axes, weight, how = _axes(scene, pairs)
    for pair, axis in zip(pairs, axes, strict=True):
        told = f"(correlation {pair.correlation:.2f}, {pair.lag * 1e3:.1f} ms)"
        names = scene.name(pair.command), scene.name(pair.measured)
        if axis is None:
            continue
        scene.ledger.data(
            pair.command, f"rate_command.{axis}", weight, f"'{names[1]}' follows it {told}{how}"
        )
        scene.ledger.data(pair.measured, f"rate.{axis}", weight, f"it follows '{names[0]}' {told}{how}")
    if pairs and weight < 2.0:
        _ask_axes(scene, pairs)
    _say_angles(scene, angles)


def _is_lively(scene: Scene, place: int) -> bool:
    sample, at = scene.sample, scene.at(place)
    two_sided = abs(sample.mean[at]) < 1.5 * sample.deviation[at] and sample.low[at] < 0 < sample.high[at]
    return bool(two_sided and sample.levels[at] > 20 and sample.roughness[at] < 1.2)


def _angles(scene: Scene, places: list[int], rates: list[int]) -> list[Angle]:
    made = []
    if scene.tied is None:
        return []
    for x in places:
        best = None
        for y in rates:
            if x == y:
                continue
            value, lag = scene.tied.correlation(scene.at(x), scene.at(y), derivative=True)
            if value > 0.85 and abs(lag) < 0.015 and (best is None or value > best.correlation):
                best = Angle(x, y, value)
        if best is not None:
            made.append(best)
    return made


def _pairs(scene: Scene, places: list[int]) -> list[Pair]:
    found: list[Pair] = []
    tied = scene.tied
    if tied is None:
        return []
    for number, i in enumerate(places):
        for j in places[number + 1 :]:
            value, lag = tied.correlation(scene.at(i), scene.at(j))
            command, measured = (i, j) if lag > 0 else (j, i)
            if value >= FOLLOWS and 0.002 < abs(lag) <= LATEST:
                slope = tied.slope(scene.at(command), scene.at(measured))
                found.append(Pair(command, measured, value, abs(lag), slope))
    kept: list[Pair] = []
    for pair in sorted(found, key=lambda pair: -pair.correlation):
        used = {place for other in kept for place in (other.command, other.measured)}
        if pair.command not in used and pair.measured not in used and len(kept) < 3:
            kept.append(pair)
    return sorted(kept, key=lambda pair: pair.command)


def _axes(scene: Scene, pairs: list[Pair]) -> tuple[list[str | None], float, str]:
    """The axis of each pair: from a word of either name, else from the order where both sets agree on it."""
    hints: list[str | None] = []
    for pair in pairs:
        words = [scene.readings[place].axis for place in (pair.command, pair.measured)]
        places = {axis for axis in words if axis is not None}
        hints.append(AXES[places.pop()] if len(places) == 1 else None)
    if pairs and all(hints) and len(set(hints)) == len(pairs):
        return hints, 3.0, ""
    in_order = _stand_together([p.command for p in pairs]) and _stand_together([p.measured for p in pairs])
    if len(pairs) == 3:
        how = "; the order of both sets of three columns is taken as roll, pitch, yaw"
        return list(AXES), (2.3 if in_order else 1.2), how if in_order else ""
    return [None] * len(pairs), 0.0, ""


def _stand_together(places: list[int]) -> bool:
    return all(after == before + 1 for before, after in pairwise(places))


def _ask_axes(scene: Scene, pairs: list[Pair]) -> None:
    told = ", ".join(f"'{scene.name(p.command)}' → '{scene.name(p.measured)}'" for p in pairs)
    scene.ledger.doubt(
        Doubt(
            "rate",
            f"commands and the rates that follow them: {told}. Which is roll, pitch, yaw?",
            tuple(f"rate.{axis}={scene.name(pairs[0].measured)}" for axis in AXES),
            "neither names nor order tell the axes; state rate.roll=COLUMN and so on",
        )
    )


def _say_angles(scene: Scene, angles: list[Angle]) -> None:
    rates = scene.named("rate")
    for angle in angles:
        name = rates.get(angle.rate)
        if name is None:
            continue
        axis = name.partition(".")[2]
        told = f"its derivative goes with '{scene.name(angle.rate)}' (correlation {angle.correlation:.2f})"
        scene.ledger.data(angle.angle, f"attitude.{axis}", 3.0, told)
