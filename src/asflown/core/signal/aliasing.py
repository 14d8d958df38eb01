"""Rotor lines above half the log's rate come back as lines that are not there: which, and where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

#: Rotor speeds, rev/s, taken where none were logged. Common practice for 5 to 10 inch propellers, no source.
USUAL_SPEEDS = (80.0, 450.0)
#: Orders of a rotor line looked at: imbalance, and the blade passing of two to four blades.
ORDERS = (1, 2, 3, 4)
#: The band, Hz, whose figures a folded line spoils.
BAND = (0.5, 120.0)


def folded(frequency: npt.ArrayLike, rate_hz: float) -> FloatArray:
    """Where lines at frequencies (Hz, any shape) appear in a log of ``rate_hz`` samples a second.

    Returns
    -------
    Hz, from 0 to half the rate.

    Examples
    --------
    >>> float(folded(1100.0, 2000.0)), float(folded(1300.0, 1000.0))
    (900.0, 300.0)
    """
    wrapped = np.mod(np.asarray(frequency, dtype=np.float64), rate_hz)
    return np.asarray(np.minimum(wrapped, rate_hz - wrapped))


def alias_range(low: float, high: float, rate: float) -> tuple[float, float]:
    """Lowest and highest frequency at which lines from ``low`` to ``high`` Hz appear after sampling."""
    half = rate / 2
    if high - low >= rate:
        return 0.0, half
    first, last = int(low // half) + 1, int(high // half)
    # Between two multiples of half the rate the alias runs straight; at each it turns, at 0 or at half.
    turns = [k * half for k in range(first, last + 1)]
    seen = folded([low, high, *turns], rate)
    return float(seen.min()), float(seen.max())


@dataclass(frozen=True, slots=True)
class Folded:
    """One order of the rotor lines that lies above half the rate.

    Attributes
    ----------
    low, high
        Hz, true.
    seen_low, seen_high
        Hz, where it appears.
    is_in_band
        Whether it can reach the band of interest.
    """

    order: int
    low: float
    high: float
    seen_low: float
    seen_high: float
    is_in_band: bool


@dataclass(frozen=True, slots=True)
class AliasRisk:
    """Whether folded rotor lines can spoil a band.

    Attributes
    ----------
    folded
        Orders above half the rate.
    is_risk
        One of them can appear inside the band.
    is_estimated
        Rotor speeds were not logged; usual ones were taken.
    statement
        For people, with what to do.
    """

    folded: tuple[Folded, ...]
    is_risk: bool
    is_estimated: bool
    statement: str


def rotor_alias_risk(
    rate: float,
    speeds: tuple[float, float] | None = None,
    *,
    orders: Sequence[int] = ORDERS,
    band: tuple[float, float] = BAND,
    is_filtered: bool = False,
) -> AliasRisk:
    """Judge a log's rate against rotor speeds.

    Parameters
    ----------
    rate
        Samples a second of the logged rates.
    speeds
        Lowest and highest rotor speed in flight, rev/s; ``None``: not known, usual ones are taken.
    band
        Hz, what the figures need clean.
    is_filtered
        The log declares an anti-alias filter, or rows were decimated with one.
    """
    low, high = speeds or USUAL_SPEEDS
    folded = []
    for order in orders:
        top = order * high
        if top <= rate / 2:
            continue
        bottom = max(order * low, rate / 2)
        seen = alias_range(bottom, top, rate)
        folded.append(Folded(order, bottom, top, *seen, seen[0] <= band[1] and seen[1] >= band[0]))
    is_risk = any(one.is_in_band for one in folded) and not is_filtered
    return AliasRisk(
        tuple(folded),
        is_risk,
        speeds is None,
        _said(rate, folded, band, is_risk, is_filtered, speeds is None),
    )


def _said(
    rate: float,
    folded: Sequence[Folded],
    band: tuple[float, float],
    is_risk: bool,
    is_filtered: bool,
    is_estimated: bool,
) -> str:
    taken = " (rotor speed not logged, usual speeds taken)" if is_estimated else ""
    if is_filtered:
        return "the log was filtered before it was thinned: no rotor line folds back"
    if not folded:
        return f"no rotor line lies above half the log's rate of {rate:.4g} Hz{taken}"
    worst = next((one for one in folded if one.is_in_band), folded[0])
    line = (
        f"order {worst.order} of the rotors, {worst.low:.0f} to {worst.high:.0f} Hz, appears at "
        f"{worst.seen_low:.0f} to {worst.seen_high:.0f} Hz in a log of {rate:.4g} Hz{taken}"
    )
    if not is_risk:
        return f"{line}: outside {band[0]:g} to {band[1]:g} Hz"
    return f"{line}: levels there cannot be trusted; log at {2.5 * worst.high:.0f} Hz or more, or filtered"
