"""Margins, differences and intervals of a verdict in words."""

from __future__ import annotations

import math

from asflown.app.views.flight_words import unit_shown
from asflown.core.study.quantities import quantity
from asflown.core.verdict.ahead import More
from asflown.core.verdict.margins import Margin, Scale

#: The decision rule of a verdict.
RULE = (
    "Needed figures must each lie within their margin (90 % interval, two one-sided tests at 5 %); a"
    " figure is called different when it is beyond its margin after Holm's correction over all."
)


def title_of(name: str) -> str:
    """A quantity with its axis or number."""
    return quantity(name).titled(name)


def margin_says(margin: Margin) -> str:
    """A margin in words: ``-13 to +15 %``, ``±8 deg``."""
    if margin.scale is Scale.RATIO:
        low, high = (100.0 * math.expm1(end) for end in (margin.low, margin.high))
        return f"{low:+.0f} to {high:+.0f} %"
    unit, factor = unit_shown(_unit(margin.quantity))
    low, high = margin.low * factor, margin.high * factor
    text = f"±{high:.3g}" if math.isclose(-low, high) else f"{low:+.3g} to {high:+.3g}"
    return f"{text} {unit}".rstrip()


def _unit(name: str) -> str:
    example = name.replace("{axis}", "roll").replace("{n}", "1").replace("{order}", "order_1")
    return quantity(example).unit


def change_says(value: float, margin: Margin, name: str) -> str:
    """A change on the margin's scale: ``+1.2 %``, ``-0.6 deg``."""
    if margin.scale is Scale.RATIO:
        return f"{100.0 * math.expm1(value):+.1f} %"
    unit, factor = unit_shown(quantity(name).unit)
    return f"{value * factor:+.{_digits(margin, factor)}f} {unit}".rstrip()


def interval_says(low: float, high: float, margin: Margin, name: str) -> str:
    """An interval of changes on the margin's scale."""
    if margin.scale is Scale.RATIO:
        return f"{100.0 * math.expm1(low):+.1f} to {100.0 * math.expm1(high):+.1f} %"
    unit, factor = unit_shown(quantity(name).unit)
    digits = _digits(margin, factor)
    return f"{low * factor:+.{digits}f} to {high * factor:+.{digits}f} {unit}".rstrip()


def _digits(margin: Margin, factor: float) -> int:
    return 3 if abs(margin.high * factor) < 1 else 1


def flying_says(more: More) -> str:
    """Flights and their length: ``one flight of 40 s``, ``3 flights of 80 s``."""
    if more.flights == 1:
        return f"one flight of {more.seconds} s"
    return f"{more.flights} flights of {more.seconds} s"


def scatter_says(scatter: float | None) -> str:
    """Where the spread from flight to flight is taken from."""
    if scatter is None:
        return (
            "How much this aircraft scatters from flight to flight is taken from its flights where there are"
            " several, and from a stated prior (2 % of bandwidth) as far as there are not."
        )
    return f"Scatter between flights as stated: {scatter:g} times the prior."
