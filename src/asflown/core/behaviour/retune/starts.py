"""Where the search begins: the plan, weaker gains, and gains that match the old loop for filters as given.

For fixed filters the controller is linear in its gains. What then keeps the old answer T is the solution of a
linear equation error, ``P (Cr - T Cy) = T`` (Sanathanan & Koerner, *IEEE Transactions on Automatic Control*
8(1), 1963, from memory), weighed by the old ``1 / (T (1 + L))`` so that its size is that of the relative
error of the answer, together with the old loop above the pilot's band.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.retune.looks import Axis
from asflown.core.behaviour.retune.loops import BAND, GRID
from asflown.core.behaviour.retune.search import Search

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Gains of further starts, as shares of the plan's.
SHARES = (1.0, 0.5, 0.2)
#: Cut-offs of further starts, as multiples of the plan's.
FILTERS = (1.5, 2.25, 0.67)
#: Up to this frequency, Hz, and with this weight the old loop itself is matched above the pilot's band.
_LOOP_TO, _LOOP_WEIGHT = 90.0, 0.3
_ABOVE = ~BAND & (GRID > 1.0) & (GRID <= _LOOP_TO)


def starts_of(search: Search, plan: Float, gains: Bool) -> Iterator[tuple[str, Float]]:
    """Words and values (nk,) for gains alone: the filters are the plan's."""
    yield "gains matched to the old loop", matched(search, plan, gains)
    for share in SHARES:
        word = "the plan" if share == 1.0 else f"{share:g} times the plan's gains"
        yield word, np.where(gains, share * plan, plan)


def filter_starts_of(search: Search, plan: Float, gains: Bool, best: Float) -> Iterator[tuple[str, Float]]:
    """Words and values (nk,) for filters too: the best gains found for the plan's, then for other ones."""
    yield "the best gains for the planned filters", best
    for times in FILTERS:
        moved = np.where(gains, plan, search.clipped(times * plan))
        yield f"gains matched for filters {times:g} times the plan's", matched(search, moved, gains)


def matched(search: Search, values: Float, gains: Bool) -> Float:
    """Values (nk,) with the gains that solve the equation error for the filters among them.

    A gain of several axes, and all gains of an axis in which gains multiply each other, stay.
    """
    made = values.copy()
    for axis in search.axes.values():
        own = axis.places[gains[axis.places] & search.alone[axis.places]]
        if own.size and axis.terms.is_linear:
            made[own] = _solved(axis, values, own)
    return search.clipped(made)


def _solved(axis: Axis, values: Float, own: npt.NDArray[np.intp]) -> Float:
    from scipy.optimize import lsq_linear

    frozen = axis.terms.frozen(values[axis.places])

    def at(numbers: Float) -> Float:
        command, rate = axis.terms.sides(frozen, axis.terms.weights(numbers[axis.places]))
        return _error(axis, command[: GRID.size], rate[: GRID.size])

    still = values.copy()
    still[own] = 0.0
    rest = at(still)
    columns = []
    for place in own:
        unit = still.copy()
        unit[place] = values[place]
        columns.append(at(unit) - rest)
    matrix = np.stack(columns, axis=1)
    sizes = np.linalg.norm(matrix, axis=0)
    solved = lsq_linear(matrix / sizes, -rest, bounds=(0.0, np.inf), max_iter=50)
    return np.asarray(values[own] * solved.x / sizes)


def _error(axis: Axis, command: Complex, rate: Complex) -> Float:
    """What is left of the equations, real and imaginary; affine in the gains."""
    target = axis.loop.target
    weight = 1.0 / (1.0 + target.loop)
    answer = (target.plant * (command - target.response * rate) / target.response - 1.0) * weight
    loop = _LOOP_WEIGHT * (target.plant * rate - target.loop) * weight
    picked = np.concatenate([answer[BAND], loop[_ABOVE]])
    return np.concatenate([picked.real, picked.imag])
