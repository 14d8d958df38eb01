"""Turn the knobs until the new loops answer as the old ones did.

Least squares in the logarithms of the knobs over the pilot's band (Levenberg-Marquardt in a trust region,
scipy), with what is worse than before in peak sensitivity and noise made dear; started from the plan, from
weaker gains, and from the gains that solve the equation error of the closed loop, which is linear in them
(Sanathanan & Koerner, *IEEE Transactions on Automatic Control* 8(1), 1963, from memory). Then onto the grid
of the release's steps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.loops import BAND, GRID, Loop

Float = npt.NDArray[np.float64]

#: What counts as one unit of difference: dB and deg.
DECIBEL, DEGREE = 0.2, 2.5
#: Peak and noise are held this share below the old ones while nothing is on the grid yet.
ASIDE = 0.995
#: What a relative excess of peak and noise costs.
DEAR = 60.0
#: Gains of further starts, as shares of the plan's.
SHARES = (1.0, 0.5, 0.2)
#: How far the derivative of a residual is looked for, in the logarithm.
_STEP = 1e-4
_LOOKS = 30


def residuals(loop: Loop, turned: Mapping[str, float], aside: float = ASIDE) -> Float:
    """One axis: differences over the band, then what is worse than before."""
    ratio, sensitivity, noise = loop.figures(turned)
    share = np.sqrt(1.0 / ratio.size)
    gain = 20.0 * np.log10(np.maximum(np.abs(ratio), 1e-9)) * (share / DECIBEL)
    phase = np.degrees(np.angle(ratio)) * (share / DEGREE)
    worse = DEAR * np.maximum(0.0, sensitivity - aside)
    louder = np.asarray([DEAR * max(0.0, noise - aside)])
    return np.concatenate([gain, phase, worse, louder])


def settled(loops: Mapping[str, Loop], knobs: Sequence[Knob], start: Float) -> tuple[Float, float]:
    """Knobs (n,) from a start (n,), in SI, and what is left (half the sum of squares)."""
    from scipy.optimize import least_squares

    low = np.log([knob.low for knob in knobs]) - 1e-9
    high = np.log([knob.high for knob in knobs]) + 1e-9

    def values(x: Float) -> dict[str, float]:
        return {knob.role: float(value) for knob, value in zip(knobs, np.exp(x), strict=True)}

    def all_of(x: Float) -> Float:
        turned = values(x)
        return np.concatenate([residuals(loop, turned) for loop in loops.values()])

    def slopes(x: Float) -> Float:
        turned = values(x)
        here = {axis: residuals(loop, turned) for axis, loop in loops.items()}
        rows = []
        for knob in knobs:
            moved = {**turned, knob.role: turned[knob.role] * float(np.exp(_STEP))}
            rows.append(
                np.concatenate(
                    [
                        (residuals(loop, moved) - here[axis]) / _STEP
                        if axis in knob.axes
                        else np.zeros(here[axis].size)
                        for axis, loop in loops.items()
                    ]
                )
            )
        return np.stack(rows, axis=1)

    begin = np.clip(np.log(start), low, high)
    found = least_squares(
        all_of, begin, jac=slopes, bounds=(low, high), max_nfev=_LOOKS, xtol=1e-5, ftol=1e-5
    )
    return np.asarray(np.exp(found.x)), float(found.cost)


def linear_start(loops: Mapping[str, Loop], knobs: Sequence[Knob], plan: Float) -> Float:
    """The plan's filters with the gains (n,) that solve the closed loop's equation error."""
    made = plan.copy()
    fixed = {knob.role: float(value) for knob, value in zip(knobs, plan, strict=True)}
    for axis, loop in loops.items():
        own = [i for i, knob in enumerate(knobs) if knob.is_gain and knob.axes == (axis,)]
        if own:
            made[own] = _gains(loop, [knobs[i] for i in own], fixed)
    return made


def _gains(loop: Loop, knobs: Sequence[Knob], fixed: Mapping[str, float]) -> Float:
    """Gains (n,) of one axis: ``P (Cr - T Cy) = T`` in the band, each frequency as a share of T."""
    from scipy.optimize import lsq_linear

    nothing = {**fixed, **{knob.role: 0.0 for knob in knobs}}
    still = _error(loop, nothing)
    matrix = np.stack([_error(loop, {**nothing, knob.role: 1.0}) - still for knob in knobs], axis=1)
    ones = np.concatenate([np.ones(int(BAND.sum())), np.zeros(int(BAND.sum()))])
    weight = np.abs(np.concatenate([loop.target.response[BAND]] * 2)) ** 0.5
    scales = np.linalg.norm(matrix, axis=0)
    low = np.asarray([knob.low for knob in knobs]) * scales
    high = np.asarray([knob.high for knob in knobs]) * scales * (1 + 1e-9) + 1e-12
    solved = lsq_linear(
        matrix / scales * weight[:, None], (ones - still) * weight, bounds=(low, high), max_iter=50
    )
    return np.asarray(solved.x / scales)


def _error(loop: Loop, turned: Mapping[str, float]) -> Float:
    """Real and imaginary parts, over the band, of ``P (Cr - T Cy) / T``."""
    command, rate = (side[: GRID.size] for side in loop.responses(turned))
    target = loop.target
    error = (target.plant * (command - target.response * rate) / target.response)[BAND]
    return np.concatenate([error.real, error.imag])


def on_grid(loops: Mapping[str, Loop], knobs: Sequence[Knob], found: Float) -> dict[str, float]:
    """The best values on the grid of steps near those found, peak and noise no worse than before.

    Filters first, one by one with the gains rounded after each; then the gains of each axis together, one
    step to either side of each, until nothing gets better.
    """
    turned = {knob.role: knob.nearest(float(value)) for knob, value in zip(knobs, found, strict=True)}
    for _ in range(3):
        before = dict(turned)
        for knob in knobs:
            if knob.step and len(knob.axes) > 1:
                _try(loops, [knob], turned)
        for axis in loops:
            own = [knob for knob in knobs if knob.step and knob.axes == (axis,)]
            for few in (own[:4], own[4:]):
                if few:
                    _try({axis: loops[axis]}, few, turned)
        if turned == before:
            break
    return turned


def _try(loops: Mapping[str, Loop], knobs: Sequence[Knob], turned: dict[str, float]) -> None:
    """Move some knobs by a step or none, all together, to where it is best."""
    best, chosen = cost(loops, turned), {knob.role: turned[knob.role] for knob in knobs}
    centre = dict(chosen)
    for moves in product((-1, 0, 1), repeat=len(knobs)):
        tried = {
            knob.role: knob.nearest(centre[knob.role] + move * knob.step)
            for knob, move in zip(knobs, moves, strict=True)
        }
        now = cost(loops, {**turned, **tried})
        if now < best - 1e-12:
            best, chosen = now, tried
    turned.update(chosen)


def cost(loops: Mapping[str, Loop], turned: Mapping[str, float]) -> float:
    """What is left on the grid: an excess of peak or noise costs more than any difference."""
    total = 0.0
    for loop in loops.values():
        left = residuals(loop, turned, aside=1.0)
        n = 2 * int(BAND.sum())
        excess = left[n:] / DEAR
        total += float(np.sum(left[:n] ** 2) + 1e6 * np.sum(excess**2) + 1e2 * np.sum(excess > 0))
    return total
