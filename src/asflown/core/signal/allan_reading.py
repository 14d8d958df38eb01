"""What an Allan curve says about a sensor: white noise, bias instability, random walk of the bias.

Source: IEEE Std 952-1997, annex C (from memory). The variance is a sum of terms, each with its slope:

==========================  ===================  =====================================================
term                        variance at tau      read off the deviation's curve
==========================  ===================  =====================================================
Q quantisation of angle     3 Q² / tau²          slope -1, at sqrt 3 s
N white rate                N² / tau             slope -1/2, at 1 s (angle random walk)
B flicker of the bias       0.664² B²            the flat bottom, over 0.664 (bias instability)
K random walk of the bias   K² tau / 3           slope +1/2, at 3 s
R ramp of the bias          R² tau² / 2          slope +1, at sqrt 2 s
==========================  ===================  =====================================================

All terms are fitted together (least squares, none below zero), so that a neighbour does not leak into what
is read; a term is given only where it makes up half the variance or more at some averaging time.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.allan import (
    AllanCurve,
    FloatArray,
    Noise,
    degrees_of_freedom,
    deviation_interval,
)

#: The bottom of pure flicker noise over its bias instability: sqrt(2 ln 2 / pi).
FLICKER_BOTTOM = float(np.sqrt(2.0 * np.log(2.0) / np.pi))
_RULES = 0.5  # share of the variance from which a term is seen
_FEWEST_FREEDOM = 4.0  # below, the 95 % interval spans a factor of five, and a term may be a chance
_ROUNDS = 4
_ROUTE = "overlapping Allan variance, terms fitted together"


@dataclass(frozen=True, slots=True)
class AllanReading:
    """Figures of a sensor at rest, each with its 95 % interval or the reason why there is none.

    Attributes
    ----------
    white_noise
        N, in the values' unit per root Hz (rad/s/√Hz is the rad/√s of angle random walk).
    bias_instability
        B, in the values' unit.
    bias_walk
        K, in the values' unit per root s.
    """

    white_noise: Measured
    bias_instability: Measured
    bias_walk: Measured


def read_off(curve: AllanCurve, unit: str = "rad/s") -> AllanReading:
    """Read the three figures off an overlapping Allan curve.

    Parameters
    ----------
    curve
        Of :func:`~asflown.core.signal.allan.allan_deviation`, evenly spaced in log time, six points or more.
    unit
        Of the values.

    Notes
    -----
    The variances at different averaging times come from the same samples and are strongly dependent. Their
    covariance is that of the periodogram's bins, weighed by what each averaging time lets through, under the
    spectrum of the fitted terms; carried through the fit it gives each term its equivalent degrees of
    freedom, and these its chi-square interval.
    """
    if curve.taus.size < 6 or not np.all(curve.deviation > 0.0):
        reason = "too short or without any noise: log the sensor at rest for a minute or more"
        return AllanReading(
            unmeasured(reason, f"{unit}/√Hz"), unmeasured(reason, unit), unmeasured(reason, f"{unit}/√s")
        )
    terms, freedom = _fit(curve)
    return AllanReading(
        _figure(curve, terms, freedom, 1, f"{unit}/√Hz", "log at rest without a low-pass filter"),
        _figure(curve, terms, freedom, 2, unit, "log the sensor at rest for longer"),
        _figure(curve, terms, freedom, 3, f"{unit}/√s", "log the sensor at rest for an hour or more"),
    )


def _basis(taus: FloatArray) -> FloatArray:
    """Variance ``(k, 5)`` of a unit of Q, N, B, K and R, each squared."""
    flat = np.full_like(taus, FLICKER_BOTTOM**2)
    return np.stack([3.0 / taus**2, 1.0 / taus, flat, taus / 3.0, 0.5 * taus**2], axis=1)


def _fit(curve: AllanCurve) -> tuple[FloatArray, FloatArray]:
    """Squares of Q, N, B, K and R by least squares of relative error, none below zero, and their freedom."""
    basis, variance = _basis(curve.taus), curve.deviation**2
    weight = np.sqrt(degrees_of_freedom(curve.samples, curve.factors, Noise.FLICKER))
    model = variance
    terms = np.zeros(basis.shape[1])
    for _ in range(_ROUNDS):
        terms = _non_negative(basis * (weight / model)[:, None], variance * weight / model)
        model = np.maximum(basis @ terms, 1e-3 * variance)
    held = np.union1d(np.flatnonzero(terms), [0])  # Q too where it fell to zero: it might not have
    solver = np.linalg.pinv(basis[:, held] * (weight / model)[:, None]) * (weight / model)
    spread = np.einsum("ik,kl,il->i", solver, _covariance(curve, terms), solver)
    freedom = np.zeros_like(terms)
    freedom[held] = 2.0 * terms[held] ** 2 / np.maximum(spread, np.finfo(float).tiny)
    return terms, freedom


def _covariance(curve: AllanCurve, terms: FloatArray) -> FloatArray:
    """Covariance ``(k, k)`` of the overlapping Allan variances under the spectrum of the terms.

    A variance is the sum over the bins of the periodogram (each as uncertain as it is large, and
    independent) of what its averaging time lets through: ``2 sin(pi f tau)^4 / (m sin(pi f dt))²``.
    """
    sample = float(curve.taus[0] / curve.factors[0])
    length = curve.samples * sample
    edges = np.unique(np.concatenate([np.arange(1, 65), np.geomspace(65, curve.samples // 2, 1500)]))
    middle, width = np.sqrt(edges[1:] * edges[:-1]) / length, np.diff(edges) / length
    q, n, b, k, _ = terms  # the ramp is no noise
    turn = 2.0 * np.pi * middle
    density = 2.0 * q * turn**2 + 2.0 * n + 2.0 * b / turn + 2.0 * k / turn**2
    through = 2.0 * np.sin(np.pi * middle * curve.taus[:, None]) ** 4
    through /= (curve.factors[:, None] * np.sin(np.pi * middle * sample)) ** 2
    seen = through * density
    return np.asarray((seen * width) @ seen.T / length)


def _non_negative(matrix: FloatArray, target: FloatArray) -> FloatArray:
    """Least squares with no factor below zero, by trying every set of factors."""
    columns = matrix.shape[1]
    size = np.sqrt(np.sum(matrix * matrix, axis=0))
    scaled = matrix / size
    best, least = np.zeros(columns), float(target @ target)
    for count in range(1, columns + 1):
        for chosen in combinations(range(columns), count):
            part = scaled[:, chosen]
            found = np.linalg.lstsq(part, target, rcond=None)[0]
            off = target - part @ found
            if np.all(found > 0.0) and float(off @ off) < least:
                least = float(off @ off)
                best = np.zeros(columns)
                best[list(chosen)] = found
    return np.asarray(best / size)


def _figure(
    curve: AllanCurve, terms: FloatArray, freedom: FloatArray, term: int, unit: str, next_step: str
) -> Measured:
    parts = _basis(curve.taus) * terms
    share = float(np.max(parts[:, term] / parts.sum(axis=1)))
    value = float(np.sqrt(terms[term]))
    if share < _RULES or freedom[term] < _FEWEST_FREEDOM:
        hidden = f"other noise hides it (about {value:.2g} {unit})" if value > 0.0 else "no sign of it"
        return unmeasured(f"{hidden} up to {curve.taus[-1]:.0f} s: {next_step}", unit, _ROUTE)
    low, high = deviation_interval(value, float(freedom[term]))
    return Measured(value, float(low), float(high), unit, _ROUTE)
