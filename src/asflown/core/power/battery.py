"""The pack as it works in flight: open-circuit voltage, resistance and sag.

Model: ``V = V0(q) - R I`` with an open-circuit voltage that falls slowly as charge q is used. The slow part
is left free (straight lines between a few knots), so R comes from changes of the load within seconds. A
voltage that is filtered or late against the current is allowed for by the first-order lag that fits best.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import averaged, block_length, student

Float = npt.NDArray[np.float64]

#: Samples a second used (means of whole numbers of rows).
WORKING_RATE = 10.0
#: s between knots of the slow part, and most knots.
KNOT, MOST_KNOTS = 20.0, 16
#: s: lags of voltage behind current that are tried; negative: the current is the late one.
LAGS = (-1.0, -0.5, -0.25, -0.1, 0.0, 0.1, 0.25, 0.5, 1.0)
#: s, shortest and longest blocks in which errors are counted.
BLOCKS = (0.5, 5.0)
#: A spread of current (5th to 95th percentile, A or share of the median) below this tells no resistance.
LEAST_SPREAD_SHARE = 0.15
HUBER = 2.0
ROUNDS = 5


@dataclass(frozen=True, eq=False)
class PackModel:
    """The pack.

    Attributes
    ----------
    resistance
        Ohm, of pack and wires up to where the voltage is measured, at the seconds-scale of load changes.
    open_circuit_start, open_circuit_end
        V at the first and last sample.
    open_circuit
        (m,) V along ``time`` (m,), s.
    sag_hover, sag_full
        V below open circuit at the median current, and at the largest current flown.
    lag
        s that the voltage follows the current late (negative: the current the voltage).
    fall
        V lost for each A s used over the flight.
    """

    resistance: Measured
    open_circuit_start: Measured
    open_circuit_end: Measured
    sag_hover: Measured
    sag_full: Measured
    fall: Measured
    lag: float = 0.0
    time: Float | None = None
    open_circuit: Float | None = None


def from_two_loads(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Resistance (ohm) and open-circuit voltage (V) of two loads, each (V, A).

    Raises
    ------
    ValueError
        Where both currents are the same.

    Examples
    --------
    >>> from_two_loads((16.0, 10.0), (15.4, 40.0))
    (0.02, 16.2)
    """
    if one[1] == other[1]:
        raise ValueError(f"two different currents are needed, got {one[1]} A twice")
    resistance = -(other[0] - one[0]) / (other[1] - one[1])
    return round(resistance, 12), round(one[0] + resistance * one[1], 12)


def open_circuit(voltage: Float, current: Float | None, time: Float) -> PackModel:
    """Open-circuit voltage and resistance by robust regression.

    Parameters
    ----------
    voltage
        (n,) V.
    current
        (n,) A; ``None`` where not logged: then neither resistance nor sag can be told.
    time
        (n,) s, even.
    """
    if current is None:
        return _none("pack current is not logged; log it for the resistance")
    if time.size < 20 or time[-1] - time[0] < 10.0:
        return _none(f"{time.size} rows are too few; log 10 s of flight with voltage and current")
    rate = (time.size - 1) / float(time[-1] - time[0])
    step = max(1, int(rate / WORKING_RATE))
    v, i, t = (averaged(row, step) for row in (voltage, current, time))
    good = np.isfinite(v) & np.isfinite(i)
    if np.count_nonzero(good) < 0.8 * good.size:
        return _none("more than a fifth of voltage or current is missing; log both through the whole flight")
    v, i, t = v[good], i[good], t[good]
    low, middle, high = (float(x) for x in np.percentile(i, [5, 50, 95]))
    if high - low < LEAST_SPREAD_SHARE * max(abs(middle), 0.1):
        return _none(f"the current stayed between {low:.1f} and {high:.1f} A: fly climbs and descents")
    return _fitted(v, i, t, rate / step)


def _none(reason: str) -> PackModel:
    volt = unmeasured(reason, "V")
    return PackModel(unmeasured(reason, "ohm"), volt, volt, volt, volt, unmeasured(reason, "V/(A s)"))


@dataclass(frozen=True, eq=False)
class _Regression:
    coefficients: Float
    covariance: Float
    residual: Float
    dof: float
    spread: float


def _fitted(v: Float, i: Float, t: Float, rate: float) -> PackModel:
    knots = _knots(t, i)
    best: tuple[float, float, _Regression] | None = None
    for lag in LAGS:
        late_v, late_i = (_late(v, -lag, rate), i) if lag < 0 else (v, _late(i, lag, rate))
        found = _robust(np.column_stack([-late_i, knots]), late_v, t, final=False)
        if best is None or found.spread < best[0]:
            best = (found.spread, lag, found)
    assert best is not None
    lag = best[1]
    late_v, late_i = (_late(v, -lag, rate), i) if lag < 0 else (v, _late(i, lag, rate))
    found = _robust(np.column_stack([-late_i, knots]), late_v, t, final=True)
    return _told(found, knots, i, t, lag)


