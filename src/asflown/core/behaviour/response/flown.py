"""The bandwidth as flown: rate over command straight from the spectra, whatever limited it on the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.handling import rate_response
from asflown.core.behaviour.identify.bands import Stretch, banded, edges
from asflown.core.behaviour.identify.fit import smooth_over
from asflown.core.behaviour.response.drives import Driven
from asflown.core.behaviour.response.result import RESPONSE_ONLY
from asflown.core.measured import Measured, unmeasured

if TYPE_CHECKING:
    from asflown.core.behaviour.response.axis import Instrument

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Bands count from this coherence on.
LEAST_COHERENCE = 0.5
#: Degree of the smooth curve through the logarithm of the response.
DEGREE = 5
#: Widening of the random error, as the curve's shape is not the response's.
FACTOR = 1.3
_NO_RANGE = (
    "the rate's answer to the command is coherent over too few frequencies;"
    " fly steps and doublets for 20 s or more"
)
_SEED = 11


def flown_bandwidth(made: Sequence[Driven], axis: str, used: Instrument) -> Measured:
    """Frequency where the phase of rate over command is -45 deg, as flown.

    Source: H1 and its random error, Bendat & Piersol, *Random Data* (from memory); a polynomial in log
    frequency through the complex logarithm.
    """
    if used.signal is not None:
        return unmeasured("the command answers the disturbance; its own spectra say nothing here", "Hz")
    sums = banded(
        [
            Stretch(
                one.rate,
                one.command[axis],
                one.response[axis],
                one.response[axis],
                np.zeros((0, one.samples)),
            )
            for one in made
        ],
        edges(made[0].rate, min(one.samples for one in made) / made[0].rate),
        keep=used.keeps(),
    )
    power, answer = sums.command_command[:, 0, 0].real, sums.command_response[:, 0]
    wide = smooth_over(sums.frequencies, 0.12)
    coherence = np.abs(wide @ answer) ** 2 / np.maximum(
        (wide @ power) * (wide @ sums.response_response), 1e-300
    )
    usable = (coherence > LEAST_COHERENCE) & (power > 0)
    if usable.sum() < 3 * DEGREE:
        return unmeasured(_NO_RANGE, "Hz", RESPONSE_ONLY)
    return _read(
        sums.frequencies, (wide @ answer) / np.maximum(wide @ power, 1e-300), coherence, usable, sums.bins
    )


def _read(
    frequencies: Float, rough: Complex, coherence: Float, usable: npt.NDArray[np.bool_], bins: Float
) -> Measured:
    f = frequencies[usable]
    error = np.sqrt((1 - coherence) / (2 * coherence * np.maximum(bins, 0.5)))[usable] + 1e-3
    logarithm = np.log(np.abs(rough[usable])) + 1j * np.unwrap(np.angle(rough[usable]))
    x = np.log(f)
    x = 2 * (x - x[0]) / (x[-1] - x[0]) - 1
    basis = np.polynomial.chebyshev.chebvander(x, DEGREE) / error[:, None]
    gram = np.linalg.inv(basis.T @ basis)
    centre = gram @ (basis.T @ (logarithm / error))
    root = FACTOR * np.linalg.cholesky(gram)
    noise = np.random.default_rng(_SEED).standard_normal((2, 200, DEGREE + 1)) @ root.T
    drawn = np.vstack([centre, centre + noise[0] + 1j * noise[1]])
    grid = np.geomspace(f[0], f[-1], 160)
    place = 2 * np.log(grid / f[0]) / np.log(f[-1] / f[0]) - 1
    response = np.exp(drawn @ np.polynomial.chebyshev.chebvander(place, DEGREE).T)
    found = rate_response(grid, response).bandwidth_phase
    if not np.isfinite(found[0]) or np.isfinite(found[1:]).mean() < 0.8:
        return unmeasured(
            "the phase does not pass -45 deg where command and rate are coherent"
            f" ({f[0]:.1f} to {f[-1]:.1f} Hz)",
            "Hz",
            RESPONSE_ONLY,
        )
    low, high = np.nanpercentile(found[1:], [2.5, 97.5])
    value = float(found[0])
    return Measured(value, min(float(low), value), max(float(high), value), "Hz", RESPONSE_ONLY)
