"""Evidence made of measured numbers, and the list of quantities it is made by."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.study.make import COVERAGE, Study, collected, evidence_of
from asflown.core.study.quantities import METHODS, QUANTITIES, quantity
from asflown.core.study.quantity import PLACES

SOURCE = "ab" * 32
EXAMPLES = {"{axis}": "roll", "{route}": "model_free", "{xyz}": "x", "{n}": "3", "{order}": "order_2"}


def example(name: str) -> str:
    for place, word in EXAMPLES.items():
        name = name.replace(place, word)
    return name


def test_the_six_that_are_promised_are_there_for_every_axis():
    wanted = ("bandwidth", "phase_delay", "crossover", "gain_margin", "phase_margin", "peak_sensitivity")
    units = {"Hz", "s", "dB", "deg", "1"}
    for axis in ("roll", "pitch", "yaw"):
        assert {quantity(f"axes.{axis}.{name}").unit for name in wanted} <= units


@pytest.mark.parametrize("one", QUANTITIES, ids=lambda one: one.name)
def test_a_quantity_is_found_by_its_own_name_and_has_a_method(one):
    assert quantity(example(one.name)) is one
    assert METHODS[one.method].source
    assert one.says
    assert not one.says.endswith(".")
    assert set(re.findall(r"\{\w+\}", one.name)) <= set(PLACES)


@pytest.mark.parametrize("name", ["axes.bank.bandwidth", "axes.roll.bandwith", "motors.each.0.offset", ""])
def test_what_is_no_quantity_is_refused(name):
    with pytest.raises(ValueError, match="no quantity"):
        quantity(name)


def test_titles_name_what_they_are_of():
    assert quantity("axes.yaw.crossover").titled("axes.yaw.crossover") == "crossover, yaw"
    name = "vibration.rotors.4.order_1.rate"
    assert quantity(name).titled(name) == "rotor 4, order 1: rate"


@given(st.floats(0.01, 1e4), st.floats(0, 10), st.floats(0, 10))
def test_a_measured_number_keeps_value_interval_and_everything_said(value, down, up):
    number = Measured(value, value - down, value + up, "Hz", "model-free", caveats=("short",))
    made = evidence_of("axes.roll.bandwidth", number, source=SOURCE, span=Span(2.0, 9.5))
    assert (made.value, made.interval.low, made.interval.high) == (number.value, number.low, number.high)
    assert made.interval.coverage == COVERAGE
    assert (made.unit, made.route, made.caveats, made.span, made.source, made.method) == (
        "Hz",
        "model-free",
        ("short",),
        (2.0, 9.5),
        SOURCE,
        "handling",
    )


def test_the_unit_is_that_of_the_quantity_however_it_is_spelt():
    made = evidence_of("ground.gyro_noise.roll", Measured(2.0, 1.0, 3.0, "rad/s/√Hz"), source=SOURCE)
    assert (made.value, made.interval.low, made.interval.high, made.unit) == (2.0, 1.0, 3.0, "rad/s/rtHz")
    with pytest.raises(ValueError, match="measured in s, stated in deg"):
        evidence_of("axes.roll.phase_margin", Measured(1.0, 1.0, 1.0, "s"), source=SOURCE)


def test_what_was_counted_has_no_spread():
    counted = Measured(0.25, 0.25, 0.25, route="counted")
    assert not evidence_of("motors.saturated_share", counted, source=SOURCE).has_spread
    assert evidence_of("motors.hover", Measured(0.4, 0.39, 0.4), source=SOURCE).has_spread
    assert not evidence_of("motors.hover", unmeasured("too short"), source=SOURCE).has_spread


def test_a_reason_stays_a_reason_and_has_no_span():
    made = evidence_of(
        "axes.yaw.bandwidth", unmeasured("log at 500 Hz or more", "Hz"), source=SOURCE, span=Span(0, 1)
    )
    assert (made.value, made.interval, made.span) == (None, None, None)
    assert made.reason == "log at 500 Hz or more"


def test_nothing_is_measured_twice():
    one = evidence_of("axes.yaw.bandwidth", unmeasured("too short", "Hz"), source=SOURCE)
    two = evidence_of("axes.roll.bandwidth", Measured(2.0, 1.0, 3.0, "Hz"), source=SOURCE)
    study = Study(SOURCE, collected([one, two]))
    assert study.measured == 1
    assert study.of("axes.yaw.bandwidth") is one
    assert study.of("axes.pitch.bandwidth") is None
    with pytest.raises(ValueError, match=r"axes\.yaw\.bandwidth was measured twice"):
        collected([one, one])
