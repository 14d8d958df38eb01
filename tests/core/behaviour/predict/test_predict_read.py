"""Predictions with a controller read from a bench log, held against the truth of the aircraft."""

from __future__ import annotations

import importlib
from dataclasses import replace
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from asflown.core.behaviour.from_log.read import ReadController, read_controller
from asflown.core.behaviour.from_log.windows import Rows
from asflown.core.behaviour.predict.controls import Controls, read_controls
from asflown.core.behaviour.predict.predict import predict
from asflown.core.behaviour.predict.result import Stability
from asflown.core.behaviour.response.result import KNOWN
from asflown.core.behaviour.simulate import FilterKind, LoopFilter
from asflown.core.signals import AXES


@pytest.fixture(scope="session")
def bench(tools: Any) -> ModuleType:
    """tools/flights/bench_truth.py: the controller written with scipy.signal alone."""
    return importlib.import_module("bench_truth")


def new_controller(old: Any) -> Any:
    """Softer, with slower filters."""
    return replace(
        old,
        kp=tuple(0.8 * gain for gain in old.kp),
        kd=tuple(1.3 * gain for gain in old.kd),
        gyro_filters=(LoopFilter(FilterKind.ONE_POLE, 90.0),),
        yaw_filters=(),
        d_filters=(LoopFilter(FilterKind.ONE_POLE, 60.0),),
    )


def read(bench: ModuleType, new: Any, axis: str, seed: int = 4, **more: Any) -> ReadController:
    place = AXES.index(axis)
    truth = bench.Truth(
        kp=new.kp[place],
        ki=new.ki[place],
        kd=new.kd[place],
        kf=new.kf[place],
        rate=(1, 90.0),
        derivative=(1, 60.0),
        loop_rate=new.loop_rate,
        **more,
    )
    log = bench.rocked(truth, seed, seconds=30.0, step=new.kp[place] * 2e-3)
    free = np.ones(log.output.size, dtype=bool)
    found = read_controller(
        axis, [Rows(log.rate, log.command, log.response, log.output, free)], loop_rate=new.loop_rate
    )
    assert isinstance(found, ReadController)
    return found


def test_what_is_predicted_from_a_bench_log_is_what_is_true(flown: Any, bench: ModuleType) -> None:
    """The bars of a declared controller (2 %, 2 deg, 0.7 dB), half as much again for reading it."""
    aircraft = flown(1)
    new = new_controller(aircraft.controller)
    before = aircraft.controls(aircraft.controller, "roll")
    made = predict(aircraft.identified["roll"], before, read_controls(read(bench, new, "roll"), 1.0))
    true = aircraft.true(new, "roll")
    figures = made.after.figures
    assert made.after.stability is Stability.STABLE
    assert figures["bandwidth"].value == pytest.approx(true.bandwidth, rel=0.03)
    assert figures["crossover"].value == pytest.approx(true.crossover, rel=0.03)
    assert figures["phase_margin"].value == pytest.approx(true.phase_margin, abs=3.0)
    assert figures["gain_margin"].value == pytest.approx(true.gain_margin, abs=1.0)
    for name in ("bandwidth", "phase_margin", "gain_margin"):
        assert figures[name].low <= getattr(true, name) <= figures[name].high
    assert made.remarks


def test_an_unstable_copy_is_called(flown: Any, bench: ModuleType) -> None:
    aircraft = flown(1)
    old = aircraft.controller
    new = replace(new_controller(old), kp=tuple(9.0 * gain for gain in old.kp))
    before = aircraft.controls(old, "roll")
    assert not aircraft.holds(new)
    made = predict(aircraft.identified["roll"], before, read_controls(read(bench, new, "roll"), 1.0))
    assert made.after.stability is not Stability.STABLE


def test_what_is_not_of_the_family_is_refused(flown: Any, bench: ModuleType) -> None:
    new = new_controller(flown(1).controller)
    found = read(bench, new, "roll", notch=(40.0, 2.0))
    with pytest.raises(ValueError, match="not of the family"):
        read_controls(found, 1.0)


def test_the_scale_multiplies_both_responses(flown: Any, bench: ModuleType) -> None:
    found = read(bench, new_controller(flown(1).controller), "roll")
    at = np.array([1.0, 10.0, 60.0])
    one, two = read_controls(found, 1.0), read_controls(found, 2.0)
    assert one.route == KNOWN
    for a, b in zip(one.drawn(at), two.drawn(at), strict=True):
        np.testing.assert_allclose(b, 2.0 * a)


def test_a_controller_comes_from_one_place(flown: Any, bench: ModuleType) -> None:
    found = read(bench, new_controller(flown(1).controller), "roll")
    with pytest.raises(ValueError, match="one of them"):
        Controls(read=found, declared=flown(1).controls(flown(1).controller, "roll").declared)
