"""Level trim from two rests half a turn apart on one table."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from asflown.app.calibrate.accelerometer import CAUTIONS
from asflown.core.calibrate.kept import Calibration, Rows, blank
from asflown.core.calibrate.level import level_trim, tilt
from asflown.core.calibrate.positions import LONGEST, Position, positions_of
from asflown.core.measured import Measured
from asflown.errors import InputError

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.app.calibrate.logs import Motion

    Float = npt.NDArray[np.float64]

#: Degrees: an interval up to which it is fit for use; a trim worth writing (common practice, no source).
GOOD, WORTH = 0.2, 0.1
#: Degrees the table may slope before the half turn is to be doubted (common practice, no source).
SLOPING = 5.0
#: Degrees that a half turn may be off: of the slope no more than sin(HALF / 2) stays then.
HALF = 20.0
#: Share of the longest rest's length from which another one counts.
_AS_LONG = 0.5


def calibrate_level(first: Motion, second: Motion | None = None) -> Calibration:
    """Trim of roll and pitch; the slope of the table drops out.

    Parameters
    ----------
    second
        ``None``: the first log holds both rests, and the gyro says how far it was turned in between.

    Raises
    ------
    InputError
        When a log holds no rest, or the aircraft lay nowhere near level.
    """
    turned: float | None = None
    if second is None:
        rests, turned = _two(first)
    else:
        rests = [_longest(one) for one in (first, second)]
    second = first if second is None else second
    rate = rests[0][2]
    try:
        found = level_trim(rests[0][0], rests[1][0], rate)
    except ValueError as error:
        z = rests[0][1].mean[2]
        upside = z > 5.0
        raise InputError(
            "at rest the log's z reads gravity upwards: its axes are not forward, right, down"
            if upside
            else str(error),
            where=first.name,
            next_step="turn the log's columns into x forward, y right, z down, or put it on its feet"
            if upside
            else "put it on its feet on a level table, and log 10 s each way",
        ) from None
    results = {"roll trim": _degrees(found.roll), "pitch trim": _degrees(found.pitch)}
    slope = math.degrees(found.slope)
    is_fit, why = _judged(results, slope, turned)
    rows = tuple(
        (
            word,
            motion.name,
            f"{position.seconds:.1f}",
            *(f"{math.degrees(angle):+.3f}" for angle in tilt(position.mean)),
        )
        for word, motion, (_, position, _) in zip(("before", "after"), (first, second), rests, strict=True)
    )
    return replace(
        blank("level", "deg"),
        results=results,
        is_fit=is_fit,
        why=why,
        remarks=(
            f"the table slopes by {slope:.2f} degrees; that is not in the trim",
            "what is left of the accelerometer's offset is in the trim: calibrate and write that first",
        ),
        method="mean of the tilt at two rests on one table, the aircraft turned by half a turn in between:"
        " what the table's slope adds before it takes away after",
        samples=tuple(
            motion.samples(f"{position.seconds:.1f} s at rest, {word} the half turn")
            for word, motion, (_, position, _) in zip(
                ("before", "after"), (first, second), rests, strict=True
            )
        ),
        tables=(Rows("The two rests", ("half turn", "log", "still, s#", "roll, deg#", "pitch, deg#"), rows),),
        write=_write(results) if is_fit else ("log both ways again, 10 s each, without touching the table",),
        cautions=CAUTIONS,
    )


Rest = tuple["Float", Position, float]


def _rests(motion: Motion) -> list[Rest]:
    """Every rest: what the accelerometer read (3, n), where it was, samples a second."""
    made = []
    for accel, rates, rate, start in motion.parts:
        for position in positions_of(accel, rates, rate, start)[0]:
            first = round((position.start - start) * rate)
            piece = accel[:, first : first + round(min(position.seconds, LONGEST) * rate)]
            made.append((piece, position, rate))
    return made


def _longest(motion: Motion) -> Rest:
    found = _rests(motion)
    if not found:
        raise InputError(
            "the aircraft never lay still for 2 s in this log",
            where=motion.name,
            next_step="log 10 s at rest on the table, hands off",
        )
    return max(found, key=lambda rest: rest[1].seconds)


def _two(motion: Motion) -> tuple[list[Rest], float | None]:
    """Two rests in their order, and the degrees the gyro says it was turned in between.

    Of those about as long as the longest: the pair nearest to half a turn, or where no gyro tells it, the two
    longest.
    """
    found = _rests(motion)
    long = [rest for rest in found if rest[1].seconds >= _AS_LONG * max(one[1].seconds for one in found)]
    if len(long) < 2:
        raise InputError(
            "two rests are needed in one log, before and after half a turn",
            where=motion.name,
            next_step="rest it 10 s, turn it by half a turn on its spot, rest it 10 s; or give a log each",
        )
    pairs = [(turned_by(motion, a[1], b[1]), a, b) for a, b in combinations(long, 2)]
    told = [pair for pair in pairs if pair[0] is not None]
    if told:
        turned, one, two = min(told, key=lambda pair: abs(180.0 - (pair[0] or 0.0)))
        return [one, two], turned
    longest = sorted(long, key=lambda rest: -rest[1].seconds)[:2]
    return sorted(longest, key=lambda rest: rest[1].start), None


def still_for(motion: Motion) -> tuple[float, ...]:
    """Seconds of each rest, in order."""
    return tuple(position.seconds for _, position, _ in _rests(motion))


def turned_between(motion: Motion) -> float | None:
    """Degrees that the gyro says it was turned between its two rests; ``None`` where it cannot say.

    Raises
    ------
    InputError
        When there are not two.
    """
    return _two(motion)[1]


def turned_by(motion: Motion, one: Position, two: Position) -> float | None:
    """Degrees of the turn about z from one rest to another; ``None`` where no gyro tells it."""
    for _, rates, rate, start in motion.parts:
        first, last = (round((at - start) * rate) for at in (one.start + one.seconds, two.start))
        begun, ended = round((one.start - start) * rate), round((two.start + two.seconds - start) * rate)
        if rates is None or begun < 0 or ended > rates.shape[1] or last <= first:
            continue
        bias = np.concatenate([rates[2, begun:first], rates[2, last:ended]]).mean()
        return abs(math.degrees(float(np.sum(rates[2, first:last] - bias)) / rate))
    return None


def _degrees(one: Measured) -> Measured:
    assert one.value is not None
    assert one.low is not None
    assert one.high is not None
    low, value, high = (math.degrees(x) for x in (one.low, one.value, one.high))
    return Measured(value, low, high, "deg", one.route)


def _judged(results: dict[str, Measured], slope: float, turned: float | None) -> tuple[bool, str]:
    half = max((one.high or 0.0) - (one.value or 0.0) for one in results.values())
    most = max(abs(one.value or 0.0) for one in results.values())
    if turned is not None and abs(turned - 180.0) > HALF:
        return False, f"it was turned by {turned:.0f} degrees in between, not by half a turn"
    if slope > SLOPING:
        return (
            False,
            f"the table seems to slope by {slope:.1f} degrees: was it half a turn, in place?",
        )
    if half > GOOD:
        return False, f"the trim is known to ±{half:.2f} degrees alone: rest longer"
    if most - half <= WORTH:
        return True, f"the trim is {most:.2f} degrees at most: it may stay as it is"
    return True, f"level is off by up to {most:.2f} degrees: correct it"


def _write(results: dict[str, Measured]) -> tuple[str, ...]:
    roll, pitch = (results[name].value or 0.0 for name in ("roll trim", "pitch trim"))
    return (
        f"take {roll:+.2f} degrees from roll and {pitch:+.2f} from pitch (right side down and nose up are"
        " positive): the level trim, with the sign the firmware gives it",
        "then stand it level and look: the attitude shown should be the table's slope and no more",
    )
