"""How much may differ before an aircraft no longer flies as before: margins, fixed before the flight.

The numbers are common practice where no reason names a source: they can be set for each aircraft.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.study.quantities import quantity
from asflown.errors import Fault, InputError


class Scale(StrEnum):
    """How after is held against before."""

    RATIO = "ratio"
    DIFFERENCE = "difference"


class Weight(StrEnum):
    """What a quantity does to the whole verdict.

    ``REQUIRED``: without it nothing flies as before. ``WHERE_MEASURED``: the same once both sides have it.
    ``WATCHED``: it may show that the aircraft differs, and is not needed to say that it does not.
    """

    REQUIRED = "required"
    WHERE_MEASURED = "where measured"
    WATCHED = "watched"


@dataclass(frozen=True, slots=True)
class Margin:
    """The margin of one family of quantities.

    Attributes
    ----------
    quantity
        Name of the family, as in :data:`asflown.core.study.quantities.QUANTITIES`.
    low, high
        Below and above zero: natural logarithm of after over before (``RATIO``), or after less before in the
        quantity's unit (``DIFFERENCE``; offsets of motors as a share of the hover command).
    scatter
        Spread from flight to flight that is held likely before any is seen, on the same scale.
    """

    quantity: str
    scale: Scale
    low: float
    high: float
    scatter: float
    weight: Weight
    reason: str

    def __post_init__(self) -> None:
        fine = all(math.isfinite(x) for x in (self.low, self.high, self.scatter))
        if not fine or not self.low < 0.0 < self.high or self.scatter < 0.0:
            raise ValueError(
                f"{self.quantity}: a margin goes from below zero to above, got {self.low} {self.high}"
            )

    def of(self, value: float) -> float:
        """A value on the margin's scale; NaN where a ratio has none."""
        if self.scale is Scale.DIFFERENCE:
            return value
        return math.log(value) if value > 0.0 else math.nan


def ratio(quantity: str, share: float, scatter: float, weight: Weight, reason: str) -> Margin:
    """A margin of ``1 + share`` up and ``1 / (1 + share)`` down: for 15 %, +15 % and -13 %."""
    edge = math.log1p(share)
    return Margin(quantity, Scale.RATIO, -edge, edge, scatter, weight, reason)


def difference(quantity: str, size: float, scatter: float, weight: Weight, reason: str) -> Margin:
    """A margin of as much up as down, in the quantity's unit."""
    return Margin(quantity, Scale.DIFFERENCE, -size, size, scatter, weight, reason)


_PRACTICE = "common practice, no source"
_DECIBELS = math.log(10.0) / 20.0  # of amplitude

#: What is judged, in the order shown.
DEFAULTS: tuple[Margin, ...] = (
    ratio(
        "axes.{axis}.bandwidth",
        0.15,
        0.02,
        Weight.REQUIRED,
        f"less is hardly felt in the hand; {_PRACTICE}",
    ),
    ratio("axes.{axis}.rise_time", 0.20, 0.02, Weight.REQUIRED, f"sharpness of the answer; {_PRACTICE}"),
    difference(
        "axes.{axis}.overshoot",
        0.08,
        0.01,
        Weight.REQUIRED,
        f"8 % of a step more or less shows as bounce-back or as softness; {_PRACTICE}",
    ),
    ratio(
        "axes.{axis}.phase_delay",
        0.40,
        0.03,
        Weight.REQUIRED,
        f"what a change of filters or of computing time does; {_PRACTICE}",
    ),
    difference(
        "axes.{axis}.phase_margin",
        8.0,
        0.8,
        Weight.REQUIRED,
        f"a quarter of the 30 deg that textbooks call the least; {_PRACTICE}",
    ),
    ratio(
        "axes.{axis}.peak_sensitivity",
        0.20,
        0.02,
        Weight.REQUIRED,
        f"how near the loop is to oscillation, and how it takes gusts; {_PRACTICE}",
    ),
    ratio("axes.{axis}.crossover", 0.20, 0.02, Weight.WATCHED, f"firmness of the loop; {_PRACTICE}"),
    difference("axes.{axis}.gain_margin", 2.5, 0.2, Weight.WATCHED, f"distance to oscillation; {_PRACTICE}"),
    ratio(
        "axes.{axis}.command_at_half_stick",
        0.05,
        0.005,
        Weight.WHERE_MEASURED,
        f"the hand knows its stick; {_PRACTICE}",
    ),
    ratio(
        "axes.{axis}.command_at_full_stick",
        0.05,
        0.005,
        Weight.WHERE_MEASURED,
        f"the hand knows its stick; {_PRACTICE}",
    ),
    Margin(
        "vibration.order_1.at_reference.rate",
        Scale.RATIO,
        -4.0 * _DECIBELS,
        2.5 * _DECIBELS,
        0.5 * _DECIBELS,
        Weight.WHERE_MEASURED,
        f"+2.5 dB, so that 3 dB more is seen; 4 dB less may be a new propeller; {_PRACTICE}",
    ),
    Margin(
        "vibration.floor.rate.{axis}",
        Scale.RATIO,
        -4.0 * _DECIBELS,
        2.5 * _DECIBELS,
        0.5 * _DECIBELS,
        Weight.WATCHED,
        f"noise that the loop makes of what filters let through; {_PRACTICE}",
    ),
    Margin(
        "vibration.order_1.at_reference.accel",
        Scale.RATIO,
        -4.0 * _DECIBELS,
        2.5 * _DECIBELS,
        0.5 * _DECIBELS,
        Weight.WATCHED,
        f"an unbalanced propeller or motor, felt by the frame before the loop; {_PRACTICE}",
    ),
    Margin(
        "vibration.order_2.at_reference.rate",
        Scale.RATIO,
        -4.0 * _DECIBELS,
        2.5 * _DECIBELS,
        0.5 * _DECIBELS,
        Weight.WATCHED,
        f"two blades that differ, or a loose part; {_PRACTICE}",
    ),
    difference(
        "motors.each.{n}.offset",
        0.04,
        0.006,
        Weight.WHERE_MEASURED,
        "share of the hover command: a motor 10 % weak is asked for 5 % (thrust with the square of the"
        " command) to 10 % more, of which a quarter goes into the mean of four motors;"
        f" {_PRACTICE}",
    ),
    ratio("motors.hover", 0.10, 0.02, Weight.WATCHED, f"mass, propellers and pack are the same; {_PRACTICE}"),
    ratio("power.hover_power_standard", 0.15, 0.03, Weight.WATCHED, f"what the flight costs; {_PRACTICE}"),
    difference(
        "limit_cycle.{axis}.found",
        0.5,
        0.0,
        Weight.WATCHED,
        "any oscillation that the baseline did not have",
    ),
)


