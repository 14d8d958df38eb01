"""The shown voltage or current against a meter."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from asflown.app import kept
from asflown.app.calibrate.kept import keep, new_id
from asflown.app.workplace import Workplace
from asflown.core.calibrate.kept import Calibration, When
from asflown.core.calibrate.meter import MeterFit, meter_fit
from asflown.errors import UsageError

UNITS = {"voltage": "V", "current": "A"}
#: Share of the reading by which a display may be off and be left as it is (common practice, no source).
GOOD = {"voltage": 0.005, "current": 0.03}


def read_pairs(texts: Sequence[str]) -> tuple[tuple[float, float], ...]:
    """Readings written as SHOWN=TRUE.

    Raises
    ------
    UsageError
        When one is none.
    """
    made = []
    for text in texts:
        shown, sign, true = text.partition("=")
        try:
            pair = (float(shown), float(true))
        except ValueError:
            pair = (math.nan, math.nan)
        if not sign or not all(map(math.isfinite, pair)):
            raise UsageError(
                f"{text!r} is no reading",
                next_step="write what the aircraft shows = what the meter says: 15.92=16.05",
            )
        made.append(pair)
    return tuple(made)


def calibrate_meter(
    work: Workplace,
    aircraft: str,
    what: str,
    readings: tuple[tuple[float, float], ...],
    *,
    error: float | None = None,
    when: When | None = None,
) -> Calibration:
    """Fit a line through the readings, and keep it where ``when`` is said.

    Parameters
    ----------
    error
        Standard error of the meter, in its unit.

    Raises
    ------
    UsageError
        For fewer than two readings, or an aircraft that is not described.
    """
    kept.aircraft(work.store, aircraft)
    if len(readings) < 2:
        raise UsageError(
            "two readings or more are needed", next_step="take one near an empty pack and one near a full one"
        )
    shown, true = np.array(readings).T
    errors = None if error is None else np.full(shown.size, error)
    fit = meter_fit(shown, true, errors, UNITS[what])
    is_fit, why = judged(fit, what, float(np.max(np.abs(true))))
    made = Calibration(
        new_id(work.store, aircraft),
        aircraft,
        what,
        when or When.AS_FOUND,
        work.clock.now(),
        UNITS[what],
        readings,
        {"scale": fit.scale, "offset": fit.offset, "scale alone": fit.scale_alone},
        is_fit,
        why,
    )
    return keep(work, made) if when is not None else made


def judged(fit: MeterFit, what: str, most: float) -> tuple[bool, str]:
    """Whether the readings settle the display, and what they say of it.

    Parameters
    ----------
    most
        The greatest true reading.
    """
    scale, offset = fit.scale, fit.offset
    if scale.value is None or offset.value is None or fit.reach is None:
        return False, scale.reason or "no interval"
    good = 100 * GOOD[what]
    reach = 100 * fit.reach / most
    if reach > 2 * good:
        return False, f"what is true is known to ±{reach:.1f} % alone: take more readings, with care"
    shown = (most - offset.value) / scale.value
    off = 100 * abs(shown - most) / most
    if off <= good:
        return True, f"the display is within {good:g} % at {most:g}: it may stay as it is"
    return True, f"the display is {off:.1f} % off at {most:g}: correct it"
