"""Samples at the ends of a sensor's range: flat tops and rails."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.signal.ranges import true_ranges
from asflown.core.vibration.result import Clipping

#: A rail repeats one extreme value at least this often, and in runs at least this often in a row.
_REPEATS, _RUNS = 6, 2


def clipping(
    signal: str,
    values: npt.NDArray[np.floating],
    rate_hz: float,
    limit: float | None = None,
    unit: str = "m/s2",
) -> Clipping:
    """Clipped samples of one signal.

    A value counts as a rail when it is the largest (or smallest) there is, occurs six times or more and
    holds for two samples or more in a row somewhere: noise does not repeat its own extreme. With ``limit``
    (the sensor's range, in the signal's unit) every sample at or beyond it counts too.
    """
    found = np.asarray(values)
    found = found[np.isfinite(found)]
    high = _rail(found, float(found.max()), limit) if found.size else None
    low = _rail(found, float(found.min()), None if limit is None else -limit) if found.size else None
    at = np.zeros(found.size, dtype=bool)
    if high is not None:
        at |= found >= high
    if low is not None:
        at |= found <= low
    samples = int(at.sum())
    lengths = _runs(at)
    flat = int(np.count_nonzero(lengths >= _RUNS))
    longest = float(lengths.max(initial=0)) / rate_hz
    share = samples / found.size if found.size else 0.0
    return Clipping(
        signal,
        low,
        high,
        samples,
        share,
        flat,
        longest,
        _told(signal, samples, found.size, flat, longest, (low, high), unit),
    )


def _rail(values: npt.NDArray[np.floating], extreme: float, limit: float | None) -> float | None:
    at = values == extreme
    if limit is not None and abs(extreme) >= abs(limit) * 0.999 and np.sign(extreme) == np.sign(limit):
        return float(np.sign(limit) * min(abs(limit) * 0.999, abs(extreme)))
    if int(at.sum()) < _REPEATS or bool(at.all()):
        return None
    return extreme if int(_runs(at).max()) >= _RUNS else None


def _runs(at: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Lengths of runs of truth."""
    starts, ends = true_ranges(at)
    return ends - starts


def _told(
    signal: str,
    samples: int,
    total: int,
    flat: int,
    longest: float,
    rails: tuple[float | None, float | None],
    unit: str,
) -> str:
    if total == 0:
        return f"{signal}: no values"
    if samples == 0:
        return f"{signal}: no sample at a rail"
    ends = " and ".join(f"{rail:.4g}" for rail in rails if rail is not None)
    return (
        f"{signal}: {samples} of {total} samples ({samples / total:.2%}) at the rail {ends} {unit}, "
        f"{flat} flat tops, the "
        f"longest {1e3 * longest:.1f} ms; levels there are too low; take a wider range or mount the "
        f"board softer"
    )
