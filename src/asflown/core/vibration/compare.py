"""Vibration before and after: change of each line in dB, at one rotor speed."""

from __future__ import annotations

import math

from asflown.core.measured import Measured, unmeasured
from asflown.core.vibration.result import RotorLine, Vibration


def change_of(
    before: Measured, after: Measured, shift_db: float = 0.0, caveats: tuple[str, ...] = ()
) -> Measured:
    """Level after over level before, dB; the half-widths of both intervals add in squares."""
    for word, one in (("before", before), ("after", after)):
        if one.value is None:
            return unmeasured(f"{word}: {one.reason}", "dB", one.route)
    assert before.value is not None and before.low is not None and before.high is not None  # noqa: PT018
    assert after.value is not None and after.low is not None and after.high is not None  # noqa: PT018
    value = 20.0 * math.log10(after.value / before.value) + shift_db
    down = math.hypot(math.log10(after.value / after.low), math.log10(before.high / before.value))
    up = math.hypot(math.log10(after.high / after.value), math.log10(before.value / before.low))
    route = before.route if before.route == after.route else f"{before.route} before, {after.route} after"
    return Measured(value, value - 20.0 * down, value + 20.0 * up, "dB", route, None, caveats)


def level_change(before: Vibration, after: Vibration) -> dict[str, Measured]:
    """Change of the level of every line both flights have, at one rotor speed, in dB.

    Returns
    -------
    dict
        By ``order 1 rate``, ``order 1 rate.roll`` …
    """
    out: dict[str, Measured] = {}
    for first in before.lines:
        second = after.line(first.order)
        if second is None:
            continue
        shift = 40.0 * math.log10(first.reference_speed / second.reference_speed)
        caveats = _apart(first, second)
        for name, level in first.at_reference.items():
            if name in second.at_reference:
                out[f"order {first.order:g} {name}"] = change_of(
                    level, second.at_reference[name], shift, caveats
                )
    return out


def _apart(first: RotorLine, second: RotorLine) -> tuple[str, ...]:
    """What limits a comparison at speeds apart from each other."""
    apart = abs(first.frequency - second.frequency) / first.order
    if apart <= 14.0:
        return ()
    return (
        f"mean rotor speeds {apart:.0f} rev/s apart: a resonance between them would look like a change; "
        f"fly both with "
        "the same load and pack",
    )