def margin_of(name: str, margins: Iterable[Margin] = DEFAULTS) -> Margin | None:
    """The margin a quantity is judged by; ``None``: it is not judged."""
    family = quantity(name).name
    for margin in margins:
        if margin.quantity == name:
            return margin
    return next((margin for margin in margins if margin.quantity == family), None)


def required(margins: Iterable[Margin], axes: Sequence[str]) -> list[str]:
    """Names without which nothing flies as before, of the axes given, in the order of the margins."""
    found: dict[str, None] = {}
    for margin in margins:
        if margin.weight is not Weight.REQUIRED:
            continue
        parts = margin.quantity.split(".")
        if parts[0] != "axes":
            found[margin.quantity] = None
        else:
            meant = axes if parts[1] == "{axis}" else [axis for axis in axes if axis == parts[1]]
            found.update({margin.quantity.replace("{axis}", axis): None for axis in meant})
    return list(found)


def changed(stated: Mapping[str, float], margins: tuple[Margin, ...] = DEFAULTS) -> tuple[Margin, ...]:
    """Margins with a person's own sizes in place of the usual ones.

    Parameters
    ----------
    stated
        By family or by single quantity: the share (0.1 for 10 %) of a ratio, or the size in its unit.

    Raises
    ------
    InputError
        Naming every quantity that is not judged, and every size that is no margin.
    """
    known = {margin.quantity: margin for margin in margins}
    faults: list[Fault] = []
    made = dict(known)
    for name, size in stated.items():
        usual = known.get(name) or _of_single(name, margins)
        if usual is None:
            faults.append(Fault(f"{name} is not judged", "margins"))
        elif not (math.isfinite(size) and 0.0 < size <= (10.0 if usual.scale is Scale.RATIO else 1e3)):
            faults.append(Fault(f"{name}: {size} is no margin; a size above 0 is wanted", "margins"))
        else:
            edge = math.log1p(size) if usual.scale is Scale.RATIO else size
            made[name] = replace(
                usual, quantity=name, low=-edge, high=edge, reason="stated for this aircraft"
            )
    if faults:
        raise InputError(
            "the margins cannot be used",
            where="margins",
            faults=tuple(faults),
            next_step=f"use one of: {', '.join(known)}",
        )
    return tuple(made.values())


def _of_single(name: str, margins: tuple[Margin, ...]) -> Margin | None:
    try:
        return margin_of(name, margins)
    except ValueError:
        return None


def digest(margins: Iterable[Margin]) -> str:
    """SHA-256 of margins, by which they are sealed before the flight."""
    body = sorted([m.quantity, m.scale, m.low, m.high, m.scatter, m.weight] for m in margins)
    return hashlib.sha256(json.dumps(body).encode()).hexdigest()
