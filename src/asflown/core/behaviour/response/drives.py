"""What drove the axes: differential thrust, the slow factors of its effect, and motors at their ends.

Source of the drive: joint input-output identification wants the achieved input; the differential of the motor
commands to the power of the thrust curve is what turns the aircraft (thrust over command, common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify.bands import Stretch
from asflown.core.behaviour.identify.controller import Record
from asflown.core.flight import EvenPart

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: The slow factors are smoothed over so many seconds (standard deviation of a Gaussian).
SLOW = 0.08
#: A motor within this share of its range from its end counts as at its end.
AT_END = 0.004
#: An end is one that was held for more than this share of the rows.
HELD = 3e-4
#: Logarithm of the collective is bounded from below here.
LEAST_COLLECTIVE = 0.02


@dataclass(frozen=True, eq=False)
class Driven:
    """One even stretch with all that drove it.

    Attributes
    ----------
    motors
        (motors, n) achieved commands, 1; ``None`` where not logged.
    slopes
        (k, n) logarithms of collective and, where it varies, of pack voltage, about their means.
    saturated
        (n,) whether a motor stood at its end.
    """

    part: EvenPart
    motors: Float | None
    slopes: Float
    saturated: Bool


def _slow(values: Float, rate: float) -> Float:
    from scipy.ndimage import gaussian_filter1d

    return np.asarray(gaussian_filter1d(values, SLOW * rate, mode="nearest", truncate=3.0))


def driven(parts: Sequence[EvenPart]) -> tuple[Driven, ...]:
    """Every stretch with its motors, slow factors and saturation."""
    names = [name for name in parts[0].values if name.startswith("motor.")]
    names.sort(key=lambda name: int(name.split(".")[1]))
    stacks = [np.stack([part.values[name] for name in names]) if names else None for part in parts]
    slow = [_factors(part, motors) for part, motors in zip(parts, stacks, strict=True)]
    total = sum(part.samples for part in parts)
    mean = sum(rows.sum(axis=1) for rows in slow) / total
    kept = _varying(slow, mean, total)
    low, high = _ends(stacks)
    made = []
    for part, motors, rows in zip(parts, stacks, slow, strict=True):
        at_end = np.zeros(part.samples, dtype=bool)
        if motors is not None:
            at_end = ((motors > high) | (motors < low)).any(axis=0)
        made.append(Driven(part, motors, (rows - mean[:, None])[:kept], at_end))
    return tuple(made)


def _factors(part: EvenPart, motors: Float | None) -> Float:
    """(2, n) or (1, n) or (0, n): logarithms of collective and voltage, slow."""
    rows = []
    if motors is not None:
        collective = _slow(motors.mean(axis=0), part.rate)
        rows.append(np.log(np.maximum(collective, LEAST_COLLECTIVE)))
        voltage = part.values.get("pack_voltage")
        if voltage is not None and np.all(voltage > 0.5):
            rows.append(np.log(_slow(voltage, part.rate)))
    return np.stack(rows) if rows else np.zeros((0, part.samples))


def _varying(slow: Sequence[Float], mean: Float, total: int) -> int:
    """How many of the slow factors are used: voltage only where it moved by more than 1 %."""
    if mean.size < 2:
        return int(mean.size)
    power = sum(((rows[1] - mean[1]) ** 2).sum() for rows in slow) / total
    return 2 if power > 0.01**2 else 1


def _ends(stacks: Sequence[Float | None]) -> tuple[float, float]:
    """Commands beyond which a motor counts as at its end; infinite where no end was held."""
    seen = [motors for motors in stacks if motors is not None]
    if not seen:
        return -np.inf, np.inf
    low = min(float(motors.min()) for motors in seen)
    high = max(float(motors.max()) for motors in seen)
    near = AT_END * (high - low)
    held_low = sum(int(((motors - low) < near).sum()) for motors in seen)
    held_high = sum(int(((high - motors) < near).sum()) for motors in seen)
    # an end that was only touched once or twice is no end
    enough = HELD * sum(motors.shape[1] for motors in seen) + 3
    return (low + near if held_low > enough else -np.inf, high - near if held_high > enough else np.inf)


def mean_command(made: Sequence[Driven]) -> float:
    """Mean of all motors over the flight."""
    total = sum(one.motors.size for one in made if one.motors is not None)
    return sum(float(one.motors.sum()) for one in made if one.motors is not None) / max(total, 1)


def thrust_drive(one: Driven, pattern: Float, exponent: float, at: float) -> Float:
    """(n,) differential of the motors' thrust as a differential command at the mean command ``at``."""
    assert one.motors is not None
    if exponent == 1.0:
        return np.asarray(pattern @ one.motors)
    thrust = np.maximum(one.motors, 0.0) ** exponent
    return np.asarray(pattern @ thrust / (exponent * at ** (exponent - 1.0)))


def stretches(
    made: Sequence[Driven], axis: str, drives: Sequence[Float], instrument: str | None = None
) -> tuple[Stretch, ...]:
    """What the plant is fitted to."""
    return tuple(
        Stretch(
            one.part.rate,
            one.part.values[f"rate_command.{axis}"],
            drive,
            one.part.values[f"rate.{axis}"],
            one.slopes,
            None if instrument is None else one.part.values[instrument],
        )
        for one, drive in zip(made, drives, strict=True)
    )


def records(made: Sequence[Driven], axis: str, pattern: Float | None) -> tuple[Record, ...]:
    """What the controller is measured from: its logged output where there is one, else the motors."""
    found = []
    for one in made:
        values = one.part.values
        logged = values.get(f"control.{axis}")
        if pattern is not None and one.motors is not None:
            output, saturated = pattern @ one.motors, one.saturated
        else:
            assert logged is not None
            output, saturated = logged, np.zeros(one.part.samples, dtype=bool)
        found.append(
            Record(one.part.rate, values[f"rate_command.{axis}"], values[f"rate.{axis}"], output, saturated)
        )
    return tuple(found)
