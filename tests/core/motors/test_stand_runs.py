"""Runs on a thrust stand: made ones, and 208 real ones."""

from __future__ import annotations

import numpy as np
import pytest

from asflown.core.motors.stand import stand_run


def test_a_made_run_is_read_back():
    command = np.linspace(0.05, 1, 11)
    speed = 300 * np.sqrt(command**1.4)
    thrust = 3e-5 * speed**2
    current = 10 * command**1.5
    found = stand_run(command, thrust, speed, 11.1 - 0.03 * current, current)
    assert found.coefficient.value == pytest.approx(3e-5)
    assert found.exponent.value == pytest.approx(1.4)
    assert found.explained == pytest.approx(1.0)
    assert not found.limited.any()
    folded = 11.1 - 0.03 * current
    folded[-2:] = (9.4, 8.3)
    assert stand_run(command, thrust, speed, folded, current).limited.tolist() == [False] * 9 + [True] * 2
    assert "fewer than 5" in stand_run(command, thrust, 0 * speed, folded, current).coefficient.reason


def test_two_hundred_real_runs(shared):
    """github.com/StrawsonDesign/motor_propeller_testing, rawdata (MIT).

    Its ABOUT states thrust = c speed^2 with R2 median 0.998, 10th percentile 0.997, and that runs of supply 11
    fold back at full throttle.
    """
    polars = pytest.importorskip("polars")
    table = polars.read_parquet(shared / "data" / "motor_prop_stand" / "runs.parquet")
    explained, exponents, folds, torn = [], [], {"7": 0, "11": 0}, 0
    runs = table.partition_by(["group", "index", "supply_code"], maintain_order=True, as_dict=True)
    for (_, _, supply), run in runs.items():
        thrust, volt, amp = (run[c].to_numpy() for c in ("thrust_gf", "voltage_V", "current_A"))
        command, speed = (run["esc_us"].to_numpy() - 1000) / 1000, run["rpm_elec"].to_numpy() / 60
        found = stand_run(command, thrust, speed, volt, amp)
        if found.explained is not None:
            explained.append(found.explained)
        if found.exponent.value is not None:
            exponents.append(found.exponent.value)
        folds[supply] += bool(found.limited.any())
        if thrust[-1] < 0.95 * thrust.max():
            torn += 1
            if volt[-1] < 0.9 * volt.max():
                assert found.limited[-1]
    assert len(runs) == 208
    assert np.median(explained) == pytest.approx(0.998, abs=0.001)
    assert np.percentile(explained, 10) == pytest.approx(0.997, abs=0.002)
    assert folds["11"] > folds["7"]
    assert folds["11"] >= torn > 0
    # These controllers' thrust goes with about the 1.3rd power of the pulse width: neither 1 nor 2.
    assert 1.0 < np.median(exponents) < 1.6
    print(
        len(exponents),
        np.percentile(exponents, [5, 50, 95]),
        folds,
        torn,
        np.percentile(explained, [0, 10, 50]),
    )
