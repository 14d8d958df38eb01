"""The rate a stick commands, as a curve, and the largest difference between two such curves.

The forms are of the textbook: a straight line; ``(1 - e) x + e x³`` (a line and a cubic mixed, common
practice, no source); the odd cubic through the middle with slope ``c`` and end ``f``, which is ``c x + (f -
c) x³``; and straight lines between points.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.stick import DeadBand, StickForm, StickShape, faults
from asflown.errors import Fault, InputError

Float = npt.NDArray[np.float64]

#: Difference in rad/s below which curves are the same: 0.5 deg/s. Common practice, no source.
SLIGHT_RATE = float(np.radians(0.5))
#: Deflections the commanded rate is told at.
PLACES = (0.25, 0.5, 0.75, 1.0)
#: Points of the grid that differences are looked for on.
_POINTS = 4001
_NEXT = "complete the record, or the release's declaration"


@dataclass(frozen=True)
class KnownStick:
    """The curve of one axis with its numbers.

    Attributes
    ----------
    numbers
        ``full_rate`` and the like, rad/s and shares of 1.
    points
        Deflection and share of the full rate, of a table.
    """

    axis: str
    form: StickForm
    numbers: Mapping[str, float]
    points: tuple[tuple[float, float], ...] = ()
    rule: DeadBand = DeadBand.STRETCHED

    def rate(self, deflection: npt.ArrayLike) -> Float:
        """Commanded rate, rad/s, at deflections of -1 to 1; beyond them the end holds."""
        x = self._beyond_the_band(np.clip(np.asarray(deflection, dtype=np.float64), -1.0, 1.0))
        rate = self._curve(x)
        limit = self.numbers.get("limit")
        return rate if limit is None else np.clip(rate, -limit, limit)

    @property
    def rises(self) -> bool:
        """Whether more stick never asks for less."""
        return bool(np.all(np.diff(self.rate(_grid())[::-1]) >= -1e-9))

    def _beyond_the_band(self, x: Float) -> Float:
        band = self.numbers.get("dead_band", 0.0)
        left = np.maximum(np.abs(x) - band, 0.0)
        if self.rule is DeadBand.STRETCHED:
            left = left / (1.0 - band)
        elif self.rule is DeadBand.CUT:
            left = np.where(left > 0.0, np.abs(x), 0.0)
        return np.asarray(np.sign(x) * left)

    def _curve(self, x: Float) -> Float:
        full = self.numbers["full_rate"]
        if self.form is StickForm.EXPO:
            share = self.numbers["expo"]
            return np.asarray(full * ((1.0 - share) * x + share * x**3))
        if self.form is StickForm.CUBIC:
            centre = self.numbers["centre_rate"]
            return np.asarray(centre * x + (full - centre) * x**3)
        if self.form is StickForm.TABLE:
            places, shares = np.array(self.points).T
            if places[0] < 0.0:
                return np.asarray(full * np.interp(x, places, shares))
            return np.asarray(full * np.sign(x) * np.interp(np.abs(x), places, shares))
        return np.asarray(full * x)


@dataclass(frozen=True, slots=True)
class StickChange:
    """What changes from one curve to another.

    Attributes
    ----------
    largest
        rad/s, the largest difference, after less before, on the stick's positive side where both agree.
    deflection
        Where it is.
    before, after
        rad/s, commanded at each of `PLACES`.
    """

    axis: str
    largest: float
    deflection: float
    before: tuple[float, ...]
    after: tuple[float, ...]

    @property
    def is_none(self) -> bool:
        """Whether nothing changes by `SLIGHT_RATE`."""
        return abs(self.largest) < SLIGHT_RATE


def stick_of(
    shape: StickShape, values: Mapping[str, float], unusable: Mapping[str, str] | None = None
) -> KnownStick:
    """The curve of one axis from what a release declares and what the settings say.

    Parameters
    ----------
    values
        Number by role in SI.
    unusable
        Why a role has no number, in words, where that is known.

    Raises
    ------
    InputError
        Naming everything that is missing or cannot be.
    """
    found = [Fault(what, where) for where, what in faults(shape)]
    roles = {
        *shape.parameters.values(),
        *(share for _, share in shape.points if isinstance(share, str)),
    }
    for role in sorted(roles - values.keys()):
        why = (unusable or {}).get(role)
        found.append(Fault(f"{role}: {why}" if why else f"no setting has the role {role}", "roles"))
    if not found:
        numbers = {word: values[role] for word, role in shape.parameters.items()} | dict(shape.constants)
        found = [Fault(what, "numbers") for what in _impossible(numbers)]
    if found:
        raise InputError(
            "the declared stick shape cannot be computed",
            where=f"stick shape, {shape.axis}",
            faults=tuple(found),
            next_step=_NEXT,
        )
    points = tuple((place, values[s] if isinstance(s, str) else s) for place, s in shape.points)
    return KnownStick(shape.axis, shape.form, numbers, points, shape.rule)


def stick_change(before: KnownStick, after: KnownStick) -> StickChange:
    """The largest difference between two curves of an axis, and both at a few deflections."""
    grid = _grid()
    difference = after.rate(grid) - before.rate(grid)
    most = int(np.argmax(np.round(np.abs(difference), 12)))
    places = np.array(PLACES)
    return StickChange(
        before.axis,
        float(difference[most]),
        float(grid[most]),
        tuple(before.rate(places).tolist()),
        tuple(after.rate(places).tolist()),
    )


def _grid() -> Float:
    """Deflections from 1 down to -1, so that the positive side is found first; and 0 among them."""
    return np.linspace(1.0, -1.0, _POINTS)


def _impossible(numbers: Mapping[str, float]) -> list[str]:
    made = []
    if not 0.0 <= numbers.get("dead_band", 0.0) < 1.0:
        made.append(f"a dead band is from 0 to less than the whole way, got {numbers['dead_band']:g}")
    if not numbers.get("limit", 1.0) > 0.0:
        made.append(f"a limit is above 0, got {numbers['limit']:g} rad/s")
    return made
