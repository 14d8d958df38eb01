"""The typed rooms that later parts fill: what they refuse."""

from __future__ import annotations

import pytest

from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.core.evidence import Evidence, Interval
from asflown.figures.figure import Axis, Series


def test_evidence_has_a_value_with_its_interval_or_a_reason():
    Evidence("roll.bandwidth", "Hz", 6.2, Interval(6.0, 6.4, 0.95))
    Evidence("roll.bandwidth", "Hz", reason="log rate 100 Hz; 500 Hz are needed")
    for wrong in (
        {"value": 6.2},
        {"value": 6.2, "interval": Interval(6, 7, 0.95), "reason": "too short"},
        {"value": float("nan"), "interval": Interval(6, 7, 0.95)},
        {},
    ):
        with pytest.raises(ValueError, match=r"roll\.bandwidth"):
            Evidence("roll.bandwidth", "Hz", **wrong)
    with pytest.raises(ValueError, match="low to high"):
        Interval(2, 1, 0.95)
    with pytest.raises(ValueError, match="coverage"):
        Interval(1, 2, 95)


def test_the_other_rooms_hold_what_they_are_given():
    block = Block("p", BlockKind.GAIN, ("error",), {"gain": "rate_loop.roll.proportional_gain"})
    assert ControlStructure("roll", (block,), rate_role="rate_loop.rate").blocks == (block,)
    assert Axis("frequency", "Hz", is_log=True).label == "frequency (Hz)"
    with pytest.raises(ValueError, match="lengths"):
        Series("gain", (1.0, 2.0), (1.0,))
