"""The stick's curve, and what changes in it, as tables, sentences and JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from asflown.app.views.sheet import Table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asflown.app.behaviour_sides import Sticks
    from asflown.core.behaviour.stick_shape import KnownStick, StickChange

#: Deflections that the JSON gives a curve at.
_DRAWN = tuple(round(-1.0 + 0.05 * place, 2) for place in range(41))
_UNIT = "deg/s"


def stick_table(curves: Mapping[str, KnownStick]) -> Table:
    """The rate that the stick commands in each axis."""
    from asflown.core.behaviour.stick_shape import PLACES

    rates = {axis: np.degrees(curve.rate(PLACES)) for axis, curve in curves.items()}
    rows = [
        (f"at {place:.0%} stick".replace("%", " %"), *(_rate(one[n]) for one in rates.values()), _UNIT)
        for n, place in enumerate(PLACES)
    ]
    rows.append(("dead band", *(_band(curve) for curve in curves.values()), "% of the way"))
    return Table(("", *(f"{axis}#" for axis in curves), "unit"), tuple(rows), title="What the stick asks for")


def stick_change_table(changes: Mapping[str, StickChange]) -> Table:
    """The commanded rates before and after, axis by axis, and the largest difference."""
    from asflown.core.behaviour.stick_shape import PLACES

    places = (f"at {place:.0%}#".replace("%", " %") for place in PLACES)
    rows: list[tuple[str, ...]] = []
    for axis, change in changes.items():
        word = "as before" if change.is_none else "before"
        before = (_rate(math.degrees(one)) for one in change.before)
        rows.append((axis, word, *before, "none" if change.is_none else ""))
        if not change.is_none:
            after = (_rate(math.degrees(one)) for one in change.after)
            rows.append(("", "after", *after, _largest(change)))
    return Table(
        ("axis", "", *places, "largest difference"),
        tuple(rows),
        title="What the stick asks for, deg/s",
    )


def stick_said(changes: Mapping[str, StickChange]) -> tuple[str, ...]:
    """A sentence for each axis that changes, and one for those that do not."""
    told = [_said(change) for change in changes.values() if not change.is_none]
    same = [axis for axis, change in changes.items() if change.is_none]
    if same:
        told.append(f"The stick asks for the same in {_listed(same)}.")
    return tuple(told)


def sticks_json(sticks: Sticks) -> dict[str, Any]:
    """Curves as JSON: rad/s over the deflection, shares of 1."""
    return {
        axis: {
            "form": str(curve.form),
            "dead_band": curve.numbers.get("dead_band", 0.0),
            "deflection": list(_DRAWN),
            "rate": curve.rate(_DRAWN).tolist(),
        }
        for axis, curve in sticks.curves.items()
    }


def stick_changes_json(changes: Mapping[str, StickChange]) -> dict[str, Any]:
    """What changes as JSON: rad/s, and at which deflection."""
    from asflown.core.behaviour.stick_shape import PLACES

    return {
        axis: {
            "largest": change.largest,
            "deflection": change.deflection,
            "at": list(PLACES),
            "before": list(change.before),
            "after": list(change.after),
        }
        for axis, change in changes.items()
    }


def _said(change: StickChange) -> str:
    """Say the largest difference: ``At 62 % stick roll asks for 38 deg/s more.``."""
    side = " to the other side" if change.deflection < 0 else ""
    more = change.largest if change.deflection >= 0 else -change.largest
    word = "more" if more > 0 else "less"
    rate = f"{math.degrees(abs(more)):.3g} {_UNIT} {word}"
    return f"At {_percent(change.deflection)} stick{side} {change.axis} asks for {rate}."


def _largest(change: StickChange) -> str:
    more = change.largest if change.deflection >= 0 else -change.largest
    side = ", other side" if change.deflection < 0 else ""
    return f"{math.degrees(more):+.1f} at {_percent(change.deflection)}{side}"


def _percent(deflection: float) -> str:
    return f"{abs(100.0 * deflection):.0f} %"


def _rate(degrees: float) -> str:
    return f"{degrees:.1f}"


def _band(curve: KnownStick) -> str:
    band = 100.0 * curve.numbers.get("dead_band", 0.0)
    return f"{band:.1f}" if band else "none"


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
