"""In words: what keeps a retune from coming closer, and why nothing is proposed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.looks import DECIBEL, DEGREE, Look
from asflown.core.behaviour.retune.loops import Kept, Loop
from asflown.core.behaviour.retune.result import SAME, is_allowed
from asflown.core.behaviour.retune.search import Search

Float = npt.NDArray[np.float64]

#: Differences, in units of `DECIBEL` and `DEGREE`, from which on it is said what stands in the way.
WORTH_SAYING = 0.25
#: Within this share of the old one, peak or noise stands in the way.
_BINDING = 3e-3


def words_of(role: str) -> str:
    """A role as it is read.

    Examples
    --------
    >>> words_of("rate_loop.roll.derivative_gain")
    'roll derivative gain'
    """
    return role.removeprefix("rate_loop.").replace(".", " ").replace("_", " ")


def reasons_of(search: Search, loops: Mapping[str, Loop], free: Float, values: Float) -> tuple[str, ...]:
    """What stands in the way at values (nk,) on the grid, found from values (nk,) free of steps."""
    names = list(search.axes)
    looks = dict(zip(names, search.looks(values), strict=True))
    before = dict(zip(names, search.looks(free), strict=True))
    far = {axis for axis, look in looks.items() if look.farthest > WORTH_SAYING or look.excess > 0.0}
    made = [*_limits(looks, far), *_ends(search.knobs, values, far), *_steps(search, values, before, looks)]
    for axis, loop in loops.items():
        if axis not in search.axes:
            made.append(f"{axis}: none of its settings may be turned")
        if not np.isfinite(loop.target.noise):
            made.append(
                f"{axis}: the old controller was read from a log; the noise it passed to the motors is not"
                " known, and the new one's is not held down"
            )
    return tuple(dict.fromkeys(made))


def _limits(looks: Mapping[str, Look], far: set[str]) -> Iterator[str]:
    for axis in looks:
        if axis not in far:
            continue
        worse = looks[axis].worse
        if float(np.max(worse[:-1])) > -_BINDING:
            yield f"{axis}: a closer answer would come nearer to oscillation than before (peak sensitivity)"
        if float(worse[-1]) > -_BINDING:
            yield f"{axis}: a closer answer would pass more noise to the motors than before"


def at_ends(knobs: Sequence[Knob], values: Float) -> Iterator[tuple[Knob, str]]:
    """Knobs that stand at an end of the release's own range: ``ends`` or ``begins``."""
    for knob, value in zip(knobs, values, strict=True):
        slack = 1e-6 * abs(value) + 0.5 * knob.step
        if knob.ends[0] and value <= knob.low + slack:
            yield knob, "begins"
        elif knob.ends[1] and value >= knob.high - slack:
            yield knob, "ends"


def _ends(knobs: Sequence[Knob], values: Float, far: set[str]) -> Iterator[str]:
    ending = dict.fromkeys(knob.role for knob, _ in at_ends(knobs, values))
    for knob, word in at_ends(knobs, values):
        if far & set(knob.axes):
            end = knob.low if word == "begins" else knob.high
            yield f"the new release's {words_of(knob.role)} {word} at {_number(knob, end)}"
    for knob, value in zip(knobs, values, strict=True):
        edge = 1e-6 * abs(value) + 0.5 * knob.step
        outside = value >= knob.high - edge or value <= knob.low + edge
        if knob.role not in ending and outside and knob.low < knob.high and far & set(knob.axes):
            yield f"{words_of(knob.role)} was looked at no farther than {_number(knob, float(value))}"


def _number(knob: Knob, value: float) -> str:
    return f"{value:.4g}" if knob.is_gain else f"{value:.4g} Hz"


def _steps(
    search: Search, values: Float, before: Mapping[str, Look], after: Mapping[str, Look]
) -> Iterator[str]:
    """Axes that the grid of steps takes away from the old answer, and the coarsest step there."""
    for axis, look in after.items():
        lost = look.farthest - before[axis].farthest > WORTH_SAYING and before[axis].excess == 0.0
        own = [
            (knob.step / value, knob)
            for knob, value in zip(search.knobs, values, strict=True)
            if axis in knob.axes and knob.step
        ]
        if lost and own:
            knob = max(own, key=lambda one: one[0])[1]
            decibels, degrees = _differences(before[axis])
            yield (
                f"{axis}: the steps are coarse, most of all those of {words_of(knob.role)}"
                f" ({_number(knob, knob.step)}); without them {decibels:.2f} dB and {degrees:.1f} deg would"
                " remain"
            )


def _differences(look: Look) -> tuple[float, float]:
    n = look.differences.size // 2
    sizes = np.abs(look.differences)
    return float(np.max(sizes[:n]) * DECIBEL), float(np.max(sizes[n:]) * DEGREE)


def refusal_of(axes: Mapping[str, Kept]) -> str | None:
    """Why what was found is not proposed; ``None`` where it may be."""
    wrong = [f"{axis}: {', '.join(_wrong(one))}" for axis, one in axes.items() if not is_allowed(one)]
    if not wrong:
        return None
    return "no values within the ranges are stable with nothing worse than before; nearest: " + "; ".join(
        wrong
    )


def _wrong(one: Kept) -> Iterator[str]:
    if not one.stable:
        yield "unstable"
        return
    if one.peak > 1.0 + SAME:
        yield f"peak sensitivity {one.peak:.3f} times the old"
    if one.noise is not None and one.noise > 1.0 + SAME:
        yield f"noise to the motors {one.noise:.3f} times the old"
