"""The typed rooms that later parts fill: what they refuse, and a flash map against a published table."""

from __future__ import annotations

import pytest

from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.core.evidence import Evidence, Interval
from asflown.core.hardware import FlashMap, FlashSector, HardwareNeed, NeedKind
from asflown.figures.figure import Axis, Series

KIB = 1024


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


def test_a_flash_map_adds_up_as_the_reference_manual_has_it():
    """STM32F407xG: 4 x 16K + 1 x 64K + 7 x 128K, last end 0x080FFFFF (ST RM0090 section 3.3, Table 5)."""
    sizes = [16] * 4 + [64] + [128] * 7
    start, sectors = 0x08000000, []
    for size in sizes:
        sectors.append(FlashSector(start, size * KIB))
        start += size * KIB
    made = FlashMap("STM32F407xG", tuple(sectors), "ST RM0090 Table 5")
    assert made.size == 1024 * KIB
    assert made.sectors[5].start == 0x08020000
    assert made.sectors[-1].end - 1 == 0x080FFFFF
    with pytest.raises(ValueError, match="overlap"):
        FlashMap("wrong", (FlashSector(0, 32), FlashSector(16, 16)))


def test_the_other_rooms_hold_what_they_are_given():
    block = Block("p", BlockKind.GAIN, ("error",), {"gain": "rate_loop.roll.proportional_gain"})
    assert ControlStructure("roll", (block,), rate_role="rate_loop.rate").blocks == (block,)
    assert HardwareNeed(NeedKind.SERIAL, least_baud=115200).amount == 1
    assert Axis("frequency", "Hz", is_log=True).label == "frequency (Hz)"
    with pytest.raises(ValueError, match="lengths"):
        Series("gain", (1.0, 2.0), (1.0,))
