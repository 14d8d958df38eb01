"""How often the accelerometer's 95 % intervals hold the truth.

``python tools/calibrate/count_accelerometers.py [RUNS]`` writes benchmarks/results/accelerometer.json.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import numpy as np
from accel_truth import GRAVITY, by_hand, general, on_block

from asflown.core.calibrate.accelerometer import Case, accelerometer_fit
from asflown.core.calibrate.gravity import Gravity

KNOWN = Gravity(GRAVITY, 0.0)
PLACE = Path(__file__).resolve().parents[2] / "benchmarks" / "results" / "accelerometer.json"


def held(found, truth):
    return [one.low <= t <= one.high for one, t in zip(found, truth, strict=True)]


def hands(seed):
    rests, offset, scale = by_hand(seed)
    fit = accelerometer_fit(rests, KNOWN)
    assert fit.case is Case.SIX
    return {"offset": held(fit.offset, offset), "scale": held(fit.scale, scale)}, fit, offset


def anywhere(seed):
    rests, offset, scale, skew = general(seed)
    fit = accelerometer_fit(rests, KNOWN)
    assert fit.case is Case.GENERAL, fit.rank
    said = {"offset": held(fit.offset, offset), "scale": held(fit.scale, scale), "skew": held(fit.skew, skew)}
    return said, fit, offset


def block(seed):
    rests, offset, gain = on_block(seed)
    fit = accelerometer_fit(rests, KNOWN, math.radians(0.1))
    across = [(fit.cross[i][j], gain[i, j]) for i in range(3) for j in range(3) if i != j]
    said = {
        "offset": held(fit.offset, offset),
        "scale": held(fit.scale, np.diag(gain)),
        "cross": held(*zip(*across, strict=True)),
    }
    return said, fit, offset


def counted(case, runs) -> dict[str, object]:
    """Share of intervals that hold the truth, by number; the median half-width of the offsets, m/s2."""
    found: dict[str, list[bool]] = {}
    halves, errors = [], []
    for seed in range(runs):
        said, fit, offset = case(seed)
        for name, are in said.items():
            found.setdefault(name, []).extend(are)
        halves += [one.high - one.value for one in fit.offset]
        errors += [abs(one.value - t) for one, t in zip(fit.offset, offset, strict=True)]
    shares = {name: round(float(np.mean(are)), 4) for name, are in found.items()}
    return {
        "runs": runs,
        "held": shares,
        "offset_half_width_median": round(float(np.median(halves)), 5),
        "offset_error_median": round(float(np.median(errors)), 5),
    }


CASES = {"six sides by hand": hands, "general positions": anywhere, "square block": block}


def main(runs: int) -> None:
    made = {name: counted(case, runs) for name, case in CASES.items()}
    text = json.dumps(made, indent=1) + "\n"
    PLACE.write_text(text)
    print(text)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
