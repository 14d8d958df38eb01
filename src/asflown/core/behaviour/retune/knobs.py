"""Which settings a retune may turn, how far, and in which steps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asflown.core.behaviour.declared import is_there
from asflown.core.control import Block, BlockKind, ControlStructure, in_order

#: How far a setting is turned at most where its range allows more: times and a part of the planned value.
FARTHEST = 40.0
#: The same for a filter's cut-off; and no cut-off is set above this share of the loop's rate.
FARTHEST_FILTER, HIGHEST_FILTER = 30.0, 0.4
#: Kinds whose cut-off may be turned.
_LOW_PASSES = (BlockKind.ONE_POLE, BlockKind.BIQUAD)
_SLACK = 1e-9  # of a step


@dataclass(frozen=True, slots=True)
class Limits:
    """Range and steps of a setting, in the role's SI unit.

    Attributes
    ----------
    step, offset
        Values are ``offset`` and whole multiples of the step; 0: any value.
    """

    low: float = 0.0
    high: float = math.inf
    step: float = 0.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Knob:
    """One setting that may be turned.

    Attributes
    ----------
    value
        As planned; SI.
    low, high
        Ends that are looked at, above zero; with steps both are on the grid.
    step, offset
        See :class:`Limits`.
    axes
        Whose loops it acts in.
    is_gain
        Whether it is a gain; otherwise a cut-off in Hz.
    ends
        Whether low and high are the release's own, not how far is looked.
    """

    role: str
    value: float
    low: float
    high: float
    step: float
    axes: tuple[str, ...]
    is_gain: bool
    ends: tuple[bool, bool] = (False, False)
    offset: float = 0.0

    def nearest(self, value: float) -> float:
        """The value on the grid and within the ends that is nearest."""
        return self.moved(value, 0)

    def moved(self, value: float, steps: int) -> float:
        """So many steps from the nearest value on the grid, within the ends.

        Every value of the grid comes out of the same multiplication, so that equal ones are equal.
        """
        if not self.step:
            return min(max(value, self.low), self.high)
        count = round((value - self.offset) / self.step) + steps
        return self.offset + min(max(count, self._count(self.low)), self._count(self.high)) * self.step

    def around(self, value: float) -> tuple[float, ...]:
        """The values of the grid below and above, the nearer one first; one where it is on the grid."""
        near = self.nearest(value)
        other = self.moved(near, 1 if value > near else -1)
        on_it = not self.step or abs(value - near) <= 1e-6 * self.step
        return (near,) if on_it or other == near else (near, other)

    def is_planned(self, value: float) -> bool:
        """Whether a value is the planned one, but for the rounding of floats."""
        return abs(value - self.value) <= 1e-9 * self.value

    def _count(self, end: float) -> int:
        return round((end - self.offset) / self.step)


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
        By role; a role that is not in it is not turned: its range is not known.
    filters
        Cut-offs of low-passes too; otherwise gains alone.

    Notes
    -----
    Turned are gains of terms and cut-offs of low-passes, of blocks that are in the loop. Not turned are:

    - a gain that is zero: its term is switched off, and stays so; a gain below zero;
    - shares of a mixer, notches, qualities, delays and the loop's rate: they belong to the airframe;
    - a role that decides which blocks are in the loop, or that has another use besides.
    """
    uses = _uses(structures, stored)
    rates = [one.rate_hz or values.get(one.rate_role or "", math.inf) for one in structures.values()]
    found = []
    for role, (words, axes) in uses.items():
        if len(words) != 1 or role not in limits or not 0.0 < values.get(role, 0.0) < math.inf:
            continue
        is_gain = words == {"gain"}
        if words <= {"gain", "cutoff"} and (is_gain or filters):
            knob = _knob(role, values[role], limits[role], tuple(dict.fromkeys(axes)), is_gain, min(rates))
            found += [] if knob is None else [knob]
    return tuple(found)


def _uses(
    structures: Mapping[str, ControlStructure], stored: Mapping[str, float]
) -> dict[str, tuple[set[str], list[str]]]:
    """What each role does in the loops: ``gain``, ``cutoff`` or ``other``, and in which axes."""
    made: dict[str, tuple[set[str], list[str]]] = {}
    for axis, structure in structures.items():
        fixed = [*structure.holds, *([structure.rate_role] if structure.rate_role else [])]
        uses = [(role, "other") for role in fixed]
        for block in in_order(structure.blocks):
            uses += [(role, "other") for role in block.when]
            uses += _uses_of(block) if is_there(block, stored) else []
        for role, word in uses:
            words, axes = made.setdefault(role, (set(), []))
            words.add(word)
            axes.append(axis)
    return made


def _uses_of(block: Block) -> Iterator[tuple[str, str]]:
    for word, role in block.parameters.items():
        if block.kind is BlockKind.GAIN and word == "gain" and not role.startswith("mixer."):
            yield role, "gain"
        else:
            yield role, "cutoff" if block.kind in _LOW_PASSES and word == "cutoff" else "other"


def _knob(
    role: str, value: float, limits: Limits, axes: tuple[str, ...], is_gain: bool, rate: float
) -> Knob | None:
    """``None`` where no value of the range and the grid is above zero."""
    far = FARTHEST if is_gain else FARTHEST_FILTER
    top = value * far if is_gain else min(value * far, HIGHEST_FILTER * rate)
    low, high = max(limits.low, value / far), min(limits.high, max(top, value))
    ends = limits.low > value / far, limits.high < max(top, value)
    low, high = (limits.high, limits.high) if low > limits.high else (low, max(high, low))
    if limits.step:
        first = max(
            math.ceil((low - limits.offset) / limits.step - _SLACK),
            math.floor(-limits.offset / limits.step + _SLACK) + 1,
        )
        last = math.floor((high - limits.offset) / limits.step + _SLACK)
        if last < first:  # no value of the grid lies so near: the release's next one above
            last = first
        if limits.offset + last * limits.step > limits.high * (1.0 + _SLACK):
            return None
        low, high = (limits.offset + count * limits.step for count in (first, last))
    if not 0.0 < low <= high < math.inf:
        return None
    return Knob(role, value, low, high, limits.step, axes, is_gain, ends, limits.offset)
