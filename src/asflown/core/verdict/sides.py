"""The numbers of the flights on one side, and their mean."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.verdict.estimate import FlightEstimates
from asflown.core.verdict.margins import Margin


def numbers_of(
    name: str, route: str, flights: Sequence[FlightEstimates], margin: Margin
) -> list[tuple[float, float]]:
    """(value, standard error) of each flight, on the margin's scale."""
    found = [flight.of(name, route) for flight in flights]
    return [(margin.of(one.value), one.error(margin)) for one in found if one is not None]


def mean_of(side: Sequence[tuple[float, float]], scatter: float) -> tuple[float, float, float]:
    """Weighted mean of flights, the variance of measuring in it, and that of the scatter."""
    weights = [1.0 / max(error**2 + scatter**2, 1e-300) for _, error in side]
    total = sum(weights)
    mean = sum(w * value for w, (value, _) in zip(weights, side, strict=True)) / total
    measuring = sum(w**2 * error**2 for w, (_, error) in zip(weights, side, strict=True)) / total**2
    return mean, measuring, sum(w**2 for w in weights) * scatter**2 / total**2
