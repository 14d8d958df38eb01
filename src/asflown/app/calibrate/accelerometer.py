"""The accelerometer from logs in which the aircraft lay on its sides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asflown.core.calibrate.accelerometer import (
    PAIRS,
    XYZ,
    AccelFit,
    Case,
    accelerometer_fit,
    case_of,
    directions_of,
    on_attitude,
)
from asflown.core.calibrate.gravity import Gravity
from asflown.core.calibrate.kept import Calibration, Rows, Samples, blank
from asflown.core.calibrate.positions import Position, Rests, Unused, positions_of, together
from asflown.core.calibrate.sides import SIDES, Side, missing, side_of, still_between, tilt_from
from asflown.core.measured import Measured

if TYPE_CHECKING:
    from asflown.app.calibrate.logs import Motion

#: Degrees of attitude after correction up to which it is fit for use (common practice, no source).
GOOD = 0.5
#: m/s2 that the length of a corrected reading may be off (0.3 degrees; common practice, no source).
SCATTER = 0.05
_METHODS = {
    Case.SQUARE: "twelve parameters by weighted least squares: raw = gain × true + offset, sides as square"
    " as stated",
    Case.SIX: "offset and scale by least squares on the length of the reading, which a tilt of the hand does"
    " not change; skew of the axes (1 %, one standard deviation) times tilt is in the interval",
    Case.GENERAL: "offset, scale and skew of the axes by least squares on the length of the reading in"
    " general positions; a turn of the whole sensor cannot be seen by it",
}
CAUTIONS = (
    "propellers off and pack unplugged where the log can be taken on USB alone: the aircraft is turned by"
    " hand; if it must be plugged in, lock the motors out first",
)


@dataclass(frozen=True, eq=False)
class Placed:
    """The positions found in the logs so far."""

    motions: tuple[Motion, ...]
    positions: tuple[Position, ...]
    unused: tuple[Unused, ...]
    square: float | None

    @property
    def rests(self) -> Rests | None:
        """Together; ``None`` where there is none."""
        return together(self.positions) if self.positions else None

    @property
    def sides(self) -> tuple[tuple[str, float], ...]:
        """The side of each position and the degrees off it; ``between sides`` where it is none."""
        if not self.positions:
            return ()
        rests = together(self.positions)
        made = []
        for one in directions_of(rests.means):
            side = side_of(one)
            nearest = max(SIDES, key=lambda each: float(one @ each.up))
            made.append((side.name if side else "between sides", tilt_from(one, nearest)))
        return tuple(made)

    @property
    def why_not(self) -> str:
        """Why the positions determine nothing yet; empty where they do."""
        if self.rests is None:
            return "the aircraft never lay still for 2 s in these logs"
        case, why = case_of(self.rests, self.square)
        return why if case is Case.TOO_FEW else ""

    @property
    def seconds_wanted(self) -> float:
        """S of rest in each position."""
        return 10.0 if self.rests is None else max(5.0, math.ceil(self.rests.seconds_wanted))

    @property
    def lacking(self) -> tuple[Side, ...]:
        """Sides it has not lain on."""
        return SIDES if self.rests is None else missing(directions_of(self.rests.means))

    @property
    def between(self) -> tuple[tuple[Side, Side], ...]:
        """Half-way positions that would show how square the axes are; none on a square block."""
        if self.rests is None or self.square is not None:
            return ()
        if case_of(self.rests, None)[0] is Case.GENERAL:
            return ()
        return still_between(directions_of(self.rests.means))[:3]


def placed(motions: Sequence[Motion], square_degrees: float | None = None) -> Placed:
    """Find the rests in the logs."""
    found: list[Position] = []
    unused: list[Unused] = []
    for number, one in enumerate(motions):
        for accel, rates, rate_hz, start in one.parts:
            used, left = positions_of(accel, rates, rate_hz, start, number)
            found += used
            unused += left
    square = None if square_degrees is None else math.radians(square_degrees)
    return Placed(tuple(motions), tuple(found), tuple(unused), square)


def calibrate_accelerometer(put: Placed, gravity: Gravity) -> Calibration | None:
    """Fit what the positions determine; ``None`` where they determine nothing (``put.why_not`` says why)."""
    rests = put.rests
    if rests is None or put.why_not:
        return None
    fit = accelerometer_fit(rests, gravity, put.square)
    is_fit, why = judged(fit, gravity)
    return replace(
        blank("accelerometer", "m/s2"),
        results=_results(fit),
        is_fit=is_fit,
        why=why,
        remarks=tuple(_remarks(fit, put, gravity)),
        method=_METHODS[fit.case],
        samples=tuple(_samples(put)),
        tables=(_positions(put, fit), _attitude(fit, gravity)),
        write=tuple(_write(fit)) if is_fit else ("lay it on its sides again: the same with --guide",),
        cautions=CAUTIONS,
    )


def judged(fit: AccelFit, gravity: Gravity) -> tuple[bool, str]:
    """Whether it is fit for use, and why."""
    after = max(one.after for one in on_attitude(fit, gravity.value))
    now = max(one.now for one in on_attitude(fit, gravity.value))
    worst = max(abs(float(left)) for left in fit.left)
    if worst > SCATTER:
        return False, (
            f"a corrected reading is {worst:.2f} m/s2 off gravity: it moved, or a side was not square"
        )
    if after > GOOD:
        return False, f"attitude would still be uncertain by {after:.2f} degrees: rest longer on each side"
    return True, f"it costs up to {now:.2f} degrees of attitude, corrected at most {after:.2f} degrees each"


def _results(fit: AccelFit) -> dict[str, Measured]:
    made = {f"offset {XYZ[i]}": fit.offset[i] for i in range(3)}
    made |= {f"scale {XYZ[i]}": fit.scale[i] for i in range(3)}
    if fit.case is Case.GENERAL:
        made |= {f"skew {XYZ[a]}{XYZ[b]}": _degrees(fit.skew[n]) for n, (a, b) in enumerate(PAIRS)}
    for i, row in enumerate(fit.cross):
        made |= {f"{XYZ[i]} reads of {XYZ[j]}": row[j] for j in range(3) if i != j}
    return made


def _degrees(one: Measured) -> Measured:
    if one.value is None or one.low is None or one.high is None:
        return one
    value, low, high = (math.degrees(x) for x in (one.value, one.low, one.high))
    return Measured(value, low, high, "deg", one.route)


def _positions(put: Placed, fit: AccelFit) -> Rows:
    rows = tuple(
        (
            name,
            f"{off:.1f}",
            f"{one.seconds:.1f}",
            *(f"{value:.3f}" for value in one.mean),
            f"{left:+.4f}",
            put.motions[one.log].name if len(put.motions) > 1 else f"{one.start:.1f}",
        )
        for (name, off), one, left in zip(put.sides, put.positions, fit.left, strict=True)
    )
    last = "log" if len(put.motions) > 1 else "from, s#"
    columns = (
        "side",
        "off it, deg#",
        "still, s#",
        "x, m/s2#",
        "y, m/s2#",
        "z, m/s2#",
        "length left, m/s2#",
        last,
    )
    return Rows(f"{len(rows)} positions", columns, rows)


def _attitude(fit: AccelFit, gravity: Gravity) -> Rows:
    return Rows(
        "What each error does to attitude",
        ("error", "turns", "uncorrected, deg#", "corrected, at most, deg#"),
        tuple(
            (one.error, one.where, f"{one.now:.3f}", f"{one.after:.3f}")
            for one in on_attitude(fit, gravity.value)
        ),
    )


def _remarks(fit: AccelFit, put: Placed, gravity: Gravity) -> list[str]:
    made = []
    if fit.chance is None:
        made.append("six positions leave nothing over to check them by: a seventh would")
    elif fit.widened > 1.0:
        made.append(
            f"the positions scatter {fit.widened:.1f} times more than noise explains"
            f" (chance {fit.chance:.1g}): the intervals are that much wider"
        )
    else:
        made.append(f"what is left agrees with the noise (chance {fit.chance:.2f})")
    if not gravity.is_stated:
        made.append(
            "where it was is not stated: gravity is 9.76 to 9.83 m/s2 somewhere on the ground, and that is in"
            " the scales' intervals; --latitude narrows them"
        )
    if fit.case is Case.SIX:
        made.append(f"skew of the axes is not determined: {fit.skew[0].reason}")
    made += [f"not used: {one.seconds:.1f} s at {one.start:.1f} s, {one.why}" for one in put.unused]
    return made


def _samples(put: Placed) -> list[Samples]:
    made = []
    for number, one in enumerate(put.motions):
        rests = [each for each in put.positions if each.log == number]
        seconds = sum(each.seconds for each in rests)
        made.append(one.samples(f"{len(rests)} rests, {seconds:.0f} s of {one.seconds:.0f} s"))
    return made


def _write(fit: AccelFit) -> list[str]:
    offset = ", ".join(f"{value:.4f}" for value in fit.centre)
    scale = ", ".join(f"{one.value:.5f}" for one in fit.scale)
    whole = "; ".join(", ".join(f"{value:.5f}" for value in row) for row in fit.matrix)
    by_axis = f"by axis x, y, z: true = (raw - offset) / scale, offset {offset} m/s2, scale {scale}"
    sign = "a firmware may store the offset with the other sign, in g, or 1/scale: check one side after it"
    if fit.case is Case.SIX:
        return [by_axis, sign]
    return [
        f"where it takes a matrix: true = M (raw - offset), M rows {whole}, offset {offset} m/s2",
        by_axis,
        sign,
    ]
