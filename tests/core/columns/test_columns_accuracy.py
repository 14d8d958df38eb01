"""How many columns a proposal gets right, over made-up headers, units, orders and flights; printed and held.

``pytest -s tests/core/columns/test_columns_accuracy.py`` prints the table.
"""

from __future__ import annotations

import numpy as np
import pytest
from headers_blind import BLIND
from headers_known import KNOWN
from headers_seen import SEEN
from made_up_logs import log_of, read_header
from scoring import Count, score

from asflown.core.columns import propose

FLIGHTS = ((1, 1000.0), (2, 500.0), (3, 2000.0))


def _counted(texts, capsys, title):
    total, lines = Count(), []
    for name, text in texts.items():
        header, count, told = read_header(text), Count(), []
        for seed, rate in FLIGHTS:
            count.add(score(header, propose(log_of(header, seed, rate)), told))
        total.add(count)
        lines += [f"{name[:32]:32} {count.line()}", *(f"    {what}" for what in dict.fromkeys(told))]
    with capsys.disabled():
        print(f"\n{title}: {total.line()}")
    print("\n".join(lines))
    return total


@pytest.mark.parametrize(
    "title, texts, right, wrong",
    [
        ("developed with", KNOWN, 0.98, 0.0),
        ("seen later", SEEN, 0.96, 0.01),
        # At first sight 461 of 537 right (86 %), 3 wrong, 73 left open. Since then: a word that named fields as
        # magnetic, row numbers, and channels of a transmitter were mended.
        ("blind", BLIND, 0.94, 0.005),
    ],
)
def test_columns_are_right_or_left_open(title, texts, right, wrong, capsys):
    total = _counted(texts, capsys, title)
    assert total.right >= right * total.total
    assert total.signal + total.unit <= wrong * total.total
    assert total.taken == 0


@pytest.mark.parametrize("rate_unit", ["rad/s", "deg/s"])
@pytest.mark.parametrize("time_unit", ["s", "ms", "us", "ns"])
@pytest.mark.parametrize(
    "motor_unit, accel_unit, volt_unit",
    [("0..1", "m/s2", "V"), ("%", "g", "mV"), ("us 1000..2000", "mg", "cV")],
)
def test_units_that_no_header_states(rate_unit, time_unit, motor_unit, accel_unit, volt_unit):
    header = read_header(f"""
time : time : {time_unit}
rate_command*3 : roll rate cmd, pitch rate cmd, yaw rate cmd : {rate_unit}
rate*3 : roll rate, pitch rate, yaw rate : {rate_unit}
accel*xyz : acc x, acc y, acc z : {accel_unit}
motor*4 : m1, m2, m3, m4 : {motor_unit}
pack_voltage : vbat : {volt_unit}
""")
    told: list[str] = []
    count = score(header, propose(log_of(header, 4)), told)
    assert count.right == count.total, told


@pytest.mark.parametrize("seed", range(6))
def test_shuffled_columns_with_names_are_found_all_the_same(seed):
    header = read_header(KNOWN["no units, radians"])
    order = np.random.default_rng(seed).permutation(len(header))
    told: list[str] = []
    count = score(header, propose(log_of(header, 5, order=order)), told)
    assert count.right == count.total, told


@pytest.mark.parametrize("seed", range(6))
def test_shuffled_columns_without_names_are_asked_rather_than_guessed(seed):
    header = read_header(KNOWN["letters"])
    order = np.random.default_rng(seed).permutation(len(header))
    layout = propose(log_of(header, 5, order=order))
    by_column = {line.column: line.signal for line in layout.assignments}
    assert by_column["a"] == "time"
    # Which of three alike axes is roll cannot be told without names or order: no axis may be wrong.
    axes = {c: s for c, s in by_column.items() if c in "bcdefg"}
    truth = {c: s for s, c, _, _ in header}
    kinds = {c: s.partition(".")[0] for c, s in axes.items()}
    assert all(kinds[c] == truth[c].partition(".")[0] for c in axes)
    assert axes == {} or all(axes[c] == truth[c] for c in axes) or layout.doubts
    if not axes:
        assert any(doubt.subject == "rate" and "→" in doubt.question for doubt in layout.doubts)
