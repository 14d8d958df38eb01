"""Fit the plant with the pilot's command as the instrument.

``y = P u + e``: the drive u answers the disturbance e, so a plain regression is biased in closed loop; the
command does not. The part of the drive that the command explains is the best instrument (optimal instrumental
variables: Söderström & Stoica, *Instrumental Variable Methods for System Identification*, 1983, from memory).
It holds whatever the controller does between command and drive, saturation included.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify import plant
from asflown.core.behaviour.identify.bands import Banded

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Rounds of the fit at most; each renews the disturbance's spectrum.
ROUNDS = 12
#: Over how many octaves to either side the disturbance's spectrum is averaged.
SMOOTHING = 0.25
_PRIOR = plant.Prior()


@dataclass(frozen=True, eq=False)
class PlantFit:
    """The fitted plant.

    Attributes
    ----------
    taken
        (k,) powers of the slow factors that were in the drive already.
    numbers, covariance
        (p,) and (p, p): see :mod:`plant`; the last k are powers of the slow factors.
    disturbance
        (nb,) power of the disturbance per bin, at the bands' frequencies.
    drive_for_command
        (nb,) smooth response of the drive to the command.
    misfit
        Mean of the standardised squared departures of the measured response from the fit in half-octave
        groups: about 1 where the model holds.
    spread_of_slopes
        (k, k) covariance of the slow factors' logarithms over the whole flight.
    """

    numbers: Float
    covariance: Float
    disturbance: Float
    drive_for_command: Complex
    misfit: float
    spread_of_slopes: Float
    taken: Float

    def response(self, frequencies: Float, numbers: Float | None = None) -> Complex:
        """Rate for achieved differential command at the mean of what the slow factors do.

        The fit's numbers hold at the geometric mean of the slow factors; a pilot flies their arithmetic mean
        (second order: the mean of exp(x) is 1 + var / 2).

        Parameters
        ----------
        frequencies
            (nf,) Hz.
        numbers
            (..., p), the estimate's own where not given.

        Returns
        -------
        Complex
            (..., nf), rad/s for a differential command of 1.
        """
        numbers = self.numbers if numbers is None else numbers
        k = self.spread_of_slopes.shape[0]
        made = plant.response(numbers, frequencies)
        if not k:
            return made
        powers = numbers[..., -k:] + self.taken
        shift = 0.5 * np.einsum("...i,ij,...j->...", powers, self.spread_of_slopes, powers)
        shift = shift - 0.5 * self.taken @ self.spread_of_slopes @ self.taken
        return np.asarray(made * (1 + shift)[..., None])


def smooth_over(frequencies: Float, octaves: float, *, weights: Float | None = None) -> Float:
    """(nb, nb) rows that average over neighbours in log frequency; weights: how much each band counts."""
    distance = np.log2(frequencies)[:, None] - np.log2(frequencies)[None]
    rows = np.exp(-0.5 * (distance / octaves) ** 2)
    if weights is not None:
        rows = rows * weights[None]
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


def fit_plant(banded: Banded, prior: plant.Prior = _PRIOR, taken: Sequence[float] | Float = ()) -> PlantFit:
    """Fit by Gauss-Newton on the instrument's equations; see the module's docstring.

    Parameters
    ----------
    banded
        Sums of the cross spectra of all stretches.
    prior
        What is held likely before looking; weak, see :class:`plant.Prior`.
    taken
        (k,) powers of the slow factors that are in the drive already.

    Raises
    ------
    numpy.linalg.LinAlgError
        When the sums hold no information at all.
    """
    slopes = banded.command_drive.shape[1] - 1
    powers = np.asarray(taken, dtype=np.float64) if len(taken) else np.zeros(slopes)
    centre, spread = prior.centre_and_spread(slopes)
    numbers = _start(banded, centre)
    average = smooth_over(banded.frequencies, SMOOTHING, weights=banded.bins)
    instrument = _local_drive(banded, average)
    noise: Float = np.ones(banded.frequencies.size, dtype=np.float64)
    for _ in range(ROUNDS):
        noise = _disturbance(numbers, banded, average)
        step_matrix, score, model = _equations(numbers, banded, instrument, noise)
        hessian = 2 * step_matrix + np.diag(spread**-2)
        step = np.linalg.solve(hessian, 2 * score - (numbers - centre) / spread**2)
        scale = min(
            1.0, 1.0 / max(1e-12, float(np.max(np.abs(step[:3])))), 0.01 / max(1e-12, abs(float(step[3])))
        )
        numbers = numbers + scale * step
        if scale == 1.0 and float(np.max(np.abs(step * np.sqrt(np.diag(hessian))))) < 1e-3:
            break
    covariance = np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    misfit = _misfit(banded, model, instrument, noise)
    return PlantFit(numbers, covariance, noise, instrument, misfit, banded.spread_of_slopes, powers)


def _start(banded: Banded, centre: Float) -> Float:
    numbers = centre.copy()
    ratio = banded.command_response[:, 0] / banded.command_drive[:, 0, 0]
    weight = np.abs(banded.command_drive[:, 0, 0])
    known = plant.response(numbers, banded.frequencies)
    numbers[0] = float(np.sum(weight * np.log(np.abs(ratio / known))) / np.sum(weight))
    return numbers


def _local_drive(banded: Banded, average: Float) -> Complex:
    """Smooth response of the drive to the command, from the neighbours of each band only.

    A band's own noise must not enter its instrument: the product of the two would not average out. Where
    what is left is no more than noise, the instrument is shrunk towards nothing.
    """
    others = average * (1 - np.eye(average.shape[0]))
    power = banded.command_command[:, 0, 0].real
    # the lines of a planned excitation have no neighbours: there a band must speak for itself
    alone = others @ power < 0.5 * np.diag(average) * power
    others = np.where(alone[:, None], average, others)
    cross = banded.command_drive[:, 0, 0]
    drive = banded.drive_drive[:, 0, 0].real
    base = others @ power
    raw = (others @ cross) / base
    # noise of the average: the drive's own power over the bins that were averaged
    density = (others @ drive) / (others @ banded.bins)
    spread = density * ((others**2) @ power) / base**2
    return np.asarray(raw * np.maximum(0.0, 1 - 2 * spread / np.maximum(np.abs(raw) ** 2, 1e-300)))


def _mixed(numbers: Float, slopes: int) -> Float:
    """(m,) weights of the drive and of the drive times each slow factor."""
    return np.concatenate([[1.0], numbers[numbers.size - slopes :]])


def _disturbance(numbers: Float, banded: Banded, average: Float) -> Float:
    slopes = banded.command_drive.shape[1] - 1
    mix = _mixed(numbers, slopes)
    p = plant.response(numbers, banded.frequencies)
    uu = np.einsum("bij,i,j->b", banded.drive_drive, mix, mix).real
    uy = banded.drive_response @ mix
    power = banded.response_response - 2 * np.real(np.conj(p) * uy) + np.abs(p) ** 2 * uu
    per_bin = np.maximum(power, 1e-300) / np.maximum(banded.bins, 1e-9)
    smooth = average @ per_bin
    return np.asarray(np.maximum(smooth, 1e-12 * np.max(smooth)), dtype=np.float64)


def _equations(
    numbers: Float, banded: Banded, instrument: Complex, noise: Float
) -> tuple[Float, Float, Complex]:
    slopes = banded.command_drive.shape[1] - 1
    mix = _mixed(numbers, slopes)
    p = plant.response(numbers, banded.frequencies)
    slope = p * plant.log_slope(numbers, banded.frequencies)
    gradient = plant.log_gradient(numbers, banded.frequencies)
    driven = banded.command_drive @ mix  # (nb, m): conj(R_i) times the whole drive
    left = banded.command_response - p[:, None] * driven - (1j * slope)[:, None] * banded.command_ends
    q = np.conj(instrument)
    physical = p[None] * gradient  # (p0, nb) derivative of P
    rows = np.conj(physical) * q[None] / noise
    score = [np.real(rows @ left[:, 0])]
    # powers of slow factors: instrument P Q R_i
    wanted = physical * driven[None, :, 0]
    by_slope = p[:, None] * banded.command_drive[:, 0, 1:]
    full_row = [np.real(np.concatenate([rows @ wanted.T, rows @ by_slope], axis=1))]
    for i in range(1, slopes + 1):
        row = np.conj(p) * q / noise
        score.append(np.atleast_1d(np.real(row @ left[:, i])))
        full_row.append(
            np.real(
                np.concatenate(
                    [
                        row @ (physical * driven[None, :, i]).T,
                        row @ (p[:, None] * banded.command_drive[:, i, 1:]),
                    ]
                )
            )[None]
        )
    matrix = np.concatenate(full_row)
    return 0.5 * (matrix + matrix.T), np.concatenate(score), p


def _misfit(banded: Banded, model: Complex, instrument: Complex, noise: Float) -> float:
    """Departure of the measured response from the fit in half-octave groups, standardised."""
    left = banded.command_response[:, 0] - model * banded.command_drive[:, 0, 0]
    variance = noise * banded.command_command[:, 0, 0].real
    octave = np.floor(2 * np.log2(banded.frequencies / banded.frequencies[0])).astype(int)
    total, count = 0.0, 0
    for group in np.unique(octave):
        inside = octave == group
        weight = np.conj(instrument[inside] * model[inside])
        sum_ = np.sum(weight * left[inside])
        var = np.sum(np.abs(weight) ** 2 * variance[inside])
        if var > 0:
            total += float(np.abs(sum_) ** 2 / var)
            count += 1
    return total / max(count, 1)
