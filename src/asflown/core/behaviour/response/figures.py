"""Figures with intervals from many drawn plants and controllers."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.handling import rate_response
from asflown.core.behaviour.margins import loop_margins
from asflown.core.behaviour.response.calibration import Activity, widened
from asflown.core.behaviour.response.result import UNITS, Curve
from asflown.core.measured import Measured, unmeasured

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Frequencies at which responses are computed, Hz.
GRID = np.geomspace(0.3, 200.0, 240)
#: The same with what lies below: a step answer needs the response from where it is flat.
FROM_REST = np.concatenate([np.geomspace(0.02, 0.29, 24), GRID])
#: No gain margin is read at a frequency above this, Hz, or above so many times the highest excited one.
FARTHEST, FARTHEST_TIMES = 110.0, 6.0
#: Where more than this share of the drawn loops has no such figure, none is given.
MOST_WITHOUT = 0.2


def all_figures(response: Complex, loop: Complex | None, top: float) -> dict[str, Float]:
    """Arrays (draws,) of each figure; the first draw is the estimate itself; NaN where a draw has none.

    Parameters
    ----------
    response, loop
        (draws, nf) at `GRID`: rate over command, and the open loop where there is one.
    top
        Hz, highest excited frequency.
    """
    handling = rate_response(GRID, response)
    made = {
        "bandwidth": handling.bandwidth_phase,
        "bandwidth_gain": handling.bandwidth_gain,
        "phase_delay": handling.phase_delay,
    }
    if loop is not None:
        margins = loop_margins(GRID, loop)
        made |= {
            "crossover": margins.crossover,
            "gain_margin": margins.gain_margin,
            "phase_margin": margins.phase_margin,
            "peak_sensitivity": margins.peak_sensitivity,
        }
        # a margin read far beyond all that was excited would be the model's word alone
        if not margins.phase_crossover[0] <= min(FARTHEST, FARTHEST_TIMES * top):
            made["gain_margin"] = np.full_like(margins.gain_margin, np.nan)
    return made


def measured(
    drawn: Mapping[str, Float], route: str, activity: Activity, caveats: Mapping[str, tuple[str, ...]]
) -> dict[str, Measured]:
    """Each figure with its calibrated 95 % interval, in the unit of `UNITS`, or why there is none.

    Parameters
    ----------
    drawn
        (draws,) by figure, the estimate first.
    caveats
        By figure, what limits it.
    """
    made = {}
    for name, values in drawn.items():
        made[name] = one_measured(name, UNITS[name], values, route, activity, caveats.get(name, ()))
    return made


def one_measured(
    name: str, unit: str, values: Float, route: str, activity: Activity, caveats: tuple[str, ...] = ()
) -> Measured:
    """One figure of drawn loops (1 + draws,), the estimate first: see :func:`measured`."""
    estimate, draws = float(values[0]), values[1:]
    finite = draws[np.isfinite(draws)]
    if not np.isfinite(estimate) or finite.size < (1 - MOST_WITHOUT) * draws.size:
        return unmeasured(_missing(name), unit, route)
    low, high = np.percentile(finite, [2.5, 97.5])
    low, high = widened(name, route, estimate, float(low), float(high), activity)
    return Measured(estimate, low, high, unit, route, None, caveats)


def _missing(name: str) -> str:
    what = {
        "crossover": "the loop's gain does not cross one between 0.3 and 200 Hz",
        "phase_margin": "the loop's gain does not cross one between 0.3 and 200 Hz",
        "gain_margin": "the loop's phase reaches -180 deg only far above all that was excited, if at all",
        "bandwidth_gain": "the gain rule finds no frequency: nowhere 6 dB above the gain at -180 deg",
    }
    other = "the response does not reach the phase this figure is read at, or not surely enough"
    said = what.get(name, other)
    return f"{said}; fly longer and with quicker sticks"


def curve(drawn: Complex, excited: Bool) -> Curve:
    """Gain and phase of drawn responses (draws, nf) with their pointwise 95 % bands."""
    gain = 20 * np.log10(np.maximum(np.abs(drawn), 1e-300))
    phase = np.degrees(np.unwrap(np.angle(drawn), axis=-1))
    phase -= 360 * np.round((phase[:, :1] - phase[:1, :1]) / 360)
    low, high = np.percentile(gain[1:], [2.5, 97.5], axis=0)
    behind, ahead = np.percentile(phase[1:], [2.5, 97.5], axis=0)
    return Curve(GRID, gain[0], low, high, phase[0], behind, ahead, excited)
