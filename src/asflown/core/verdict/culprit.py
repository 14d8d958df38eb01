"""The smallest culprit: the one or two settings that explain why an axis answers otherwise.

Two looks, each with one setting before two. *Put back*: settings whose number is another one than planned,
or than before, are given that number. *Turned*: a setting that kept its number but means something else in
the new release is turned until the old answer comes back as well as it can (least squares of
:mod:`asflown.core.behaviour.retune.search`). A set explains the difference when with it every predicted
figure that a verdict needs is within its margin, and the farthest is at most half as far as it was.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from asflown.core.behaviour.predict.controls import declared_controls
from asflown.core.behaviour.predict.nominal import Nominal
from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.looks import axes_of
from asflown.core.behaviour.retune.loops import Loop
from asflown.core.behaviour.retune.search import Search, settled
from asflown.core.verdict.margins import DEFAULTS, Margin, Weight, margin_of
from asflown.errors import InputError

#: Share of its margin within which every figure must come back, and share of what the farthest was.
WITHIN, OF_BEFORE = 1.0, 0.5
#: Settings put back in pairs, and culprits told.
_MOST_PAIRED, _MOST_TOLD = 24, 3


@dataclass(frozen=True)
class Culprit:
    """Settings that explain it.

    Attributes
    ----------
    values
        By role, the number in SI with which the old answer comes back.
    farthest
        What then remains: the largest difference of a figure, as a share of its margin.
    put_back
        Whether the numbers are earlier ones.
    """

    axis: str
    values: Mapping[str, float]
    farthest: float
    put_back: bool


@dataclass(frozen=True)
class Culprits:
    """What was found for one axis.

    Attributes
    ----------
    farthest
        Largest predicted difference with the settings as they are, as a share of its margin; infinite where
        the loop is unstable. At 1 or less the settings explain nothing.
    found
        The smallest sets, the best first; empty where no one or two settings explain it.
    """

    axis: str
    farthest: float
    found: tuple[Culprit, ...]


def culprits(
    axis: str,
    loop: Loop,
    nominal: Nominal,
    knobs: Sequence[Knob],
    earlier: Sequence[Mapping[str, float]],
    margins: tuple[Margin, ...] = DEFAULTS,
) -> Culprits:
    """Find the settings that explain how an axis differs from before.

    Parameters
    ----------
    loop
        With the settings that were flown after.
    knobs
        Settings that may be turned; those of other axes are passed over.
    earlier
        Numbers by role, SI, that settings are put back to, the first ones first: as planned, as before.
    """
    figures = nominal.figures(nominal.before)

    def farthest(turned: Mapping[str, float]) -> float:
        try:
            controls = declared_controls(loop.controller(turned), 1.0)
        except InputError:
            return math.inf
        return _farthest(axis, figures, nominal.figures(controls), margins)

    now = farthest({})
    if now <= 1.0 or figures is None:
        return Culprits(axis, now, ())
    most = min(WITHIN, OF_BEFORE * now)
    found: list[Culprit] = []
    for numbers in earlier:
        found = found or _put_back(axis, loop, numbers, farthest, most)
    found = found or _turned(axis, loop, knobs, farthest, most)
    return Culprits(axis, now, tuple(sorted(found, key=lambda one: one.farthest)[:_MOST_TOLD]))


def _farthest(
    axis: str,
    before: Mapping[str, float] | None,
    after: Mapping[str, float] | None,
    margins: tuple[Margin, ...],
) -> float:
    """Largest difference as a share of its margin; infinite where a side is unstable."""
    if before is None or after is None:
        return math.inf
    most = 0.0
    for name, value in after.items():
        margin = margin_of(f"axes.{axis}.{name}", margins)
        if (
            margin is None
            or margin.weight is Weight.WATCHED
            or not math.isfinite(before[name])
            or not math.isfinite(value)
        ):
            continue
        moved = margin.of(value) - margin.of(before[name])
        if math.isfinite(moved):
            most = max(most, moved / (margin.high if moved > 0.0 else margin.low))
    return most


def _put_back(
    axis: str,
    loop: Loop,
    numbers: Mapping[str, float],
    farthest: Callable[[Mapping[str, float]], float],
    most: float,
) -> list[Culprit]:
    """Of settings whose number changed, the fewest that, put back, explain it."""
    used = {role for block in loop.structure.blocks for role in block.parameters.values()}
    other = [
        role
        for role in sorted(used & numbers.keys() & loop.values.keys())
        if not math.isclose(numbers[role], loop.values[role], rel_tol=1e-9, abs_tol=1e-15)
    ]
    for size in (1, 2):
        pool = other if size == 1 else other[:_MOST_PAIRED]
        sets = [{role: numbers[role] for role in some} for some in combinations(pool, size)]
        found = [Culprit(axis, values, share, True) for values in sets if (share := farthest(values)) <= most]
        if found:
            return found
    return []


def _turned(
    axis: str,
    loop: Loop,
    knobs: Sequence[Knob],
    farthest: Callable[[Mapping[str, float]], float],
    most: float,
) -> list[Culprit]:
    """Of settings that act in the axis, the fewest that, turned, explain it."""
    own = [knob for knob in knobs if axis in knob.axes]
    if not own:
        return []
    search = Search(axes_of({axis: loop}, own), own)
    start = np.array([knob.value for knob in own])
    for size in (1, 2):
        found = []
        for some in combinations(range(len(own)), size):
            free = np.isin(np.arange(len(own)), some)
            values = settled(search, start, free)
            turned = {own[place].role: float(values[place]) for place in some}
            share = farthest(turned)
            if share <= most:
                found.append(Culprit(axis, turned, share, False))
        if found:
            return found
    return []
