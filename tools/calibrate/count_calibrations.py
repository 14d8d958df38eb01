"""How often the 95 % intervals of the calibrations hold the truth.

``python tools/calibrate/count_calibrations.py [RUNS]`` writes benchmarks/results/calibrations.json.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np
from accel_truth import GRAVITY, RATE, by_hand, general, on_block
from other_truth import level, still, turned, warming

from asflown.core.calibrate.accelerometer import Case, accelerometer_fit
from asflown.core.calibrate.gravity import Gravity
from asflown.core.calibrate.level import level_trim
from asflown.core.calibrate.magnetometer import ellipsoid_fit
from asflown.core.calibrate.temperature import temperature_slopes
from asflown.core.measured import Measured
from asflown.core.signal.mean_error import means_of, student

KNOWN = Gravity(GRAVITY, 0.0)
PLACE = Path(__file__).resolve().parents[2] / "benchmarks" / "results" / "calibrations.json"


def hands(seed):
    rests, offset, scale = by_hand(seed)
    fit = accelerometer_fit(rests, KNOWN)
    assert fit.case is Case.SIX
    return {"offset": (fit.offset, offset), "scale": (fit.scale, scale)}


def anywhere(seed):
    rests, offset, scale, skew = general(seed)
    fit = accelerometer_fit(rests, KNOWN)
    assert fit.case is Case.GENERAL, fit.rank
    return {"offset": (fit.offset, offset), "scale": (fit.scale, scale), "skew": (fit.skew, skew)}


def block(seed):
    rests, offset, gain = on_block(seed)
    fit = accelerometer_fit(rests, KNOWN, math.radians(0.1))
    across = [(fit.cross[i][j], gain[i, j]) for i in range(3) for j in range(3) if i != j]
    return {
        "offset": (fit.offset, offset),
        "scale": (fit.scale, np.diag(gain)),
        "cross": tuple(zip(*across, strict=True)),
    }


def half_turn(seed):
    (first, second), trim = level(seed)
    found = level_trim(first, second, RATE)
    return {"trim": ((found.roll, found.pitch), trim)}


def gyro(seed):
    rates, bias = still(seed)
    means = means_of(rates, rates.shape[1] / RATE)
    return {"bias": ([means.measured(axis, "rad/s", "") for axis in range(3)], bias)}


def warm(seed):
    rates, temperature, slope = warming(seed)
    return {"slope": (temperature_slopes(rates, temperature, RATE), slope)}


def compass(seed):
    readings, iron = turned(seed)
    fit = ellipsoid_fit(readings)
    half = student(len(readings) - 9) * fit.error
    found = [
        Measured(float(c), float(c - h), float(c + h), "uT", "")
        for c, h in zip(fit.centre, half, strict=True)
    ]
    return {"hard iron": (found, iron)}


def counted(case, runs) -> dict[str, object]:
    """By number: the share of its intervals that hold the truth, the median half-width and error."""
    held: dict[str, list[bool]] = {}
    halves: dict[str, list[float]] = {}
    errors: dict[str, list[float]] = {}
    for seed in range(runs):
        for name, (found, truth) in case(seed).items():
            for one, true in zip(found, truth, strict=True):
                held.setdefault(name, []).append(bool(one.low <= true <= one.high))
                halves.setdefault(name, []).append(one.high - one.value)
                errors.setdefault(name, []).append(abs(one.value - true))
    return {
        "runs": runs,
        "held": {name: round(float(np.mean(are)), 4) for name, are in held.items()},
        "half_width_median": {name: float(f"{np.median(are):.3g}") for name, are in halves.items()},
        "error_median": {name: float(f"{np.median(are):.3g}") for name, are in errors.items()},
    }


CASES = {
    "accelerometer, six sides by hand": hands,
    "accelerometer, general positions": anywhere,
    "accelerometer, square block": block,
    "level, half turn": half_turn,
    "gyro, 15 s at rest": gyro,
    "gyro, warming for 120 s": warm,
    "magnetometer, turned": compass,
}


def main(runs: int) -> None:
    made = {name: counted(case, runs) for name, case in CASES.items()}
    text = json.dumps(made, indent=1) + "\n"
    PLACE.write_text(text)
    print(text)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
