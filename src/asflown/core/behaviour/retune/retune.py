"""The retune of all axes: from the starts to the grid of steps, and what stands in the way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.looks import axes_of
from asflown.core.behaviour.retune.loops import Kept, Loop
from asflown.core.behaviour.retune.reasons import at_ends, reasons_of, refusal_of
from asflown.core.behaviour.retune.result import Retuned, is_good
from asflown.core.behaviour.retune.search import SLIGHT, Search, Standing, narrowed, settled
from asflown.core.behaviour.retune.starts import filter_starts_of, starts_of
from asflown.core.behaviour.retune.steps import on_grid

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Two starts that end this close, as a share of the distance, have found the same.
_SAME_END = 0.02


@dataclass(frozen=True, eq=False)
class _Ended:
    """Where a start led."""

    standing: Standing
    start: str
    values: Float


def retune(loops: Mapping[str, Loop], knobs: Sequence[Knob]) -> Retuned:
    """Turn the knobs so that every axis answers as before.

    Parameters
    ----------
    loops
        By axis, with what is to be kept; see :func:`asflown.core.behaviour.retune.loops.target_of`.
    knobs
        See :func:`asflown.core.behaviour.retune.knobs.knobs_of`. With gains alone among them, filters stay.

    Returns
    -------
    Retuned
        Filters move only where gains alone leave more than `SLIGHT`.

    Raises
    ------
    ValueError
        Without a knob or an axis, or where a knob acts in none of the axes.
    """
    if not knobs or not loops:
        raise ValueError("a retune takes a setting to turn and an axis to keep")
    if any(not set(knob.axes) & set(loops) for knob in knobs):
        raise ValueError("every setting to turn acts in one of the axes")
    acted = {axis for knob in knobs for axis in knob.axes}
    search = Search(axes_of({axis: loop for axis, loop in loops.items() if axis in acted}, knobs), knobs)
    plan = search.clipped(np.array([knob.value for knob in knobs]))
    gains = np.array([knob.is_gain for knob in knobs])
    tried: list[str] = []
    best = _best(search, starts_of(search, plan, gains), gains, tried)
    turns_filters = not np.all(gains) and not _is_slight(search, best.standing)
    alone = all(is_good(one) for one in _compared(search, best.values).values())
    values = best.values
    if alone or not turns_filters:
        values = on_grid(search, best.values, gains)
        alone = all(is_good(one) for one in _compared(search, values).values())
    if turns_filters:
        starts = filter_starts_of(search, plan, gains, best.values)
        wider = _best(search, starts, np.ones_like(gains), tried)
        reached = on_grid(search, wider.values, np.ones_like(gains))
        if not alone or search.standing(reached) < search.standing(values):
            best, values = wider, reached
    return _outcome(search, loops, best, values, tuple(tried), alone)


def _best(search: Search, starts: Iterator[tuple[str, Float]], free: Bool, tried: list[str]) -> _Ended:
    """The best that the starts lead to; no further ones once two have led to the same, or one is close."""
    ended: list[_Ended] = []
    for word, start in starts:
        values = narrowed(search, settled(search, start, free), free)
        ended.append(_Ended(search.standing(values), word, values))
        tried.append(word)
        first = sorted(ended, key=lambda one: one.standing)[:2]
        if first[0].standing.is_feasible and (
            _is_slight(search, first[0].standing)
            or (len(first) > 1 and _is_same(first[0].standing, first[1].standing))
        ):
            break
    return min(ended, key=lambda one: one.standing)


def _is_same(one: Standing, other: Standing) -> bool:
    return other.is_feasible and other.distance <= one.distance * (1.0 + _SAME_END) + 1e-3


def _is_slight(search: Search, standing: Standing) -> bool:
    """Whether what remains is too little to look further."""
    return standing.is_feasible and standing.distance <= SLIGHT * (len(search.axes) + 1)


def _compared(search: Search, values: Float, loops: Mapping[str, Loop] | None = None) -> dict[str, Kept]:
    """Of all axes given, otherwise of those that are searched."""
    turned = {knob.role: float(value) for knob, value in zip(search.knobs, values, strict=True)}
    all_of_them = loops or {axis: one.loop for axis, one in search.axes.items()}
    return {axis: loop.kept(turned) for axis, loop in all_of_them.items()}


def _outcome(
    search: Search,
    loops: Mapping[str, Loop],
    best: _Ended,
    values: Float,
    tried: tuple[str, ...],
    alone: bool,
) -> Retuned:
    axes = _compared(search, values, loops)
    refusal = refusal_of({axis: one for axis, one in axes.items() if axis in search.axes})
    moved = {
        knob.role: float(value)
        for knob, value in zip(search.knobs, values, strict=True)
        if not knob.is_planned(float(value))
    }
    return Retuned(
        values={} if refusal else moved,
        axes=axes,
        planned={axis: loop.kept({}) for axis, loop in loops.items()},
        started=tried,
        best_start=best.start,
        at_end=tuple(knob.role for knob, _ in at_ends(search.knobs, values)),
        reasons=reasons_of(search, loops, best.values, values),
        gains_alone=alone,
        refusal=refusal,
        nearest=moved if refusal and all(one.stable for one in axes.values()) else {},
    )
