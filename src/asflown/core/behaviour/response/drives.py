"""What drove the axes: differential thrust, the slow factors of its effect, and motors at their ends.

Source of the drive: joint input-output identification wants the achieved input; the differential of the motor
commands to the power of the thrust curve is what turns the aircraft (thrust over command, common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify.bands import Stretch
from asflown.core.behaviour.identify.controller import Record
from asflown.core.flight import EvenPart, Span
from asflown.core.signal.decimate import REACH, decimate, outputs
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Samples a second the estimators work at, or a little more; a log of less is used as it is.
WORKING_RATE = 500.0
#: The slow factors are smoothed over so many seconds (standard deviation of a Gaussian).
SLOW = 0.08
#: Means taken in this time before smoothing, which takes a hundredth of the work.
STEPS_OF_SLOW = 8
#: A motor within this share of its range from its end counts as at its end.
AT_END = 0.004
#: An end is one that was held for more than this share of the rows.
HELD = 3e-4
#: Logarithm of the collective is bounded from below here.
LEAST_COLLECTIVE = 0.02


@dataclass(frozen=True, eq=False)
class Driven:
    """One even stretch at the working rate, with all that drove it.

    Attributes
    ----------
    part
        As logged.
    rate
        Samples a second, the working rate.
    factor
        Rate logged over working rate.
    command, response, control
        (n,) by axis, rad/s, rad/s, 1; no control where the motors say what it came to.
    others
        (n,) further instruments by name (sticks).
    motors
        (motors, n at the rate logged), 1; ``None`` where not logged.
    commanded
        (3, n) differential motor commands; ``None`` without motors.
    slopes
        (k, n) logarithms of collective and, where it varies, of pack voltage, about their means.
    saturated
        (n,) share of the rows of each sample in which a motor stood at its end.
    """

    part: EvenPart
    rate: float
    factor: int
    command: dict[str, Float]
    response: dict[str, Float]
    control: dict[str, Float]
    others: dict[str, Float]
    motors: Float | None
    commanded: Float | None
    slopes: Float
    saturated: Float

    @property
    def samples(self) -> int:
        """At the working rate."""
        return int(self.saturated.size)

    @property
    def span(self) -> Span:
        """S from the start of the log."""
        return self.part.span


def _slow(values: Float, rate: float) -> Float:
    """The values without what is quicker than `SLOW`: smooth means of a few samples, straight between."""
    from scipy.ndimage import gaussian_filter1d

    size = max(1, int(SLOW * rate / STEPS_OF_SLOW))
    count = max(1, values.size // size)
    means = values[: count * size].reshape(count, -1).mean(axis=1)
    smooth = gaussian_filter1d(means, SLOW * rate / size, mode="nearest", truncate=3.0)
    middles = (np.arange(count) + 0.5) * size - 0.5
    return np.asarray(np.interp(np.arange(values.size), middles, smooth))


def driven(
    parts: Sequence[EvenPart], pattern: Float | None, further: Sequence[str] = ()
) -> tuple[Driven, ...]:
    """Every stretch, reduced to the working rate, with its motors, slow factors and saturation.

    Parameters
    ----------
    parts
        Even stretches at the rate logged: saturation and thrust are read before anything is filtered.
    pattern
        (3, motors) from motors to axes.
    further
        Names of further signals wanted (sticks).

    Returns
    -------
    tuple
        One of each stretch of more than 1 s; empty where there is none.
    """
    factor = max(1, int(parts[0].rate // WORKING_RATE))
    kept = [part for part in parts if outputs(part.samples, factor) > WORKING_RATE]
    names = [name for name in kept[0].values if name.startswith("motor.")] if kept else []
    names.sort(key=lambda name: int(name.split(".")[1]))
    stacks = [part.rows(names) if names else None for part in kept]
    low, high = _ends(stacks)
    slow = [_factors(part, motors, factor) for part, motors in zip(kept, stacks, strict=True)]
    total = sum(rows.shape[1] for rows in slow)
    mean = np.asarray(sum(rows.sum(axis=1) for rows in slow) / max(total, 1))
    used = _varying(slow, mean, total)
    made = []
    for part, motors, rows in zip(kept, stacks, slow, strict=True):
        count = outputs(part.samples, factor)
        at_end: Bool = np.zeros(part.samples, dtype=np.bool_)
        commanded = None
        if motors is not None:
            for row in motors:
                at_end |= (row > high) | (row < low)
            if pattern is not None:
                commanded = np.stack([decimate(row, factor) for row in pattern @ motors])
        made.append(
            Driven(
                part,
                part.rate / factor,
                factor,
                _family(part, "rate_command", factor),
                _family(part, "rate", factor),
                _family(part, "control", factor) if commanded is None else {},
                {name: decimate(part.values[name], factor) for name in further if name in part.values},
                motors,
                commanded,
                (rows - mean[:, None])[:used],
                _picked(at_end.astype(np.float64), factor, count),
            )
        )
    return tuple(made)


def _family(part: EvenPart, family: str, factor: int) -> dict[str, Float]:
    return {
        axis: decimate(part.values[f"{family}.{axis}"], factor)
        for axis in AXES
        if f"{family}.{axis}" in part.values
    }


def _picked(values: Float, factor: int, count: int) -> Float:
    """Means over the rows that belong to each sample of the working rate, (count,)."""
    if factor == 1:
        return values
    first = REACH * factor - factor // 2
    return np.asarray(values[first : first + count * factor].reshape(count, factor).mean(axis=1))


def _factors(part: EvenPart, motors: Float | None, factor: int) -> Float:
    """(2, n) or (1, n) or (0, n): logarithms of collective and voltage, slow."""
    count, rate = outputs(part.samples, factor), part.rate / factor
    rows = []
    if motors is not None:
        collective = _slow(_picked(motors.mean(axis=0), factor, count), rate)
        rows.append(np.log(np.maximum(collective, LEAST_COLLECTIVE)))
        voltage = part.values.get("pack_voltage")
        if voltage is not None and np.all(voltage > 0.5):
            rows.append(np.log(_slow(_picked(voltage, factor, count), rate)))
    return np.stack(rows) if rows else np.zeros((0, count))


def _varying(slow: Sequence[Float], mean: Float, total: int) -> int:
    """How many of the slow factors are used: voltage only where it moved by more than 1 %."""
    if mean.size < 2:
        return int(mean.size)
    power = sum(float(((rows[1] - mean[1]) ** 2).sum()) for rows in slow) / total
    return 2 if power > 0.01**2 else 1


def _ends(stacks: Sequence[Float | None]) -> tuple[float, float]:
    """Commands beyond which a motor counts as at its end; infinite where no end was held."""
    seen = [motors for motors in stacks if motors is not None]
    if not seen:
        return -np.inf, np.inf
    low = min(float(motors.min()) for motors in seen)
    high = max(float(motors.max()) for motors in seen)
    near = AT_END * (high - low)
    held_low = sum(int(np.count_nonzero(motors < low + near)) for motors in seen)
    held_high = sum(int(np.count_nonzero(motors > high - near)) for motors in seen)
    # an end that was only touched once or twice is no end
    enough = HELD * sum(motors.shape[1] for motors in seen) + 3
    return (low + near if held_low > enough else -np.inf, high - near if held_high > enough else np.inf)


def shortened(made: Sequence[Driven], seconds: float) -> list[Driven]:
    """As many of the stretches as fill the seconds, the longest first, the last one cut."""
    kept: list[Driven] = []
    left = seconds
    for one in sorted(made, key=lambda one: -one.samples):
        size = min(one.samples, int(left * one.rate))
        if size < WORKING_RATE and kept:
            break
        kept.append(one if size == one.samples else _cut(one, size))
        left -= size / one.rate
    return kept


def _cut(one: Driven, size: int) -> Driven:
    def first(rows: dict[str, Float]) -> dict[str, Float]:
        return {name: values[:size] for name, values in rows.items()}

    return replace(
        one,
        command=first(one.command),
        response=first(one.response),
        control=first(one.control),
        others=first(one.others),
        commanded=None if one.commanded is None else one.commanded[:, :size],
        slopes=one.slopes[:, :size],
        saturated=one.saturated[:size],
    )


def thrust_drives(made: Sequence[Driven], pattern: Float, exponent: float) -> list[Float]:
    """Differential thrust, as a differential command at the flight's mean command.

    Parameters
    ----------
    pattern
        (3, motors) from motors to axes.
    exponent
        Of thrust over command.

    Returns
    -------
    list
        (3, n) of each stretch at the working rate, 1.
    """
    if exponent == 1.0:
        return [one.commanded for one in made if one.commanded is not None]
    total = sum(one.motors.size for one in made if one.motors is not None)
    mean = sum(float(one.motors.sum()) for one in made if one.motors is not None) / max(total, 1)
    rows = pattern / (exponent * mean ** (exponent - 1.0))
    found = []
    for one in made:
        assert one.motors is not None
        thrust = np.maximum(one.motors, 0.0)
        thrust **= exponent
        found.append(np.stack([decimate(row, one.factor) for row in rows @ thrust]))
    return found


def stretches(
    made: Sequence[Driven], axis: str, drives: Sequence[Float], instrument: str | None = None
) -> tuple[Stretch, ...]:
    """What the plant is fitted to."""
    return tuple(
        Stretch(
            one.rate,
            one.command[axis],
            drive,
            one.response[axis],
            one.slopes,
            None if instrument is None else one.others[instrument],
        )
        for one, drive in zip(made, drives, strict=True)
    )


def records(made: Sequence[Driven], axis: str) -> tuple[Record, ...]:
    """What the controller is measured from: the motors, or its logged output where they were not logged."""
    found = []
    for one in made:
        if one.commanded is not None:
            output, saturated = one.commanded[AXES.index(axis)], one.saturated
        else:
            output, saturated = one.control[axis], np.zeros(one.samples)
        found.append(Record(one.rate, one.command[axis], one.response[axis], output, saturated))
    return tuple(found)
