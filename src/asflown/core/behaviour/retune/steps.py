"""From any values to those of the release's grid of steps, peak and noise still no worse than before.

Each filter takes the step below or above, in every combination; for each the gains are found anew and then
brought to their steps together, looking at all neighbours at once: for fixed filters a gain's change costs
one multiplication.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.margins import is_stable
from asflown.core.behaviour.retune.search import Search, Standing, narrowed
from asflown.core.behaviour.retune.terms import Frozen

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Steps that are a smaller share of the value than this are only rounded.
FINE = 0.003
#: So many filters take both neighbours; the others, of finer steps, the nearest.
_BOTH = 4
_ROUNDS, _AGAIN = 20, 4
#: A setting moved by less than this share goes back to its planned value where that costs less than `_CHEAP`.
_NEAR, _CHEAP = 0.01, 0.05


def on_grid(search: Search, found: Float, free: Bool) -> Float:
    """The best values (nk,) on the grid near those found; knobs that are not free (nk,) go to the nearest."""
    gains = np.array([knob.is_gain for knob in search.knobs])
    loose = np.array([knob.step == 0.0 for knob in search.knobs])
    best: tuple[Standing, Float] | None = None
    for filters in _filters(search, found, free & ~gains & ~loose):
        values = np.where(gains | (loose & free), found, filters)
        if best is None or np.any(np.abs(values / found - 1.0) > 1e-9):
            values = narrowed(search, values, free & (gains | loose), _AGAIN)
        values = _rounded(search, values)
        if np.any(loose & free):
            values = narrowed(search, values, free & loose, _AGAIN)
        standing = search.standing(values)
        if best is None or standing < best[0]:
            best = standing, values
    assert best is not None
    return _back_to_plan(search, best[1], best[0])


def _filters(search: Search, found: Float, stepped: Bool) -> Iterator[Float]:
    """Values (nk,) with every knob at its nearest step, and filters that are stepped at both in turn."""
    sizes = [knob.step / value for knob, value in zip(search.knobs, found, strict=True)]
    coarse = [place for place in np.argsort(sizes)[::-1] if stepped[place] and sizes[place] > FINE][:_BOTH]
    near = np.array([knob.nearest(float(value)) for knob, value in zip(search.knobs, found, strict=True)])
    choices = [search.knobs[place].around(float(found[place])) for place in coarse]
    for chosen in product(*choices):
        values = near.copy()
        values[coarse] = chosen
        yield values


def _rounded(search: Search, values: Float) -> Float:
    """Gains brought to their steps, those that share an axis together."""
    made = values.copy()
    for group in _groups(search):
        for place in group:
            made[place] = search.knobs[place].nearest(float(made[place]))
        frozen = {
            name: axis.terms.frozen(made[axis.places])
            for name, axis in search.axes.items()
            if np.any(np.isin(axis.places, group))
        }
        moves = _moves(len(group))
        for _ in range(_ROUNDS):
            tried = np.repeat(made[None], len(moves), axis=0)
            for column, place in enumerate(group):
                knob = search.knobs[place]
                there = {move: knob.moved(float(made[place]), move) for move in range(-2, 3)}
                tried[:, place] = [there[int(move)] for move in moves[:, column]]
            chosen = _best_of(search, frozen, tried)
            if np.array_equal(tried[chosen], made):
                break
            made = tried[chosen]
    return made


def _best_of(search: Search, frozen: Mapping[str, Frozen], tried: Float) -> int:
    """Which of the values (m, nk) is best; the first where none is stable."""
    farthest, excess, loops = [], [], []
    for name in frozen:
        one = search.axes[name].compared(frozen[name], tried)
        farthest.append(one[0])
        excess.append(one[1])
        loops.append(one[2])
    distance = np.max(farthest, axis=0) + np.sum(farthest, axis=0)
    for place in np.lexsort((distance, np.sum(excess, axis=0))):
        if all(bool(is_stable(loop[place])) for loop in loops):
            return int(place)
    return 0


def _moves(count: int) -> npt.NDArray[np.int_]:
    """Steps (m, count) to be tried together, none first.

    Of up to five knobs all that move by a step at most, otherwise one and two at a time; and each by two.
    """
    made: set[tuple[int, ...]] = set()
    if count <= 5:
        made |= set(product((-1, 0, 1), repeat=count))
    for places in combinations(range(count), min(2, count)):
        for steps in product((-1, 0, 1), repeat=len(places)):
            row = dict(zip(places, steps, strict=True))
            made.add(tuple(row.get(place, 0) for place in range(count)))
    for place in range(count):
        made |= {tuple(far if one == place else 0 for one in range(count)) for far in (-2, 2)}
    return np.array(sorted(made, key=lambda move: (sum(map(abs, move)), move)), dtype=np.int_)


def _groups(search: Search) -> list[list[int]]:
    """Places of the gains that have steps, parted where they share no axis."""
    groups: list[tuple[set[str], list[int]]] = []
    for place, knob in enumerate(search.knobs):
        if not knob.is_gain or not knob.step:
            continue
        touched = [group for group in groups if group[0] & set(knob.axes)]
        axes = set(knob.axes).union(*(group[0] for group in touched))
        places = [*(one for group in touched for one in group[1]), place]
        groups = [*(group for group in groups if group not in touched), (axes, places)]
    return [places for _, places in groups]


def _back_to_plan(search: Search, values: Float, standing: Standing) -> Float:
    """Settings that hardly moved are left as planned, where that makes nothing worse: fewer to write."""
    made, now = values, standing
    for place, knob in enumerate(search.knobs):
        near = abs(made[place] / knob.value - 1.0) <= _NEAR
        planned = knob.nearest(knob.value)
        if not near or made[place] == planned or not knob.is_planned(planned):
            continue
        tried = made.copy()
        tried[place] = planned
        then = search.standing(tried)
        if (then.unstable, then.excess) <= (now.unstable, now.excess) and (
            then.distance <= standing.distance + _CHEAP
        ):
            made, now = tried, then
    return made
