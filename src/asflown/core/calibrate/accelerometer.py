"""Accelerometer from rests in several positions: which numbers they determine, and how well.

Three cases. On a square block the directions are known: twelve parameters by linear least squares (method: ST
AN4508 rev 1, appendix A). Held by hand they are not, and only the length of the reading is used: six sides
then give offset and scale; nine or more positions in general directions also show how far the axes are
from square to each other (from a length alone a turn of the whole sensor can never be seen).

A side held t off upright shortens its own axis by cos t, second order; the length does not shorten at all.
What is left of the tilt is the product of tilt and an unknown skew of the axes: it goes into the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from asflown.core.calibrate.gravity import Gravity
from asflown.core.calibrate.positions import Rests
from asflown.core.calibrate.sides import missing, side_of
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import student

Float = npt.NDArray[np.float64]

XYZ = "xyz"
PAIRS = ((0, 1), (0, 2), (1, 2))
#: rad: standard deviation of the skew between two axes of a sensor nobody measured (data sheets of small
#: sensors state 1 to 2 % from axis to axis; common practice, no source).
SKEW = 0.01
#: Smallest over largest singular value below which general positions do not determine all nine.
LEAST_RANK = 0.05
_ROUNDS = 30
#: Chance below which the positions scatter more than noise explains.
_UNLIKELY = 0.05


class Case(StrEnum):
    """What the positions can tell."""

    SQUARE = "six sides of a square block: twelve parameters"
    SIX = "six sides by hand: offset and scale"
    GENERAL = "general positions: offset, scale and skew"
    TOO_FEW = "too few positions"


@dataclass(frozen=True, eq=False)
class AccelFit:
    """``true = matrix @ (raw - offset)``.

    Attributes
    ----------
    offset, scale
        x, y, z: m/s2, and raw over true.
    skew
        x and y, x and z, y and z: rad short of square between the axes.
    cross
        (3, 3) of `Measured`: what axis i reads of direction j, raw over true; empty but on a square block.
    matrix
        (3, 3).
    left
        (k,) m/s2: length of each corrected reading less gravity.
    chance
        Probability of residuals as large as these by noise alone; ``None`` where none are left over.
    widened
        By how much the intervals were widened since the positions scatter more than that.
    rank
        Smallest over largest singular value of the positions.
    """

    case: Case
    offset: tuple[Measured, ...]
    scale: tuple[Measured, ...]
    skew: tuple[Measured, ...]
    cross: tuple[tuple[Measured, ...], ...]
    matrix: Float
    centre: Float
    left: Float
    chance: float | None
    widened: float
    rank: float

    def corrected(self, raw: Float) -> Float:
        """True readings (n, 3) of raw ones (n, 3)."""
        return np.asarray((raw - self.centre) @ self.matrix.T)


def case_of(rests: Rests, square: float | None) -> tuple[Case, str]:
    """Which case it is, and why not a better one.

    Parameters
    ----------
    square
        rad within which the sides are known to be square; ``None``: held by hand.
    """
    directions = directions_of(rests.means)
    lacking = missing(directions)
    if square is not None:
        if not lacking and all(side_of(one) is not None for one in directions):
            return Case.SQUARE, ""
        why = (
            f"not yet on all six sides: {', '.join(side.name for side in lacking)} missing"
            if lacking
            else "a position is no side of a square block: leave --square out"
        )
        return Case.TOO_FEW, why
    if len(directions) >= 9:
        rank = rank_of(rests)
        if rank >= LEAST_RANK:
            return Case.GENERAL, ""
        why = "the positions do not show how square the axes are: add some half-way between two sides"
    else:
        why = "fewer than nine positions do not show how square the axes are"
    if lacking:
        return Case.TOO_FEW, f"not yet on all six sides: {', '.join(side.name for side in lacking)} missing"
    return Case.SIX, why


def directions_of(means: Float) -> Float:
    """Readings (k, 3) less the middle of each axis, where it was turned both ways."""
    low, high = means.min(axis=0), means.max(axis=0)
    turned = (low < -4.0) & (high > 4.0)
    return np.asarray(means - np.where(turned, (low + high) / 2.0, 0.0))


def rank_of(rests: Rests) -> float:
    """Smallest over largest singular value of what the positions say of the nine parameters."""
    vector = directions_of(rests.means)
    unit = vector / np.linalg.norm(vector, axis=1)[:, None]
    design = np.hstack([unit, unit**2, np.stack([unit[:, a] * unit[:, b] for a, b in PAIRS], axis=1)])
    if design.shape[0] < design.shape[1]:
        return 0.0
    values = np.linalg.svd(design, compute_uv=False)
    return float(values[-1] / values[0])


def accelerometer_fit(rests: Rests, gravity: Gravity, square: float | None = None) -> AccelFit:
    """Fit what the positions determine.

    Raises
    ------
    ValueError
        With the reason, where they determine nothing.
    """
    case, why = case_of(rests, square)
    if case is Case.TOO_FEW:
        raise ValueError(why)
    if case is Case.SQUARE and square is not None:
        return _square(rests, gravity, square)
    return _lengths(rests, gravity, case, why)


def _square(rests: Rests, gravity: Gravity, square: float) -> AccelFit:
    """Raw readings against known directions, one weighted line for each axis."""
    g, (k, _) = gravity.value, rests.means.shape
    sides = [side_of(one) for one in directions_of(rests.means)]
    true = g * np.array([side.up for side in sides if side is not None])
    design = np.column_stack([true, np.ones(k)])
    gain, centre, covariance, chi = np.empty((3, 3)), np.empty(3), [], 0.0
    for axis in range(3):
        # a side that is not quite square turns a little of gravity into the two axes across it
        weight = 1.0 / (rests.variance[:, axis] + np.where(true[:, axis] == 0.0, (g * square) ** 2, 0.0))
        shape = np.linalg.inv(design.T @ (design * weight[:, None]))
        found = shape @ (design.T @ (weight * rests.means[:, axis]))
        gain[axis], centre[axis] = found[:3], found[3]
        covariance.append(shape)
        chi += float(np.sum(weight * (rests.means[:, axis] - design @ found) ** 2))
    chance, widened, times = _judged(chi, 3 * k - 12, rests.dof)
    errors = widened * times * np.sqrt([np.diag(one) for one in covariance])
    route = "weighted least squares on known directions"
    common = 1.96 * gravity.error / g
    cross = tuple(
        tuple(
            _around(gain[i, j], math.hypot(errors[i, j], common if i == j else 0.0), "1", route)
            for j in range(3)
        )
        for i in range(3)
    )
    matrix = np.asarray(np.linalg.inv(gain), dtype=np.float64)
    unit = gain / np.linalg.norm(gain, axis=1)[:, None]
    skew = tuple(
        _around(float(np.arcsin(unit[a] @ unit[b])), math.hypot(errors[a, b], errors[b, a]), "rad", route)
        for a, b in PAIRS
    )
    return AccelFit(
        Case.SQUARE,
        tuple(_around(centre[i], errors[i, 3], "m/s2", route) for i in range(3)),
        tuple(cross[i][i] for i in range(3)),
        skew,
        cross,
        matrix,
        centre,
        np.linalg.norm((rests.means - centre) @ matrix.T, axis=1) - g,
        chance,
        widened,
        1.0,
    )


def _lengths(rests: Rests, gravity: Gravity, case: Case, why: str) -> AccelFit:
    """Gauss-Newton on the length of the corrected reading: nine parameters, skew held near 0 in six sides."""
    g, k = gravity.value, rests.means.shape[0]
    low, high = rests.means.min(axis=0), rests.means.max(axis=0)
    found = np.concatenate([(low + high) / 2.0, np.maximum((high - low) / (2.0 * g), 0.5), np.zeros(3)])
    held = np.zeros((9, 9)) if case is Case.GENERAL else np.diag([0.0] * 6 + [SKEW**-2] * 3)
    for _ in range(_ROUNDS):
        length, slopes, reading = _length(found, rests.means)
        weight = 1.0 / np.sum(reading**2 * rests.variance, axis=1)
        normal = slopes.T @ (slopes * weight[:, None]) + held
        step = np.linalg.solve(normal, slopes.T @ (weight * (g - length)) - held @ found)
        found = found + step
        found[6:] = np.clip(found[6:], -0.3, 0.3)
        if float(np.max(np.abs(step))) < 1e-13:
            break
    length, slopes, reading = _length(found, rests.means)
    weight = 1.0 / np.sum(reading**2 * rests.variance, axis=1)
    covariance = np.linalg.inv(slopes.T @ (slopes * weight[:, None]) + held)
    chi = float(np.sum(weight * (length - g) ** 2) + found @ held @ found)
    spare = k - 9 if case is Case.GENERAL else k - 6
    chance, widened, times = _judged(chi, spare, rests.dof)
    errors = widened * times * np.sqrt(np.diag(covariance))
    route = "length of the readings"
    common = 1.96 * gravity.error / g
    skew = (
        tuple(_around(found[6 + n], errors[6 + n], "rad", route) for n in range(3))
        if case is Case.GENERAL
        else (unmeasured(why, "rad"),) * 3
    )
    return AccelFit(
        case,
        tuple(_around(found[i], errors[i], "m/s2", route) for i in range(3)),
        tuple(
            _around(found[3 + i], math.hypot(errors[3 + i], common * found[3 + i]), "1", route)
            for i in range(3)
        ),
        skew,
        (),
        _matrix(found, case),
        found[:3],
        length - g,
        chance,
        widened,
        rank_of(rests),
    )


def _length(found: Float, means: Float) -> tuple[Float, Float, Float]:
    """Length (k,), its slopes (k, 9) along the parameters and (k, 3) along the readings."""
    scale = found[3:6]
    gram = np.eye(3)
    for value, (a, b) in zip(found[6:], PAIRS, strict=True):
        gram[a, b] = gram[b, a] = value
    inverse = np.linalg.inv(gram)
    vector = (means - found[:3]) / scale
    turned = vector @ inverse
    length = np.sqrt(np.sum(vector * turned, axis=1))
    along = turned / length[:, None]
    skews = np.stack([-turned[:, a] * turned[:, b] / length for a, b in PAIRS], axis=1)
    return length, np.hstack([-along / scale, -along * vector / scale, skews]), along / scale


def _matrix(found: Float, case: Case) -> Float:
    """The symmetric root: it turns no axis more than another."""
    if case is not Case.GENERAL:
        return np.diag(1.0 / found[3:6])
    gram = np.eye(3)
    for value, (a, b) in zip(found[6:], PAIRS, strict=True):
        gram[a, b] = gram[b, a] = value
    lengths, axes = np.linalg.eigh(gram)
    return np.asarray(axes @ np.diag(lengths**-0.5) @ axes.T @ np.diag(1.0 / found[3:6]))


def _judged(chi: float, spare: int, dof: int) -> tuple[float | None, float, float]:
    """Chance of the residuals, by how much intervals are widened, and how many standard errors they take."""
    if spare <= 0:
        return None, 1.0, student(dof)
    from scipy.special import chdtrc

    chance = float(chdtrc(spare, chi))
    if chance >= _UNLIKELY:
        return chance, 1.0, student(dof)
    return chance, math.sqrt(chi / spare), student(spare)


def _around(value: float, half: float, unit: str, route: str) -> Measured:
    return Measured(float(value), float(value - half), float(value + half), unit, route)


@dataclass(frozen=True, slots=True)
class OnAttitude:
    """What one error does to the attitude, degrees.

    Attributes
    ----------
    now, after
        Without correction; at most (95 %) after it.
    """

    error: str
    where: str
    now: float
    after: float


def on_attitude(fit: AccelFit, gravity: float) -> tuple[OnAttitude, ...]:
    """What each error does to roll and pitch, degrees: offset b: asin(b/g), a lean: the lean."""
    made = []
    for axis, turn in ((0, "pitch"), (1, "roll")):
        made.append(_angle(f"offset {XYZ[axis]}", f"{turn}, level", fit.offset[axis], 0.0, 1.0 / gravity))
    made.append(
        _angle("offset z", "roll or pitch, at 45 degrees", fit.offset[2], 0.0, math.sqrt(0.5) / gravity)
    )
    for axis, turn in ((0, "pitch"), (1, "roll")):
        one, z = fit.scale[axis], fit.scale[2]
        assert one.value is not None
        assert z.value is not None
        assert one.high is not None
        assert z.high is not None
        half = math.hypot(one.high - one.value, z.high - z.value)
        now = math.degrees(abs(one.value / z.value - 1.0) / 2.0)
        made.append(
            OnAttitude(
                f"scale {XYZ[axis]} against z", f"{turn}, at 45 degrees", now, math.degrees(half / 2.0)
            )
        )
    if fit.cross:
        for axis, turn in ((0, "pitch"), (1, "roll")):
            made.append(_angle(f"{XYZ[axis]} reads of z", f"{turn}, level", fit.cross[axis][2], 0.0, 1.0))
    return tuple(made)


def _angle(error: str, where: str, one: Measured, at: float, by: float) -> OnAttitude:
    assert one.value is not None
    assert one.high is not None
    now = math.degrees(math.asin(min(1.0, abs(one.value - at) * by)))
    return OnAttitude(error, where, now, math.degrees(math.asin(min(1.0, (one.high - one.value) * by))))
