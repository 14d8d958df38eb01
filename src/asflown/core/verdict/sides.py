"""The numbers of the flights on one side, with their errors, and their mean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.verdict.estimate import Estimate, FlightEstimates
from asflown.core.verdict.margins import Margin, Scale
from asflown.core.verdict.paired import are_alike, is_share, parts, shown_floor

#: Variance below which none is told apart, so that weights stay finite.
LEAST = 1e-24


@dataclass(frozen=True, slots=True)
class Number:
    """A quantity of one flight on the margin's scale.

    Attributes
    ----------
    error
        Standard error.
    floor
        What of it no length of flying takes away.
    """

    value: float
    error: float
    floor: float = 0.0


def shared(name: str, before: Sequence[FlightEstimates], after: Sequence[FlightEstimates]) -> float | None:
    """What the flights of a comparison are held against: the mean share of saturated rows before.

    ``None`` where errors of a comparison (:mod:`asflown.core.verdict.paired`) do not hold for all of them.
    """
    axis = _axis(name)
    shares = [flight.saturated.get(axis) for flight in (*before, *after)]
    if not before or not are_alike(shares):
        return None
    return sum(share for share in shares[: len(before)] if share is not None) / len(before)


def numbers_of(
    name: str, route: str, flights: Sequence[FlightEstimates], margin: Margin, beside: float | None = None
) -> list[Number]:
    """The number of each flight that has one.

    Parameters
    ----------
    beside
        From :func:`shared`: errors are then those of a comparison; otherwise those of the intervals shown.
    """
    found = [(each, each.of(name, route)) for each in flights]
    return [
        _number(name, route, one, margin, each.saturated.get(_axis(name)), beside)
        for each, one in found
        if one is not None
    ]


def _number(
    name: str, route: str, one: Estimate, margin: Margin, saturated: float | None, beside: float | None
) -> Number:
    value = margin.of(one.value)
    # what turns the error as it was counted into one on the margin's scale
    relative, ratio = is_share(name), margin.scale is Scale.RATIO
    size = (abs(one.value) if relative else 1.0) / (abs(one.value) if ratio and one.value else 1.0)
    if saturated is not None and beside is not None:
        found = parts(name, route, (one.value, one.low, one.high), saturated, beside)
        if found is not None:
            return Number(value, size * math.hypot(*found), size * found[1])
    error = one.error(margin)
    return Number(value, error, min(error, size * shown_floor(name, route, saturated)))


def _axis(name: str) -> str:
    return name.split(".")[1] if name.startswith("axes.") else ""


def mean_of(side: Sequence[Number], scatter: float) -> tuple[float, float, float]:
    """Weighted mean of flights, the variance of measuring in it, and that of the scatter."""
    weights = [1.0 / max(one.error**2 + scatter**2, LEAST) for one in side]
    total = sum(weights)
    mean = sum(w * one.value for w, one in zip(weights, side, strict=True)) / total
    measuring = sum(w**2 * one.error**2 for w, one in zip(weights, side, strict=True)) / total**2
    return mean, measuring, sum(w**2 for w in weights) * scatter**2 / total**2
