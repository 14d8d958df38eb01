"""How often the intervals of a controller read from a bench log hold the truth, and how often a wrong family
is told.

``python tools/flights/count_read.py --first 1000 --out benchmarks/results/from_log.json`` draws controllers
(gains and filters at random), runs them with scipy.signal alone on hand-rocked logs (:mod:`bench_truth`),
reads them and counts. Bounds are the exact binomial ones (Clopper-Pearson).
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import bench_truth
from bench_truth import Truth

from asflown.core.behaviour.from_log.read import ReadController, read_controller
from asflown.core.behaviour.from_log.windows import Rows

LOOP = 4000.0
SECONDS = 40.0
#: Hz at which responses are compared.
AT = np.array([1.0, 3.0, 10.0, 25.0, 50.0])
NAMES = {"proportional": "kp", "integral": "ki", "derivative": "kd", "feed_forward": "kf"}


def drawn(seed: int) -> Truth:
    """A controller of the family."""
    random = np.random.default_rng((seed, 77))
    kp = float(np.exp(random.uniform(np.log(0.02), np.log(0.3))))
    return Truth(
        kp=kp,
        ki=kp * float(random.uniform(1.0, 4.0)),
        kd=kp * float(random.uniform(0.008, 0.03)),
        kf=kp * float(random.uniform(0.0, 0.03)),
        rate=(int(random.integers(1, 3)), float(random.uniform(70.0, 220.0))),
        derivative=(int(random.integers(1, 3)), float(random.uniform(50.0, 130.0))),
    )


def other(kind: str, seed: int) -> Truth:
    """A controller that is not of the family."""
    one, random = drawn(seed), np.random.default_rng((seed, 78))
    if kind == "notch within":
        return Truth(
            **vars(one) | {"notch": (float(random.uniform(25.0, 50.0)), float(random.uniform(1.5, 4.0)))}
        )
    if kind == "notch beyond":
        return Truth(**vars(one) | {"notch": (float(random.uniform(150.0, 250.0)), 4.0)})
    return Truth(**vars(one) | {"lead": float(random.uniform(0.006, 0.02))})


def read(truth: Truth, seed: int, loop_rate: float | None) -> ReadController | str:
    log = bench_truth.rocked(truth, seed, seconds=SECONDS, step=truth.kp * 2e-3)
    free = np.ones(log.output.size, dtype=bool)
    return read_controller(
        "roll", [Rows(log.rate, log.command, log.response, log.output, free)], loop_rate=loop_rate
    )


def compared(truth: Truth, found: ReadController) -> dict[str, bool]:
    """By figure, whether its interval holds the truth."""
    wanted = {name: float(getattr(truth, word)) for name, word in NAMES.items()}
    for name, (order, cutoff) in (("rate", truth.rate), ("derivative", truth.derivative)):
        if getattr(found.best.variant, name) == order:
            wanted[f"{name}_cutoff"] = bench_truth.half_power(cutoff, LOOP) if order == 1 else cutoff
    made = {}
    for name, value in wanted.items():
        figure = found.figures[name]
        if figure.value is not None and figure.low is not None and figure.high is not None:
            made[name] = figure.low <= value <= figure.high
    return made | _responses(truth, found)


def _responses(truth: Truth, found: ReadController) -> dict[str, bool]:
    made = {}
    for side, true, rows in zip(
        ("command", "rate"), bench_truth.responses(truth, AT), found.drawn(AT), strict=True
    ):
        ratio = np.log(rows / true)
        for part, values in (("gain", ratio.real), ("phase", ratio.imag)):
            low, high = np.percentile(values[1:], [2.5, 97.5], axis=0)
            for f, a, b in zip(AT, low, high, strict=True):
                made[f"{side} {part} {f:g} Hz"] = bool(a <= 0.0 <= b)
    return made


def counted(first: int, count: int, loop_rate: float | None) -> dict[str, Any]:
    """Coverage over seeds."""
    held: dict[str, list[bool]] = defaultdict(list)
    errors: list[np.ndarray] = []
    kinds = alarms = 0
    for seed in range(first, first + count):
        truth = drawn(seed)
        found = read(truth, seed, loop_rate)
        assert isinstance(found, ReadController), found
        alarms += not found.check.holds
        kinds += any(
            (one.variant.rate, one.variant.derivative) == (truth.rate[0], truth.derivative[0])
            for one in found.fits
        )
        for name, inside in compared(truth, found).items():
            held[name].append(inside)
        errors.append(np.abs(found.response(AT)[1] / bench_truth.responses(truth, AT)[1] - 1))
    return {
        "logs": count,
        "loop_rate_stated": loop_rate is not None,
        "called_not_of_the_family": _rate(alarms, count),
        "true_orders_among_the_likely": _rate(kinds, count),
        "error_of_the_answer_to_the_rate": {
            f"{f:g} Hz": {"median": float(m), "95 %": float(p)}
            for f, m, p in zip(AT, np.median(errors, axis=0), np.percentile(errors, 95, axis=0), strict=True)
        },
        "coverage": {name: _rate(sum(inside), len(inside)) for name, inside in held.items()},
    }


def told(first: int, count: int, kind: str) -> dict[str, Any]:
    """How often a controller that is not of the family is called so, or its answer is near enough."""
    called = near = 0
    for seed in range(first, first + count):
        truth = other(kind, seed)
        found = read(truth, seed, LOOP)
        called += isinstance(found, str) or not found.check.holds
        if isinstance(found, ReadController) and found.check.holds and not truth.lead:
            inside = found.highest >= AT
            true = bench_truth.responses(truth, AT)[1]
            near += bool(np.all(np.abs(found.response(AT)[1] / true - 1)[inside] < 0.03))
    return {"logs": count, "called": _rate(called, count), "not called, within 3 % where told": near}


def _rate(hits: int, count: int) -> dict[str, float]:
    from scipy.stats import beta

    low = 0.0 if hits == 0 else float(beta.ppf(0.025, hits, count - hits + 1))
    high = 1.0 if hits == count else float(beta.ppf(0.975, hits + 1, count - hits))
    return {"share": hits / count if count else math.nan, "of": count, "low": low, "high": high}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--logs", type=int, default=240)
    parser.add_argument("--out", type=Path)
    words = parser.parse_args()
    start = time.time()
    made: dict[str, Any] = {"first_seed": words.first, "seconds": SECONDS, "rows_per_second": 1000.0}
    made["stated"] = counted(words.first, words.logs, LOOP)
    made["not_stated"] = counted(words.first + 5000, words.logs // 2, None)
    made["others"] = {
        kind: told(words.first + 9000, words.logs // 4, kind)
        for kind in ("notch within", "notch beyond", "lead")
    }
    text = json.dumps(made, indent=1)
    if words.out is not None:
        words.out.write_text(text + "\n")
    print(text)
    print(f"{time.time() - start:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
