"""The plant of a flight, many times drawn, as another loop will meet it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify.fit import PlantFit
from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.response.axis import draws_of
from asflown.core.identified import Identified

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Steps between sample and motors where a release does not declare them, and how far that may be off.
#: Common practice, no source.
USUAL_STEPS, STEPS_OFF = 1.0, 0.5
_SEED = 20261126


@dataclass(frozen=True, slots=True)
class Later:
    """By how much later the motors get their command in the new loop, s.

    Attributes
    ----------
    spread
        Standard deviation of what is not known about it.
    remark
        What was taken, ``None`` where everything was declared.
    """

    seconds: float = 0.0
    spread: float = 0.0
    remark: str | None = None


def later(before: Controls, after: Controls) -> Later:
    """The change of hold and computing time from one loop to another.

    The hold of a motor command lasts a step of the loop and acts half a step late on average; the plant of a
    flight has the old loop's in it.
    """
    if before.latency is not None and after.latency is not None:
        return Later(after.latency - before.latency)
    if before.loop_rate is None or after.loop_rate is None:
        return Later(
            remark="the loop's rate is not known on both sides: hold and computing time taken as unchanged"
        )
    if before.loop_rate == after.loop_rate:
        return Later()
    step = 1.0 / after.loop_rate - 1.0 / before.loop_rate
    return Later(
        (USUAL_STEPS + 0.5) * step,
        STEPS_OFF * abs(step),
        f"the loop goes from {before.loop_rate:g} to {after.loop_rate:g} Hz and its computing time is not"
        f" declared: {USUAL_STEPS:g} step taken, within {STEPS_OFF:g}",
    )


def plants(found: Identified, frequencies: Float, by: Later | None = None) -> Complex:
    """Rate for measured drive, (1 + draws, nf), rad/s for a drive of 1; the estimate first.

    Parameters
    ----------
    frequencies
        (nf,) Hz, above 0.
    by
        The loop's change; as flown where not given.

    Notes
    -----
    The draws are the same ones at every call, so that what two loops make of one plant is compared draw by
    draw.
    """
    rng = np.random.default_rng(_SEED)
    numbers, covariance = np.asarray(found.plant.numbers), np.asarray(found.plant.covariance)
    count = len(found.taken)
    spread = np.asarray(found.spread, dtype=np.float64).reshape(count, count)
    fit = PlantFit(
        numbers,
        covariance,
        np.zeros(0),
        np.zeros(0, dtype=np.complex128),
        1.0,
        spread,
        np.asarray(found.taken),
    )
    made = fit.response(frequencies, draws_of(numbers, covariance, rng))
    if by is None or (by.seconds == 0.0 and by.spread == 0.0):
        return made
    half = rng.standard_normal((made.shape[0] - 1) // 2)
    delays = by.seconds + by.spread * np.concatenate([[0.0], half, -half])
    return np.asarray(made * np.exp(-2j * np.pi * frequencies * delays[:, None]))
