"""The retune of all axes: knobs, starts, the grid, and what remains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.loops import Kept, Loop
from asflown.core.behaviour.retune.search import SHARES, cost, linear_start, on_grid, settled

#: Remaining differences up to which the old answer counts as kept, dB and deg: what pilots do not tell
#: apart between 0.5 and 25 Hz. Common practice, no source.
GOOD_DECIBELS, GOOD_DEGREES = 0.5, 4.0
#: Starts tried after one that is good already.
_ENOUGH = 2


@dataclass(frozen=True)
class Retuned:
    """The outcome.

    Attributes
    ----------
    values
        New value in SI by role, of the knobs that move.
    axes
        What remains, by axis.
    planned
        The same for the values as planned.
    started
        Which starts were tried, and which one led here.
    at_end
        Roles that stand at the end of the release's own range.
    """

    values: Mapping[str, float]
    axes: Mapping[str, Kept]
    planned: Mapping[str, Kept]
    started: tuple[str, ...]
    best_start: str
    at_end: tuple[str, ...]

    @property
    def is_good(self) -> bool:
        """Whether the old answer is kept on every axis, with peak and noise no worse."""
        return all(is_good(one) for one in self.axes.values())


def is_good(one: Kept) -> bool:
    """Whether an axis answers as before, with peak sensitivity and noise no worse."""
    same = one.decibels <= GOOD_DECIBELS and one.degrees <= GOOD_DEGREES
    return same and one.peak <= 1.0 + 1e-9 and one.noise <= 1.0 + 1e-9


def retune(loops: Mapping[str, Loop], knobs: Sequence[Knob]) -> Retuned:
    """Turn the knobs so that every axis answers as before.

    Parameters
    ----------
    loops
        By axis, with what is to be kept; see :func:`asflown.core.behaviour.retune.loops.target_of`.
    knobs
        See :func:`asflown.core.behaviour.retune.knobs.knobs_of`.

    Raises
    ------
    ValueError
        Without a knob or an axis.
    """
    if not knobs or not loops:
        raise ValueError("a retune takes a setting to turn and an axis to keep")
    plan = np.asarray([knob.value for knob in knobs])
    gains = np.asarray([knob.is_gain for knob in knobs])
    starts = {"from the equation error": linear_start(loops, knobs, plan)}
    for share in SHARES:
        word = "from the plan" if share == 1.0 else f"from {share:g} times the plan's gains"
        starts[word] = np.where(gains, share * plan, plan)
    best: tuple[float, str, dict[str, float]] | None = None
    tried: list[str] = []
    for word, start in starts.items():
        found, _ = settled(loops, knobs, start)
        turned = on_grid(loops, knobs, found)
        left = cost(loops, turned)
        tried.append(word)
        if best is None or left < best[0]:
            best = (left, word, turned)
        if len(tried) >= _ENOUGH and all(is_good(loop.kept(best[2])) for loop in loops.values()):
            break
    assert best is not None
    values = {knob.role: best[2][knob.role] for knob in knobs if best[2][knob.role] != knob.value}
    return Retuned(
        values,
        {axis: loop.kept(best[2]) for axis, loop in loops.items()},
        {axis: loop.kept({}) for axis, loop in loops.items()},
        tuple(tried),
        best[1],
        tuple(knob.role for knob in knobs if _is_at_end(knob, best[2][knob.role])),
    )


def _is_at_end(knob: Knob, value: float) -> bool:
    """Whether a value stands at an end of the release's range."""
    slack = max(knob.step, 1e-6 * abs(value)) * 0.51
    return (knob.ends[0] and value <= knob.low + slack) or (knob.ends[1] and value >= knob.high - slack)
