"""What is counted is what is shown: the counting tool's intervals are those that measuring gives."""

from __future__ import annotations

import sys

import pytest

from asflown.core.behaviour.response import calibration


class Kept(dict):
    """A table that cannot be emptied: measuring calibrates as it does for a person."""

    def clear(self) -> None:
        """Nothing."""


def test_rows_calibrated_afterwards_are_those_measured(monkeypatch, root):
    monkeypatch.setattr(sys, "path", [*sys.path, str(root / "tools" / "flights")])
    import count_intervals

    task = (7_000_001, "quadratic", 20.0, "normal", 1.0)
    whole = dict(calibration.TABLE)
    monkeypatch.setattr(calibration, "TABLE", Kept(whole))
    shown = count_intervals.one_flight(task)
    monkeypatch.setattr(calibration, "TABLE", dict(whole))
    raw = count_intervals.one_flight(task)
    monkeypatch.setattr(calibration, "TABLE", whole)
    assert len(shown) > 40
    for one, other in zip(shown, raw, strict=True):
        if one["value"] is None:
            continue
        made = count_intervals.calibrated(other)
        assert (made["low"], made["high"]) == pytest.approx((one["low"], one["high"]), rel=1e-9, abs=1e-12)
    assert any(one["low"] != other["low"] for one, other in zip(shown, raw, strict=True))
