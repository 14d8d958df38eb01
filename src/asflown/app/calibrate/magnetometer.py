"""The magnetometer turned through all directions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from asflown.app.calibrate.accelerometer import CAUTIONS
from asflown.app.calibrate.logs import columns_like, raw, unit_in
from asflown.core.calibrate.kept import Calibration, Rows, Samples, blank
from asflown.core.calibrate.magnetometer import (
    ENOUGH,
    RINGS,
    SECTORS,
    EllipsoidFit,
    biggest_hole,
    cells_seen,
    ellipsoid_fit,
    sphere_fit,
    thinned,
)
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import student
from asflown.errors import InputError, UsageError

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.app.flights.open_log import Opened

    Float = npt.NDArray[np.float64]

_WORDS = frozenset({"mag", "magnetometer", "magnetic", "compass"})
#: Percent of the field that may be left, and degrees the biggest hole may reach (common practice, no source).
LEFT, HOLE = 5.0, 60.0
#: Percent of the field of hard iron from which the place of the magnetometer is to be looked at (likewise).
STRONG = 100.0
#: Readings that differ from which a fit is tried.
_BEGIN = 30
_METHOD = (
    "least squares of an ellipsoid through the readings, its volume kept (determinant 1); readings that did"
    " not move are left out"
)
_ENDS = (("the nose", "the tail"), ("the right side", "the left side"), ("the belly", "the back"))


def three_columns(opened: Opened, said: Sequence[str] = ()) -> tuple[str, ...]:
    """The columns along x, y, z: those said, else the three whose names say magnetometer.

    Raises
    ------
    UsageError
        When there are not three.
    """
    names = tuple(said) or tuple(columns_like(opened.table, _WORDS))
    if len(names) != 3:
        found = f"{', '.join(names)} found" if names else "none found"
        raise UsageError(
            f"three columns of the magnetic field are needed, {found}",
            where=opened.name,
            next_step="say which: --field X_COLUMN Y_COLUMN Z_COLUMN",
        )
    return names


def calibrate_magnetometer(opened: Opened, said: Sequence[str] = ()) -> Calibration:
    """Fit the ellipsoid.

    Raises
    ------
    InputError
        When it was not turned at all.
    """
    names = three_columns(opened, said)
    unit = unit_in(opened.table, names[0])
    every = raw(opened.table, names, opened.name).T
    kept = thinned(every)
    samples = Samples(
        opened.name, opened.table.sha256, f"{len(kept)} of {len(every)} readings, {', '.join(names)}"
    )
    try:
        fit = ellipsoid_fit(kept)
    except ValueError as error:
        return _not_determined(kept, samples, unit, str(error), opened.name)
    turned = fit.corrected(kept)
    hole, reach = biggest_hole(turned)
    is_fit, why = judged(fit, math.degrees(reach))
    iron = float(np.linalg.norm(fit.centre))
    strong = 100.0 * iron / fit.field
    remarks = [
        f"hard iron {iron:.4g} {unit}, {strong:.0f} % of the field",
        f"the biggest hole lies towards {towards(hole)}, {math.degrees(reach):.0f} degrees from the nearest"
        " reading",
    ]
    if strong > STRONG:
        remarks.append(
            "hard iron stronger than the field: move the magnetometer away from supply wires and magnets"
        )
    return replace(
        blank("magnetometer", unit),
        results=_results(fit, unit, len(kept)),
        is_fit=is_fit,
        why=why,
        remarks=tuple(remarks),
        method=_METHOD,
        samples=(samples,),
        tables=(_matrix(fit), _cells(turned)),
        write=tuple(_write(fit, unit)) if is_fit else (next_turn(hole),),
        cautions=CAUTIONS,
    )


def _not_determined(kept: Float, samples: Samples, unit: str, why: str, where: str) -> Calibration:
    """What a sphere through the readings says: which directions are missing."""
    try:
        if len(kept) < 9:
            raise ValueError("fewer than nine readings differ: it was not turned")
        centre, _ = sphere_fit(kept)
    except ValueError as error:
        raise InputError(
            str(error),
            where=where,
            next_step="log a minute outdoors, away from metal, turning it slowly about every axis",
        ) from None
    turned = kept - centre
    hole, reach = biggest_hole(turned)
    seen = 100 * float(np.mean(cells_seen(turned)))
    return replace(
        blank("magnetometer", unit),
        results={name: unmeasured(why, unit) for name in (*(f"hard iron {axis}" for axis in "xyz"), "field")},
        is_fit=False,
        why=f"{seen:.0f} % of the directions seen, {100 * ENOUGH:.0f} % are wanted, and they lie on no"
        " ellipsoid",
        remarks=(
            f"the biggest hole lies towards {towards(hole)}, {math.degrees(reach):.0f} degrees from the"
            " nearest reading (directions by a sphere through the readings)",
        ),
        method=_METHOD,
        samples=(samples,),
        tables=(_cells(turned),),
        write=(next_turn(hole),),
        cautions=CAUTIONS,
    )


def judged(fit: EllipsoidFit, hole: float) -> tuple[bool, str]:
    """Whether it is fit for use, and why."""
    left = 100.0 * fit.residual / fit.field
    seen = f"{100 * fit.coverage:.0f} % of the directions seen"
    if not fit.is_fit_for_use:
        return False, f"{seen}, {100 * ENOUGH:.0f} % are wanted"
    if hole > HOLE:
        return False, f"{seen}, but a hole reaches {hole:.0f} degrees"
    if left > LEFT:
        return (
            False,
            f"{left:.1f} % of the field is left over: metal or a current near it, or turned too fast",
        )
    return True, f"{seen}, {left:.1f} % of the field left over"


def far_so_good(kept: Float) -> tuple[bool, str]:
    """Whether readings (n, 3) that differ are enough for a fit, and what to do next in words."""
    begin = "turn it slowly about every axis"
    if len(kept) < _BEGIN:
        return False, begin
    try:
        fit = ellipsoid_fit(kept)
    except ValueError:
        try:
            turned = kept - sphere_fit(kept)[0]
        except ValueError:
            return False, begin
        hole, _ = biggest_hole(turned)
        return False, _still_missing(float(np.mean(cells_seen(turned))), hole)
    turned = fit.corrected(kept)
    hole, reach = biggest_hole(turned)
    if judged(fit, math.degrees(reach))[0]:
        return True, "enough"
    return False, _still_missing(fit.coverage, hole)


def _still_missing(seen: float, hole: Float) -> str:
    """In tens of percent, so that it is not said anew with every reading."""
    return (
        f"{10 * int(10 * seen)} % of the directions seen: turn it until {_part(hole)} points down and north"
    )


def towards(direction: Float) -> str:
    """Where a direction points on the aircraft, in words."""
    unit = direction / np.linalg.norm(direction)
    words = [
        ends[0] if share > 0 else ends[1]
        for ends, share in zip(_ENDS, unit, strict=True)
        if abs(float(share)) > 0.4
    ]
    return " and ".join(words)


def _part(direction: Float) -> str:
    words = towards(direction)
    return f"the corner between {words}" if " and " in words else words


def next_turn(hole: Float) -> str:
    """What to do so that the field comes from the biggest hole."""
    return (
        f"log again and turn it until {_part(hole)} points to the ground and north (south of the equator: to"
        " the sky and north): nothing was read there"
    )


def _results(fit: EllipsoidFit, unit: str, readings: int) -> dict[str, Measured]:
    times = student(max(1, readings - 9))
    route = "ellipsoid, scatter of the readings"
    made = {
        f"hard iron {axis}": Measured(float(c), float(c - times * e), float(c + times * e), unit, route)
        for axis, c, e in zip("xyz", fit.centre, fit.error, strict=True)
    }
    half = times * fit.residual / math.sqrt(readings)
    made["field"] = Measured(fit.field, fit.field - half, fit.field + half, unit, route)
    return made


def _matrix(fit: EllipsoidFit) -> Rows:
    rows = tuple(
        (axis, *(f"{value:.5f}" for value in row)) for axis, row in zip("xyz", fit.matrix, strict=True)
    )
    return Rows("Soft iron and scale: true = (raw - hard iron) × M", ("", "x#", "y#", "z#"), rows)


def _cells(turned: Float) -> Rows:
    """Where there are readings: from the belly's side down to the back's."""
    seen = cells_seen(turned)
    rows = tuple((f"{ring + 1} of {RINGS}", f"{int(seen[ring].sum())} of {SECTORS}") for ring in range(RINGS))
    return Rows("Directions seen, in rings of equal area from -z to +z", ("ring", "cells seen"), rows)


def _write(fit: EllipsoidFit, unit: str) -> list[str]:
    centre = ", ".join(f"{value:.4g}" for value in fit.centre)
    whole = "; ".join(", ".join(f"{value:.4f}" for value in row) for row in fit.matrix)
    return [
        f"true = (raw - hard iron) × M, hard iron x, y, z {centre} {unit}, rows of M {whole}",
        "where it takes an offset alone: the hard iron, with the sign the firmware gives it",
    ]
