"""The step response with its band, from drawn rate responses."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.response.calibration import Activity, widened
from asflown.core.behaviour.response.figures import FROM_REST
from asflown.core.behaviour.response.result import StepBand
from asflown.core.behaviour.step import step_figures, step_weights
from asflown.core.measured import Measured, unmeasured

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Moments after the step, s.
TIMES = np.linspace(0.0, 0.4, 161)
#: Above the last frequency the loop is carried on to here, Hz, as falling with the cube of the frequency.
BEYOND = np.geomspace(210.0, 900.0, 12)


@lru_cache(maxsize=1)
def _weights() -> Float:
    return np.asarray(step_weights(np.concatenate([FROM_REST, BEYOND]), TIMES))


def step_band(response: Complex, route: str, activity: Activity) -> tuple[StepBand, Measured, Measured]:
    """Step answers of drawn rate responses (draws, nf) at `FROM_REST`: band, overshoot and rise time.

    The overshoot is over the command itself (1), as a rate loop is judged, not over the last value; the rise
    time in s. The first draw is the estimate. The band is that of the drawn loops, pointwise: what the
    data's noise does; the intervals of the two figures are calibrated.
    """
    fall = (FROM_REST[-1] / BEYOND) ** 3
    answers = np.concatenate([response, response[:, -1:] * fall], axis=1).real @ _weights().T
    low, high = np.percentile(answers[1:], [2.5, 97.5], axis=0)
    figures = step_figures(TIMES, answers, np.ones(answers.shape[0]))
    over = np.max(answers, axis=1) - 1.0
    band = StepBand(TIMES, answers[0], np.minimum(low, answers[0]), np.maximum(high, answers[0]))
    overshoot = _of("overshoot", np.maximum(over, 0.0), "1", route, activity)
    return band, overshoot, _of("rise_time", figures.rise_time, "s", route, activity)


def _of(name: str, values: Float, unit: str, route: str, activity: Activity) -> Measured:
    estimate, draws = float(values[0]), values[1:][np.isfinite(values[1:])]
    if not np.isfinite(estimate) or draws.size < 0.8 * (values.size - 1):
        reason = "the answer does not reach 90 % of the step within 0.4 s; rise times are read up to there"
        return unmeasured(reason, unit, route)
    low, high = (float(end) for end in np.percentile(draws, [2.5, 97.5]))
    low, high = widened(name, route, estimate, low, high, activity)
    return Measured(estimate, max(low, 0.0), high, unit, route)
