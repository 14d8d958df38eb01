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


def step_answers(response: Complex) -> Float:
    """Step answers (draws, nt) at `TIMES` of rate responses (draws, nf) at `FROM_REST`."""
    fall = (FROM_REST[-1] / BEYOND) ** 3
    return np.asarray(np.concatenate([response, response[:, -1:] * fall], axis=1).real @ _weights().T)


def step_numbers(answers: Float) -> dict[str, Float]:
    """Overshoot (over the command itself, 1) and rise time (s) of each step answer (draws, nt)."""
    figures = step_figures(TIMES, answers, np.ones(answers.shape[0]))
    over = np.max(answers, axis=1) - 1.0
    return {"overshoot": np.maximum(over, 0.0), "rise_time": figures.rise_time}


def step_band(answers: Float) -> StepBand:
    """Step answers (draws, nt), the estimate first, as a band: what the data's noise does, pointwise."""
    low, high = np.percentile(answers[1:], [2.5, 97.5], axis=0)
    return StepBand(TIMES, answers[0], np.minimum(low, answers[0]), np.maximum(high, answers[0]))


def step_measured(name: str, values: Float, route: str, activity: Activity) -> Measured:
    """Overshoot or rise time of drawn loops (1 + draws,), the estimate first, calibrated."""
    estimate, draws = float(values[0]), values[1:][np.isfinite(values[1:])]
    unit = "s" if name == "rise_time" else "1"
    if not np.isfinite(estimate) or draws.size < 0.8 * (values.size - 1):
        reason = "the answer does not reach 90 % of the step within 0.4 s; rise times are read up to there"
        return unmeasured(reason, unit, route)
    low, high = (float(end) for end in np.percentile(draws, [2.5, 97.5]))
    low, high = widened(name, route, estimate, low, high, activity)
    return Measured(estimate, max(low, 0.0), high, unit, route)
