"""Predict one axis: the plant of a flight, the controller of other settings.

``L = P Cy`` and ``T = P Cr / (1 + L)`` of every drawn plant; intervals are those of measured figures by the
same route, see :mod:`asflown.core.behaviour.response.calibration`.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.margins import is_stable
from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.predict.plants import Later, later, plants
from asflown.core.behaviour.predict.result import (
    BY_DIFFERENCE,
    PREDICTED,
    UNITS,
    Answer,
    Prediction,
    Stability,
)
from asflown.core.behaviour.response.calibration import Activity, widened
from asflown.core.behaviour.response.figures import FROM_REST, GRID, all_figures, curve, one_measured
from asflown.core.behaviour.response.result import FREE, KNOWN
from asflown.core.behaviour.response.steps import step_answers, step_band, step_measured, step_numbers
from asflown.core.identified import Identified
from asflown.core.measured import Measured, unmeasured

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Beyond `FROM_REST`, Hz, where stability is still looked for.
HIGHER = np.geomspace(205.0, 1000.0, 80)
#: A loop is called stable, or unstable, when at most this share of the drawn ones is not.
UNSURE = 0.025
#: Frequencies, Hz, from which on the noise's power is summed, and how many.
NOISE_FROM, NOISE_POINTS = 0.5, 600
_UNSTABLE = "the loop is unstable: it has no such figure"
_NOT_TOLD = "a controller read from a log is not told at the frequencies of noise"


def predict(found: Identified, before: Controls, after: Controls) -> Prediction:
    """Predict the answer of one axis with another controller.

    Parameters
    ----------
    found
        Of the baseline flight.
    before, after
        The controller that flew, and the new one, both at the scale of the measured drive.

    Raises
    ------
    ValueError
        For a loop slower than 500 Hz, below which half its rate lies within the band looked at.
    """
    if min(before.half_rate, after.half_rate) < FROM_REST[-1]:
        raise ValueError(f"a loop of {2 * FROM_REST[-1]:.0f} Hz or more is predicted")
    by = later(before, after)
    was, was_drawn = _answer(found, before, Later())
    now, now_drawn = _answer(found, after, by)
    route = FREE if FREE in (before.route, after.route) else KNOWN
    remarks = [] if by.remark is None else [by.remark]
    for controls in (before, after):
        remarks += controls.remarks
    return Prediction(
        found.axis,
        was,
        now,
        {name: _change(name, was_drawn, now_drawn, route, found) for name in UNITS},
        _noise(found, before, after, by),
        tuple(dict.fromkeys(remarks)),
    )


def _answer(found: Identified, controls: Controls, by: Later) -> tuple[Answer, dict[str, Float]]:
    """One loop's answer, and each figure's draws (1 + draws,); what is unstable has none."""
    grid = np.concatenate([FROM_REST, HIGHER[controls.half_rate > HIGHER]])
    command, rate = controls.drawn(grid)
    plant = plants(found, grid, by)
    loop = plant * rate
    stable = np.broadcast_to(is_stable(loop), (loop.shape[0],))
    loop, whole = loop[:, : FROM_REST.size], (plant * command / (1 + loop))[:, : FROM_REST.size]
    share = float(np.mean(~stable[1:]))
    held = _called(bool(stable[0]), share)
    if held is Stability.UNSTABLE or not stable[0]:
        figures = {name: unmeasured(_UNSTABLE, unit, PREDICTED) for name, unit in UNITS.items()}
        return Answer(figures, held, share), {name: np.full(loop.shape[0], np.nan) for name in UNITS}
    middle, response = loop[:, -GRID.size :], whole[:, -GRID.size :]
    answers = step_answers(whole)
    steps = step_numbers(answers)
    drawn = all_figures(response, middle, found.excited_high) | steps
    drawn = {name: np.where(stable, drawn[name], np.nan) for name in UNITS}
    activity = Activity(found.saturated)
    excited = (found.excited_low <= GRID) & (found.excited_high >= GRID)
    figures = {
        name: _predicted(
            step_measured(name, values, controls.route, activity)
            if name in steps
            else one_measured(name, UNITS[name], values, controls.route, activity)
        )
        for name, values in drawn.items()
    }
    answer = Answer(
        figures,
        held,
        share,
        curve(response[stable], excited),
        curve(middle[stable], excited),
        step_band(answers[stable]),
    )
    return answer, drawn


def _called(stable: bool, share: float) -> Stability:
    if stable and share <= UNSURE:
        return Stability.STABLE
    return Stability.UNSTABLE if not stable and share >= 1.0 - UNSURE else Stability.UNSURE


def _predicted(one: Measured) -> Measured:
    return Measured(one.value, one.low, one.high, one.unit, PREDICTED, one.reason, one.caveats)


def _change(
    name: str, was: Mapping[str, Float], now: Mapping[str, Float], route: str, found: Identified
) -> Measured:
    """What becomes of one figure, draw by draw."""
    differs = name in BY_DIFFERENCE
    unit = UNITS[name] if differs else "1"
    with np.errstate(invalid="ignore", divide="ignore"):
        drawn = now[name] - was[name] if differs else now[name] / was[name]
    finite = drawn[1:][np.isfinite(drawn[1:])]
    if not np.isfinite(drawn[0]) or finite.size < 0.8 * (drawn.size - 1):
        return unmeasured("the figure is not known on both sides", unit, PREDICTED)
    value = float(drawn[0])
    low, high = (float(end) for end in np.percentile(finite, [2.5, 97.5]))
    low, high = widened(name, route, value, low, high, Activity(found.saturated))
    return Measured(value, low, high, unit, PREDICTED)


def _noise(found: Identified, before: Controls, after: Controls, by: Later) -> Measured:
    """Ratio of the drive's standard deviations for white noise of the gyro, loops closed."""
    if before.declared is None or after.declared is None:
        return unmeasured(_NOT_TOLD, "1", PREDICTED)
    was, now = _passed(found, before, Later()), _passed(found, after, by)
    ratio = now / was
    low, high = (float(end) for end in np.percentile(ratio[1:], [2.5, 97.5]))
    value = float(ratio[0])
    return Measured(value, min(low, value), max(high, value), "1", PREDICTED)


def _passed(found: Identified, controls: Controls, by: Later) -> Float:
    """(1 + draws,) standard deviations for noise of 1 rad/s in each root hertz (Parseval)."""
    grid = np.geomspace(NOISE_FROM, controls.half_rate, NOISE_POINTS)
    _, rate = controls.drawn(grid)
    passed = np.abs(rate / (1 + plants(found, grid, by) * rate)) ** 2
    return np.asarray(np.sqrt(np.trapezoid(passed, grid, axis=1)))