def _late(row: Float, lag: float, rate: float) -> Float:
    """First-order lag."""
    if lag == 0:
        return row
    length = 2 * row.size
    omega = 2 * np.pi * np.arange(row.size + 1) * (rate / length)
    mirrored = np.concatenate([row, row[::-1]])
    return np.asarray(np.fft.irfft(np.fft.rfft(mirrored) / (1 + 1j * omega * lag), length)[: row.size])


def _knots(t: Float, i: Float) -> Float:
    """(n, k) hat functions of the charge used, which is what the open-circuit voltage goes with."""
    flow = np.maximum(i, 0.0)
    used = np.concatenate([[0.0], np.cumsum(0.5 * (flow[1:] + flow[:-1]) * np.diff(t))])
    used = used / max(float(used[-1]), 1e-12) + 1e-9 * (t - t[0])
    count = int(np.clip((t[-1] - t[0]) / KNOT, 1, MOST_KNOTS)) + 1
    at = np.linspace(used[0], used[-1], count)
    return np.column_stack([np.interp(used, at, unit) for unit in np.eye(count)])


def _robust(design: Float, v: Float, t: Float, final: bool) -> _Regression:
    """Huber's regression by reweighting; covariance by blocks."""
    weight = np.ones(v.size)
    coefficients: Any = np.zeros(design.shape[1])
    residual: Any = v
    spread = 1.0
    for _ in range(ROUNDS if final else 2):
        weighted = design * weight[:, None]
        coefficients = np.linalg.solve(weighted.T @ design + 1e-9 * np.eye(design.shape[1]), weighted.T @ v)
        residual = v - design @ coefficients
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-9
        weight = np.minimum(1.0, HUBER * spread / np.maximum(np.abs(residual), 1e-12))
    if not final:
        loss = np.minimum(residual**2, 2 * HUBER * spread * np.abs(residual))
        return _Regression(coefficients, np.eye(1), np.asarray(residual), 1.0, float(np.mean(loss)))
    return _with_blocks(design, weight, np.asarray(residual), coefficients, t, spread)


def _with_blocks(
    design: Float, weight: Float, residual: Float, coefficients: Float, t: Float, spread: float
) -> _Regression:
    weighted = design * weight[:, None]
    inverse = np.linalg.inv(weighted.T @ design + 1e-9 * np.eye(design.shape[1]))
    rate = (t.size - 1) / float(t[-1] - t[0])
    length = block_length(residual, int(BLOCKS[0] * rate), min(int(BLOCKS[1] * rate), t.size // 6))
    starts = np.arange(0, t.size, max(length, 1))
    bearing = np.add.reduceat((weighted @ inverse[:, 0]) ** 2, starts)
    share = bearing / max(float(bearing.sum()), 1e-300)
    swallowed = np.minimum(share, 0.5)
    sums = np.add.reduceat(weighted * residual[:, None], starts, axis=0) / (1 - swallowed)[:, None]
    moved = sums @ inverse
    neighbours = np.maximum(np.sum(moved[1:] * moved[:-1], axis=0), 0.0)
    few = starts.size / max(starts.size - design.shape[1], 0.3 * starts.size)
    covariance = (moved.T @ moved + np.diag(neighbours)) * few
    dof = max(2.0, 1 / float(np.sum(share**2)) - 1)
    return _Regression(coefficients, covariance, residual, dof, spread)


def _told(found: _Regression, knots: Float, i: Float, t: Float, lag: float) -> PackModel:
    route = "robust regression of voltage on current"
    resistance = float(found.coefficients[0])
    quantile = student(found.dof)
    error = float(np.sqrt(found.covariance[0, 0]))
    if resistance - quantile * error <= 0:
        return _none(
            f"the voltage does not fall with the current ({1000 * resistance:.0f} mohm"
            f" +- {1000 * quantile * error:.0f}); check the current column, or fly with more change of load",
        )
    rows = np.zeros((5, found.coefficients.size))
    rows[0, 0] = 1.0
    rows[1, 1], rows[2, -1] = 1.0, 1.0
    rows[3, 0], rows[4, 0] = float(np.median(i)), float(np.percentile(i, 99.9))
    values = rows @ found.coefficients
    halves = quantile * np.sqrt(np.einsum("ij,jk,ik->i", rows, found.covariance, rows))
    units = ("ohm", "V", "V", "V", "V")
    told = [
        Measured(float(value), float(value - half), float(value + half), unit, route)
        for value, half, unit in zip(values, halves, units, strict=True)
    ]
    charge = float(np.sum(0.5 * (i[1:] + i[:-1]) * np.diff(t)))
    drop = np.zeros(found.coefficients.size)
    drop[-1], drop[1] = 1.0, -1.0
    fall = unmeasured("no charge was used; check the current column", "V/(A s)", route)
    if charge > 0:
        value = -float(drop @ found.coefficients) / charge
        half = quantile * float(np.sqrt(drop @ found.covariance @ drop)) / charge
        fall = Measured(value, value - half, value + half, "V/(A s)", route)
    return PackModel(
        told[0], told[1], told[2], told[3], told[4], fall, lag, t, knots @ found.coefficients[1:]
    )
