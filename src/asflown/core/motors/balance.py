"""Balance of the motors in hover: who works harder than the mean, and what that may mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.motors.mixer import MotorMixer
from asflown.core.signal.mean_error import Means, averaged_where, bounds, means_of, student
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: s of hover below which no balance is told.
SHORTEST = 5.0
#: Share of the mean command below which an offset is nothing to speak of (common practice, no source).
SMALL = 0.03
#: How far the three patterns may differ for one motor to explain them, as a share of their mean.
ALIKE = 0.25
ROUTE = "means in hover"


@dataclass(frozen=True, slots=True)
class MotorBalance:
    """How unequally the motors work in hover.

    Attributes
    ----------
    mean
        Mean command of all motors, 1.
    offsets
        For each motor: its command less the mean, 1.
    patterns
        Roll, pitch, yaw: by how much the motors that raise the axis work above the mean, 1 (four motors: the
        offsets are the signed sums of the three).
    meanings
        Sentences: what it may mean, with what cannot be told apart.
    """

    mean: Measured
    offsets: tuple[Measured, ...]
    patterns: tuple[Measured, Measured, Measured]
    meanings: tuple[str, ...]


def balance(motors: Float, hover: Bool, rate_hz: float, mixer: MotorMixer | None = None) -> MotorBalance:
    """Balance in hover.

    Parameters
    ----------
    motors
        (motors, n) commands, 1.
    hover
        (n,) true in steady hover.
    rate_hz
        Samples a second.
    mixer
        Which motor raises which axis; ``None`` or one with a reason: no patterns.
    """
    count = motors.shape[0]
    seconds = float(np.count_nonzero(hover)) / rate_hz
    if seconds < SHORTEST:
        told = unmeasured(f"{seconds:.0f} s of steady hover are too short; hover for 30 s", route=ROUTE)
        return MotorBalance(told, (told,) * count, (told, told, told), ())
    means = means_of(averaged_where(motors, rate_hz, hover), seconds)
    parts = means.of(np.concatenate([np.full((1, count), 1 / count), np.eye(count) - 1 / count]))
    mean = parts.measured(0, "1", ROUTE)
    offsets = tuple(parts.measured(i + 1, "1", ROUTE) for i in range(count))
    if mixer is None or mixer.matrix is None:
        why = "which motor raises which axis is not known" if mixer is None else mixer.reason
        told = unmeasured(f"no patterns: {why}", route=ROUTE)
        return MotorBalance(mean, offsets, (told, told, told), _uneven(offsets, mean))
    rows = mixer.matrix / np.sum(np.abs(mixer.matrix), axis=1, keepdims=True)
    axes = means.of(rows)
    patterns = (axes.measured(0, "1", ROUTE), axes.measured(1, "1", ROUTE), axes.measured(2, "1", ROUTE))
    meanings = _meanings(axes, rows, float(parts.value[0]), float(np.max(np.abs(parts.value[1:]))))
    return MotorBalance(mean, offsets, patterns, meanings)


def _uneven(offsets: tuple[Measured, ...], mean: Measured) -> tuple[str, ...]:
    told: list[str] = []
    level = bounds(mean)
    for number, offset in enumerate(offsets, 1):
        found = bounds(offset)
        if level is None or found is None:
            continue
        value, low, high = found
        if not low <= 0 <= high and abs(value) > SMALL * level[0]:
            more = "more" if value > 0 else "less"
            told.append(f"motor {number} gets {100 * abs(value) / level[0]:.0f} % {more} than the mean")
    return tuple(told)


def _meanings(axes: Means, rows: Float, mean: float, largest: float) -> tuple[str, ...]:
    half = student(axes.dof) * axes.error
    seen = (np.abs(axes.value) > half) & (np.abs(axes.value) > SMALL * mean / rows.shape[1] ** 0.5)
    if largest < SMALL * mean or not seen.any():
        return (f"the motors work alike within {100 * max(largest / mean, SMALL):.0f} % of their mean",)
    alone = _one_motor(axes, rows, half) if seen.all() else None
    told = []
    if alone is not None:
        percent = 100 * float(np.sum(np.abs(axes.value))) / mean
        harder = axes.value @ np.sign(rows[:, alone]) > 0
        told.append(
            f"one motor alone would explain it: motor {alone + 1} is given {percent:.0f} %"
            f" {'more' if harder else 'less'} than the others"
            f" ({'a weaker motor, worn bearing or propeller' if harder else 'a stronger motor or propeller'})"
            "; an off-centre load with a twisted arm looks the same: change its propeller with another"
            " motor's and see whether the offset moves along"
        )
    told += [_axis_words(axis, float(axes.value[i]), mean) for i, axis in enumerate(AXES) if seen[i]]
    return tuple(told)


def _one_motor(axes: Means, rows: Float, half: Float) -> int | None:
    """The motor whose pattern the three offsets are, alike in size; ``None`` where none is."""
    sizes = np.abs(axes.value)
    if rows.shape[1] != 4 or np.any(np.abs(sizes - sizes.mean()) > np.maximum(half, ALIKE * sizes.mean())):
        return None
    signs = np.sign(rows) * np.sign(axes.value)[:, None]
    alone = np.flatnonzero(np.abs(signs.sum(axis=0)) == 3)
    return int(alone[0]) if alone.size == 1 else None


def _axis_words(axis: str, value: float, mean: float) -> str:
    percent = f"{100 * abs(value) / mean:.0f} %"
    if axis == "roll":
        side = "left" if value > 0 else "right"
        return (
            f"the motors on the {side} work {percent} above the mean: centre of gravity to the {side},"
            f" or weaker motors or propellers there, or a roll trim"
        )
    if axis == "pitch":
        side = "front" if value > 0 else "rear"
        return (
            f"the motors at the {side} work {percent} above the mean: centre of gravity towards the {side},"
            f" or weaker motors or propellers there, or a pitch trim or steady wind"
        )
    side = "right" if value > 0 else "left"
    return (
        f"the motors that turn the nose to the {side} work {percent} above the mean: a twisted arm or a motor"
        " not upright, unequal propellers of the two directions, or a yaw trim"
    )
