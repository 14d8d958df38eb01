"""Which settings a retune may turn, how far, and in which steps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from asflown.core.behaviour.declared import is_there
from asflown.core.control import Block, BlockKind, ControlStructure, in_order

#: How far a setting is turned at most where its range allows more: times and a part of the planned value.
FARTHEST = 40.0
#: The same for a filter's cut-off; and no cut-off is set above this share of the loop's rate.
FARTHEST_FILTER, HIGHEST_FILTER = 5.0, 0.4
#: Kinds whose cut-off may be turned.
_LOW_PASSES = (BlockKind.ONE_POLE, BlockKind.BIQUAD)


@dataclass(frozen=True, slots=True)
class Limits:
    """Range and steps of a setting, in the role's SI unit.

    Attributes
    ----------
    step
        Values are whole multiples of it; 0: any value.
    """

    low: float = 0.0
    high: float = math.inf
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class Knob:
    """One setting that may be turned.

    Attributes
    ----------
    value
        As planned; SI.
    low, high
        Ends that are looked at, on the grid of steps.
    axes
        Whose loops it acts in.
    is_gain
        Whether the controller is linear in it.
    ends
        The release's own range, where it is narrower than what would be looked at.
    """

    role: str
    value: float
    low: float
    high: float
    step: float
    axes: tuple[str, ...]
    is_gain: bool
    ends: tuple[bool, bool] = (False, False)

    def nearest(self, value: float) -> float:
        """The value on the grid and within the ends that is nearest."""
        if not self.step:
            return min(max(value, self.low), self.high)
        count = round(value / self.step)
        count = min(
            max(count, math.ceil(self.low / self.step - 1e-9)), math.floor(self.high / self.step + 1e-9)
        )
        return count * self.step


def knobs_of(
    structures: Mapping[str, ControlStructure],
    values: Mapping[str, float],
    stored: Mapping[str, float],
    limits: Mapping[str, Limits],
    *,
    filters: bool = True,
) -> tuple[Knob, ...]:
    """The settings of the rate loops that may be turned.

    Parameters
    ----------
    structures, values, stored
        By axis and by role, as :func:`asflown.core.behaviour.declared.controller_of` takes them.
    limits
        By role; a role that is not in it is not turned.
    filters
        Cut-offs of low-passes too; otherwise gains alone.

    Notes
    -----
    A gain that is zero is a term that is switched off: it stays so. Shares of a mixer, notches, the loop's
    rate and delays are not turned: they belong to the airframe.
    """
    made: dict[str, tuple[bool, list[str]]] = {}
    for axis, structure in structures.items():
        for block in in_order(structure.blocks):
            for word, role in _turned(block, stored):
                if (is_gain := word == "gain") or filters:
                    made.setdefault(role, (is_gain, []))[1].append(axis)
    rates = [
        structure.rate_hz or values.get(structure.rate_role or "", math.inf)
        for structure in structures.values()
    ]
    found = []
    for role, (is_gain, axes) in made.items():
        if role in limits and values.get(role, 0.0) > 0.0:
            found.append(
                _knob(role, values[role], limits[role], tuple(dict.fromkeys(axes)), is_gain, min(rates))
            )
    return tuple(found)


def _turned(block: Block, stored: Mapping[str, float]) -> Iterable[tuple[str, str]]:
    if not is_there(block, stored):
        return
    for word, role in block.parameters.items():
        if (block.kind is BlockKind.GAIN and word == "gain" and not role.startswith("mixer.")) or (
            block.kind in _LOW_PASSES and word == "cutoff"
        ):
            yield word, role


def _knob(role: str, value: float, limits: Limits, axes: tuple[str, ...], is_gain: bool, rate: float) -> Knob:
    far = FARTHEST if is_gain else FARTHEST_FILTER
    top = value * far if is_gain else min(value * far, HIGHEST_FILTER * rate)
    low, high = max(limits.low, value / far), min(limits.high, max(top, value))
    step = limits.step
    if step:
        low = max(math.ceil(low / step - 1e-9), 1) * step
        high = math.floor(high / step + 1e-9) * step
    low, high = min(low, value), max(high, value)
    return Knob(role, value, low, high, step, axes, is_gain, (limits.low > value / far, limits.high < top))
