"""How much a quantity moves from flight to flight of one aircraft that nobody touched.

One flight before and one after cannot tell it. A stated prior with a few degrees of freedom is brought
together with what flights of the same settings showed: ``s² = (n0 s0² + n s1²) / (n0 + n)`` with ``n0 + n``
degrees of freedom (moderated variance: Smyth, *Statistical Applications in Genetics and Molecular Biology*
3(1), 2004, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.verdict.sides import Number

#: Degrees of freedom that the prior counts for. Common practice, no source.
PRIOR_DOF = 4.0


@dataclass(frozen=True, slots=True)
class Scatter:
    """Spread between flights: standard deviation on the margin's scale, and its degrees of freedom.

    Attributes
    ----------
    dof
        Infinite where the spread was stated as known.
    flights
        How many flights spoke.
    """

    value: float
    dof: float
    flights: int = 0

    @property
    def says(self) -> str:
        """Where it comes from, in words."""
        if math.isinf(self.dof):
            return "stated" if self.value else "stated: none"
        if not self.flights:
            return "a prior, no flight pair to tell it from"
        return f"a prior and {self.flights} flights"


def scatter_of(prior: float, groups: Sequence[Sequence[Number]], *, prior_dof: float = PRIOR_DOF) -> Scatter:
    """Scatter from a prior and from flights of the same settings.

    Parameters
    ----------
    prior
        Standard deviation, on the margin's scale.
    groups
        Flights of one setting each.

    Notes
    -----
    Of a group, the variance between flights less the mean squared error of measuring, never below zero
    (method of moments).
    """
    if math.isinf(prior_dof):
        return Scatter(prior, math.inf)
    total, dof, flights = 0.0, 0.0, 0
    for group in groups:
        if len(group) < 2:
            continue
        values = [one.value for one in group]
        mean = sum(values) / len(values)
        free = len(values) - 1
        seen = sum((value - mean) ** 2 for value in values) / free
        measuring = sum(one.error**2 for one in group) / len(group)
        total += free * max(0.0, seen - measuring)
        dof += free
        flights += len(group)
    value = math.sqrt((prior_dof * prior**2 + total) / (prior_dof + dof))
    return Scatter(value, prior_dof + dof, flights)
