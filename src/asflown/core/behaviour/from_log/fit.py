"""Fit one member of the family to the spectra of a log.

The output is computed by the firmware from both inputs, so least squares of the output on them are without
bias whatever disturbs the aircraft (Ljung, *System Identification*: direct identification, from memory). What
the log lacks (the loop's steps between its rows) has folded into the measured rate, and acts on the output by
the mean of the controller's response over all frequencies that fold into one, not by the response there. For
white noise that mean is known; the bias it makes is taken off, and a share of it is in the covariance. Bands
are weighted by what is left over in them; the covariance is a sandwich whose units are the windows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.from_log.family import (
    CENTRE,
    GAINS,
    SIGNALS,
    SPREAD,
    Variant,
    coefficients,
    responses,
)
from asflown.core.behaviour.from_log.spectra import Spectra

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Share of the output's amplitude below which what is left over is the windows' own error.
FLOOR = 1e-3
#: Share of the output by which a filter of another form may differ, in each third of an octave by itself.
FORM = 0.001
#: Cut-offs, Hz, of which the best are started from, and how many.
STARTS = (12.0, 30.0, 75.0, 180.0)
STARTED = 2
#: Turns of Gauss and Newton for each of the weighings.
TURNS = (6, 10, 10)
#: Rate of the loop over that of the rows where nothing else is held likely.
FAST = 4.0
#: Further turns with the filters run over the whole log.
REFINED = 1
#: Share of the folded noise's pull by which its correction may be wrong (standard deviation).
FOLDS = 0.3
#: Spread of what windows do to each number: share of a gain, logarithm of a cut-off, s.
OWN = np.array([0.0005, 0.0005, 0.0005, 0.0005, 0.003, 0.003, 0.003, 5e-6, 5e-6])
#: Step for the derivative by frequency, share of it.
_NEAR = 1e-4
_STEPS = np.array([1e-6, 1e-6, 1e-8, 1e-8, 1e-4, 1e-4, 1e-4, 1e-7, 1e-7])
#: Largest step at once: logarithms of cut-offs, delays.
_MOST = np.array([np.inf, np.inf, np.inf, np.inf, 0.5, 0.5, 0.5, 1e-3, 1e-3])
#: No controller knows ahead: a delay may be less than 0 by what the analogue forms are late, s.
_AHEAD = 6e-4
_LOW = np.array([-np.inf, -np.inf, -np.inf, -np.inf, np.log(3.0), np.log(3.0), np.log(1.0), -_AHEAD, -_AHEAD])
_HIGH = np.array([np.inf, np.inf, np.inf, np.inf, np.log(2e3), np.log(2e3), np.log(2e3), 0.02, 0.03])


@dataclass(frozen=True, eq=False)
class Fit:
    """One member, fitted.

    Attributes
    ----------
    numbers
        (9,) see `family.NUMBERS`.
    covariance
        (9, 9); zero rows where a number is not fitted.
    cost
        -2 log likelihood with the variance of each band free, priors in it, and the logarithm of the amount
        of data for each number (Schwarz' criterion, from memory).
    left, power
        (b,) power left over, and of the output.
    """

    variant: Variant
    numbers: Float
    covariance: Float
    cost: float
    left: Float
    power: Float
    loop_rate: float | None = None


class _Problem:
    """One variant and one set of spectra."""

    def __init__(self, data: Spectra, variant: Variant, loop_rate: float | None) -> None:
        self.data, self.variant, self.loop_rate = data, variant, loop_rate
        self.total, self.count = data.total, data.count
        self.free = list(variant.free)
        f = self.frequencies = data.frequencies
        near = np.abs(np.log2(f[:, None] / f[None])) < 0.17
        near |= np.abs(np.arange(f.size)[:, None] - np.arange(f.size)[None]) <= 2
        self.smooth = near / (near @ data.bins)[:, None] / self.count
        self.power = self.total[:, 0, 0].real
        self.share, self.worth = data.share, data.worth
        prior = SPREAD[self.free] ** -2.0
        self.prior, self.middle = prior, np.where(prior > 0, CENTRE[self.free], 0.0)

    def coefficients(self, numbers: Float) -> Complex:
        """(b, 13): of the signals, and of the inputs with the window's derivative.

        What a window shows of a filter's output is ``F`` times the windowed input and, to the first order in
        the filter's delay, ``j dF/dw`` times the input in the window's derivative (Taylor's series of the
        window under the convolution).
        """
        f = self.frequencies
        both = coefficients(self.variant, numbers, np.concatenate([f, f * (1.0 + _NEAR)]), self.loop_rate)
        a, after = both[..., : f.size, :], both[..., f.size :, :]
        slope = 1j * (after - a)[..., 1:] / (2 * np.pi * _NEAR * f)[:, None]
        return np.concatenate([a, slope], axis=-1)

    def jacobian(self, numbers: Float, places: list[int]) -> Complex:
        """(b, 13, p) derivatives of the coefficients."""
        moved = np.repeat(numbers[None], 1 + len(places), axis=0)
        rows = np.arange(1, moved.shape[0])
        moved[rows, places] += _STEPS[places]
        made = self.coefficients(moved)
        return np.asarray(np.moveaxis(made[1:] - made[0], 0, -1) / _STEPS[places])

    def left(self, numbers: Float) -> Float:
        """(b,) power left over."""
        a = self.coefficients(numbers)
        power = np.sum((self.total @ a.conj()[..., None])[..., 0] * a, axis=1).real
        return np.asarray(np.maximum(power, 0.0))

    def spread(self, numbers: Float) -> Float:
        """(b,) power of a bin of a window that is left over, or may be wrong with the band."""
        return self.spread_of(self.left(numbers))

    def spread_of(self, left: Float) -> Float:
        """The same from (b,) the power left over."""
        wrong = FLOOR**2 + self.worth * (FORM**2 + (FOLDS * self.share) ** 2)
        return np.asarray(self.smooth @ (left + wrong * self.power))

    def weights(self, spread: Float) -> Float:
        """(b,) of a band's power: twice its independent values over its spread."""
        return np.asarray(2 * self.worth / (self.data.bins * self.count) / np.maximum(spread, 1e-300))

    def cost(self, numbers: Float) -> float:
        return self.cost_of(numbers, self.spread(numbers))

    def cost_of(self, numbers: Float, spread: Float) -> float:
        away = (numbers[self.free] - self.middle) * np.sqrt(self.prior)
        logs = np.log(np.maximum(spread, 1e-300))
        return float(2 * np.sum(self.worth * logs) + away @ away + len(self.free) * np.log(self.worth.sum()))

    def normal(self, slope: Complex, a: Complex, weights: Float) -> tuple[Float, Float]:
        """Curvature (p, p) and score (p,) of half the weighted squares."""
        part = slope.transpose(0, 2, 1) @ self.total * weights[:, None, None]
        return (
            np.sum(part @ slope.conj(), axis=0).real,
            -np.sum(part @ a.conj()[..., None], axis=0)[:, 0].real,
        )

    def with_gains(self, numbers: Float, weights: Float) -> Float:
        """The same filters with the gains that are best for them (they enter linearly)."""
        places = [place for place in self.free if place < GAINS]
        made = numbers.copy()
        made[places] = 0.0
        slope = self.jacobian(made, places)
        curvature, score = self.normal(slope, self.coefficients(made), weights)
        made[places] = _solved(curvature, score)
        return made

    def started(self, start: Float) -> Float:
        """A start with the gains that go best with its filters."""
        return self.with_gains(start, self.weights(self.smooth @ self.power))

    def settled(self, numbers: Float) -> Float:
        """Numbers where the cost is least, near a start."""
        for turns in TURNS:
            weights = self.weights(self.spread(numbers))
            for _ in range(turns):
                curvature, score = self.normal(
                    self.jacobian(numbers, self.free), self.coefficients(numbers), weights
                )
                score -= (numbers[self.free] - self.middle) * self.prior
                step = _solved(curvature + np.diag(self.prior), score)
                limit = float(np.max(np.abs(step) / _MOST[self.free], initial=1.0))
                numbers = numbers.copy()
                numbers[self.free] += step / limit
                numbers = np.clip(numbers, _LOW, _HIGH)
                if float(score @ step) < 1e-3:
                    break
        return numbers

    def errors(self, numbers: Float) -> tuple[Complex, Float]:
        """Sums with what is left over, (w, b, 7), and its power, (w, b), the filters run over the log."""
        grid = np.concatenate([[1e-3], np.geomspace(0.05, 2 * self.data.windows.rate, 600)])
        a = coefficients(self.variant, numbers, grid, self.loop_rate)
        return self.data.crossed(self.data.errors(a, grid))

    def refined(self, numbers: Float) -> Fit:
        """The numbers once more, from what the filters leave over when run over the whole log.

        Spectra of windows know a filter's output up to its delay over the window's length; this does not.
        """
        for turn in range(REFINED + 1):
            across, power = self.errors(numbers)
            left = power.sum(axis=0)
            spread = self.spread_of(left)
            weights = self.weights(spread)
            slope = self.jacobian(numbers, self.free)
            curvature, _ = self.normal(slope, self.coefficients(numbers), weights)
            weighted = slope[:, : len(SIGNALS)] * weights[:, None, None]
            scores = np.tensordot(across, weighted, axes=([1, 2], [0, 1])).real
            folded = self._folded(weighted, numbers)
            if turn == REFINED:
                break
            away = (numbers[self.free] - self.middle) * self.prior
            step = _solved(curvature + np.diag(self.prior), folded - scores.sum(axis=0) - away)
            limit = float(np.max(np.abs(step) / _MOST[self.free], initial=1.0))
            numbers = numbers.copy()
            numbers[self.free] += step / limit
            numbers = np.clip(numbers, _LOW, _HIGH)
        covariance = self._covariance(
            numbers, curvature, scores, [folded * FOLDS, *self._of_form(weighted, numbers)]
        )
        return Fit(
            self.variant, numbers, covariance, self.cost_of(numbers, spread), left, self.power, self.loop_rate
        )

    def _covariance(self, numbers: Float, curvature: Float, scores: Float, pulls: Sequence[Float]) -> Float:
        """(9, 9) of the windows' scores, of what else may pull (p,) each, and of the windows' own error."""
        inverse = _inverse(curvature + np.diag(self.prior))
        meat = _meat(scores, len(self.free)) + np.diag(self.prior)
        meat += sum(np.outer(pull, pull) for pull in pulls)
        own = OWN * np.where(np.arange(OWN.size) < GAINS, np.abs(numbers), 1.0)
        whole = np.zeros((CENTRE.size, CENTRE.size))
        whole[np.ix_(self.free, self.free)] = inverse @ meat @ inverse + np.diag(own[self.free] ** 2)
        return whole

    def _folded(self, weighted: Complex, numbers: Float) -> Float:
        """(p,) score that white noise between the rows, folded into them, adds."""
        s = 2j * np.pi * self.frequencies
        along = weighted[:, 1] + weighted[:, 2] / s[:, None] + weighted[:, 3] * s[:, None]
        there, mean = self._response(numbers, self.frequencies), self._mean_response(numbers)
        power = self.data.folded * self.data.bins * self.count
        return np.asarray(np.sum(along * (power * (there - mean).conj())[:, None], axis=0).real)

    def _of_form(self, weighted: Complex, numbers: Float) -> list[Float]:
        """(p,) scores that filters of another form would add, by third of an octave, side and phase."""
        f = self.frequencies
        a = coefficients(self.variant, numbers, f, self.loop_rate)
        third = np.floor(3.0 * np.log2(f / f[0])).astype(int)
        made = []
        for side in (slice(1, 4), slice(4, 7)):
            across = (self.total[:, : len(SIGNALS), side] @ a[:, side].conj()[..., None])[..., 0]
            along = FORM * np.sum(weighted * across[..., None], axis=1)
            for one in np.unique(third):
                total = along[third == one].sum(axis=0)
                made += [total.real, total.imag]
        return made

    def _response(self, numbers: Float, frequencies: Float) -> Complex:
        return responses(self.variant, numbers, frequencies, self.loop_rate)[1]

    def _mean_response(self, numbers: Float) -> Complex:
        """(b,) mean of the response to the rate over all frequencies that fold into one of the bands."""
        rate = self.data.windows.rate
        loop = FAST * rate if self.loop_rate is None else self.loop_rate
        total = np.zeros(self.frequencies.size, dtype=np.complex128)
        times = max(1, round(loop / rate))
        for k in range(times):
            f = self.frequencies + k * rate
            above = f > 0.5 * loop
            there = self._response(numbers, np.maximum(np.where(above, times * rate - f, f), 1e-3))
            total += np.where(above, there.conj(), there)
        return total / times


def settle(data: Spectra, variant: Variant, *, loop_rate: float | None = None) -> tuple[float, Float]:
    """Cost and numbers of one member of the family, from windows and the best of several starts."""
    problem = _Problem(data, variant, loop_rate)
    starts = [problem.started(numbers) for numbers in _starts(variant)]
    order = np.argsort([problem.cost(numbers) for numbers in starts])[:STARTED]
    settled = [problem.settled(starts[place]) for place in order]
    costs = [problem.cost(numbers) for numbers in settled]
    best = int(np.argmin(costs))
    return costs[best], settled[best]


def refine(data: Spectra, variant: Variant, numbers: Float, *, loop_rate: float | None = None) -> Fit:
    """Fit one member of the family, from numbers near by."""
    return _Problem(data, variant, loop_rate).refined(numbers)


def _starts(variant: Variant) -> list[Float]:
    """Numbers to start from."""
    filters = [place for place in (4, 5) if place in variant.free]
    made = []
    for cutoffs in product(STARTS, repeat=len(filters)):
        numbers = CENTRE.copy()
        numbers[filters] = np.log(cutoffs)
        made.append(numbers)
    return made


def _meat(scores: Float, numbers: int) -> Float:
    """Covariance of the windows' summed scores; half-overlapped neighbours go together."""
    count = scores.shape[0]
    scores = scores - scores.mean(axis=0)
    beside = scores[1:].T @ scores[:-1]
    return np.asarray(
        (scores.T @ scores + 0.5 * (beside + beside.T)) * count / max(1.0, count - 0.5 * numbers)
    )


def _solved(matrix: Float, right: Float) -> Float:
    size = np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    return np.asarray(np.linalg.lstsq(matrix / np.outer(size, size), right / size, rcond=1e-13)[0] / size)


def _inverse(matrix: Float) -> Float:
    size = np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    return np.asarray(np.linalg.pinv(matrix / np.outer(size, size), rcond=1e-13) / np.outer(size, size))
