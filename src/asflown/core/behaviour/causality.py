"""Does the past of a response foretell its command? A test of whether the command is independent.

If the command is independent, the part of the response that the command does not explain tells nothing about
the next command that the command's own past does not tell. (C. A. Sims, "Money, income, and causality",
American Economic Review 62, 1972; C. W. J. Granger, Econometrica 37, 1969; from memory.) The next command is
predicted from its last 24 samples and means of 0.3 s; what is left over is clipped to twice its upper
quartile, so that a few steps of the stick do not drown the rest, and correlated with the unexplained response
of the past, with a variance that holds for unequal errors (H. White, Econometrica 48, 1980; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray

#: Samples a second the test works on; a faster part is reduced to no less than this.
WORKING_RATE = 500.0
#: Below this rate the test says nothing: an outer loop and the rate loop cannot be told apart in time.
SLOWEST = 200.0
#: At most so many seconds are looked at.
LONGEST = 60.0
#: News in the command below this share of its standard deviation weighs less: there the shape of a smoothed
#: stick between its samples, not the disturbance, is what the response foretells.
RESOLUTION = 1e-4
#: A command answers from this statistic (6 degrees of freedom; one in 10,000 by chance) and this share of its
#: news on.
ANSWERS_FROM = (28.0, 0.001)
#: A command is independent where one of the two stays under these (statistic: one in 1,000 by chance).
INDEPENDENT_TO = (22.5, 0.0006)

_LAGS = 24
#: Samples back; means between these stand for the older past.
_OLDER = (24, 36, 48, 72, 96, 144)
_HISTORY = _OLDER[-1]
_RECENT = 3  # single past samples of the unexplained response
_MEMORIES = (0.02, 0.1, 0.4)  # s, its leaky sums
_CLIP = 2.0


@dataclass(frozen=True, slots=True)
class Causality:
    """Result of the test of one axis."""

    statistic: float
    p: float
    strength: float

    @property
    def verdict(self) -> Literal["independent", "answers", "unknown"]:
        """By both the statistic and the strength."""
        if self.statistic >= ANSWERS_FROM[0] and self.strength >= ANSWERS_FROM[1]:
            return "answers"
        if self.statistic <= INDEPENDENT_TO[0] or self.strength <= INDEPENDENT_TO[1]:
            return "independent"
        return "unknown"


def granger(pairs: Sequence[tuple[FloatArray, FloatArray, float]]) -> Causality | None:
    """Test whether the past of the response foretells the command beyond what the command's own past does.

    Parameters
    ----------
    pairs
        (n,) command, (n,) response, rate; one for each stretch.

    Returns
    -------
    Causality or None
        ``None`` where less than 8 s at 200 Hz or more can be used.
    """
    reduced, left = [], LONGEST
    for command, response, rate in pairs:
        step = max(1, int(rate / WORKING_RATE + 0.02))
        if rate < SLOWEST or command.size < 2 * step * _HISTORY or left <= 0:
            continue
        take = min(command.size, int(left * rate)) // step * step
        r = command[:take].reshape(-1, step).mean(axis=1)
        y = response[:take].reshape(-1, step).mean(axis=1)
        reduced.append((r - r.mean(), y - y.mean(), rate / step))
        left -= take / rate
    if sum(r.size / rate for r, _, rate in reduced) < 8.0:
        return None
    windows = np.concatenate([_past(r) for r, _, _ in reduced])
    unexplained = _unexplained(reduced, windows)
    if unexplained is None:
        return None
    beside = [_memory(e, rate) for e, (_, _, rate) in zip(unexplained, reduced, strict=True)]
    sizes = np.array([e.size for e in unexplained])
    later = np.concatenate([np.arange(size) >= _LAGS for size in sizes])
    target, past = windows[later, 0], windows[later, 1:]
    return _tested(target, past, np.concatenate(beside))


def _past(r: FloatArray) -> FloatArray:
    """(n - 144, 30) the command, its last 24 samples, and means of the older past, from the 144th on."""
    count = r.size - _HISTORY
    columns = [r[_HISTORY - lag : r.size - lag] for lag in range(_LAGS + 1)]
    sums = np.concatenate(([0.0], np.cumsum(r)))
    for near, far in pairwise(_OLDER):
        first = _HISTORY - far
        width = far - near
        columns.append((sums[first + width : first + width + count] - sums[first : first + count]) / width)
    return np.column_stack(columns)


class _Projector:
    """Takes out of columns what some regressors explain, by normal equations solved twice."""

    def __init__(self, regressors: FloatArray) -> None:
        self._x = np.column_stack([regressors, np.ones(regressors.shape[0])])
        gram = self._x.T @ self._x
        self._scale = 1.0 / np.sqrt(np.maximum(np.diag(gram), 1e-300))
        scaled = gram * self._scale * self._scale[:, None]
        values, vectors = np.linalg.eigh(scaled)
        kept = values > 1e-13 * values[-1]
        self._inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T

    def __call__(self, columns: FloatArray) -> FloatArray:
        rest = columns
        for _ in range(2):
            known = (self._x.T @ rest).T * self._scale
            share = np.ascontiguousarray((known @ self._inverse * self._scale).T)
            rest = rest - self._x @ share
        return rest


def _unexplained(
    reduced: Sequence[tuple[FloatArray, FloatArray, float]], windows: FloatArray
) -> list[FloatArray] | None:
    """The response without what the present and past command explains, clipped; one array a stretch."""
    response = np.concatenate([y[_HISTORY:] for _, y, _ in reduced])
    rest = _Projector(windows)(response)
    limit = _CLIP * float(np.quantile(np.abs(rest), 0.75))
    if limit <= 0:
        return None
    rest = np.clip(rest, -limit, limit)
    cuts = np.cumsum([y.size - _HISTORY for _, y, _ in reduced])[:-1]
    return np.split(rest, cuts)


def _memory(rest: FloatArray, rate: float) -> FloatArray:
    """(n - 24, 6) leaky sums and last samples of the unexplained response, up to the sample before each."""
    columns = []
    for seconds in _MEMORIES:
        columns.append(_leaky(rest, exp(-1.0 / (rate * seconds)))[_LAGS - 1 : -1])
    for lag in range(1, _RECENT + 1):
        columns.append(rest[_LAGS - lag : rest.size - lag])
    return np.column_stack(columns)


def _leaky(values: FloatArray, keep: float) -> FloatArray:
    """First-order low-pass, causal, in blocks (a loop over samples is too slow, lfilter costs an import)."""
    size = 64
    rows = -(-values.size // size)
    flat = np.zeros(rows * size)
    flat[: values.size] = values
    grid = flat.reshape(rows, size)
    powers = keep ** np.arange(size)
    lower = np.tril(keep ** np.maximum(np.subtract.outer(np.arange(size), np.arange(size)), 0))
    inside = grid @ lower.T
    ends = inside[:, -1]
    carried = np.zeros(rows)
    whole = keep**size
    for i in range(1, rows):
        carried[i] = carried[i - 1] * whole + ends[i - 1]
    return (inside + keep * carried[:, None] * powers).ravel()[: values.size]


def _tested(target: FloatArray, past: FloatArray, other: FloatArray) -> Causality | None:
    project = _Projector(past)
    news = project(target)
    size = float(np.quantile(np.abs(news), 0.75))
    if size <= 0 or not np.isfinite(size):
        return None
    limit = _CLIP * size
    weight = size**2 / (size**2 + (RESOLUTION * float(np.std(target))) ** 2)
    both = project(np.column_stack([np.clip(news, -limit, limit), other / np.std(other, axis=0)]))
    news, other = both[:, 0], both[:, 1:]
    meeting = other.T @ news
    weighted = other * news[:, None]
    try:
        statistic = weight * float(meeting @ np.linalg.solve(weighted.T @ weighted, meeting))
        explained = weight * float(meeting @ np.linalg.solve(other.T @ other, meeting) / (news @ news))
    except np.linalg.LinAlgError:
        return None
    half = statistic / 2.0
    p = exp(-half) * (1.0 + half + half * half / 2.0)  # chi-square, 6 degrees of freedom, in closed form
    return Causality(statistic, min(1.0, p), min(1.0, max(0.0, explained)))
