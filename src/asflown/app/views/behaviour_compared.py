"""What changes from one set of settings to another, as a sheet and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from asflown.app.views.behaviour_shown import reasons_said, remarks_said
from asflown.app.views.sheet import Sheet, Table
from asflown.app.views.statements_shown import (
    changes_json,
    moved_table,
    neither_notes,
    safety_warnings,
    same_table,
    statements_said,
)
from asflown.app.views.stick_shown import stick_change_table, stick_changes_json, stick_said
from asflown.core.behaviour.amounts import SLIGHT, SLIGHT_DELAY

if TYPE_CHECKING:
    from asflown.app.behaviour import Compared
    from asflown.app.behaviour_sides import Side
    from asflown.core.behaviour.amounts import Change, Largest


def compared_behaviour_sheet(compared: Compared) -> Sheet:
    """What changes, what touches safety first, in words and in tables."""
    first, second = compared.first, compared.second
    controllers = tuple(_said(change) for change in compared.axes.values()) or (
        "Rate loop: no axis is known on both sides.",
    )
    sticks = stick_said(compared.sticks) or ("The stick's curve is not known on both sides.",)
    return Sheet(
        title="What changes",
        head=(
            ("aircraft", ", ".join(dict.fromkeys((first.aircraft, second.aircraft)))),
            ("before", _side(first)),
            ("after", _side(second)),
        ),
        sentence=" ".join((statements_said(compared.statements), *controllers, *sticks)),
        warnings=safety_warnings(compared.statements),
        tables=(
            *moved_table(compared.statements),
            *((_loop_table(compared),) if compared.axes else ()),
            *((stick_change_table(compared.sticks),) if compared.sticks else ()),
            *same_table(compared.statements),
        ),
        notes=_notes(compared),
        next_act=(_next(second),),
    )


def compared_behaviour_json(compared: Compared) -> dict[str, Any]:
    """What changes, as JSON: ratios after over before, dB, Hz, s, rad/s."""
    return {
        "first": _side_json(compared.first),
        "second": _side_json(compared.second),
        "same": compared.is_same,
        "axes": {
            axis: {
                "at": change.at,
                "measured_in": compared.measured.get(axis),
                "firmness": change.firmness,
                "delay": change.delay,
                "rate": _largest(change.rate),
                "command": _largest(change.command),
                "noise": change.noise,
                "passed": _largest(change.passed),
            }
            for axis, change in compared.axes.items()
        },
        "reasons": dict(compared.reasons),
        "stick": stick_changes_json(compared.sticks),
        "stick_reasons": dict(compared.stick_reasons),
        "statements": changes_json(compared.statements),
    }


_COLUMNS = (
    "Firmness: answer to the rate, after over before. Later: how much later it comes. To the rate, to the"
    " command: largest change between 0.5 and 25 Hz. Noise: what white gyro noise does to the motors, after"
    " over before; passed: the largest change above 60 Hz."
)


def _side(side: Side) -> str:
    return f"{side.called}, {side.release or 'release not stated'}"


def _side_json(side: Side) -> dict[str, Any]:
    key = "refit" if side.is_plan else "record"
    return {"record": None, "refit": None, key: side.id, "release": side.release}


def _next(side: Side) -> str:
    if side.is_plan:
        return f"see how it would fly: asflown predict {side.aircraft}"
    return f"look at one: asflown behaviour show {side.id}"


def _notes(compared: Compared) -> tuple[str, ...]:
    return (
        *reasons_said(compared.reasons),
        *remarks_said(compared.axes),
        *((*_where(compared), _COLUMNS) if compared.axes else ()),
        *reasons_said(compared.stick_reasons, "the stick in "),
        *neither_notes(compared.statements),
    )


def _loop_table(compared: Compared) -> Table:
    columns = (
        "axis",
        "at Hz#",
        "firmness#",
        "later ms#",
        "to the rate",
        "to the command",
        "noise#",
        "passed",
    )
    return Table(columns, tuple(_row(change) for change in compared.axes.values()), title="Rate loop")


def _largest(one: Largest) -> dict[str, float]:
    return {"decibels": one.decibels, "frequency": one.frequency}


def _where(compared: Compared) -> tuple[str, ...]:
    flights: dict[str, list[str]] = {}
    for axis, flight in compared.measured.items():
        flights.setdefault(flight, []).append(axis)
    told = [f"{', '.join(axes)} at the crossover measured in {flight}" for flight, axes in flights.items()]
    left = ", ".join(axis for axis in compared.axes if axis not in compared.measured)
    if left and compared.is_stated:
        told.append(f"{left} at the frequency stated")
    elif left:
        told.append(f"{left} at a usual crossover, as none was measured (--at says another)")
    return (f"Compared: {'; '.join(told)}.",)


def _row(change: Change) -> tuple[str, ...]:
    return (
        change.axis,
        f"{_short(change.at)}",
        f"{change.firmness:.3f}",
        f"{round(1e3 * change.delay, 2) or 0.0:.2f}",
        _in_words(change.rate),
        _in_words(change.command),
        f"{change.noise:.3f}",
        _in_words(change.passed),
    )


def _short(frequency: float) -> str:
    """Three digits that count, never as a power of ten."""
    return f"{float(f'{frequency:.3g}'):g}"


def _in_words(one: Largest) -> str:
    if abs(one.decibels) < SLIGHT:
        return "none"
    return f"{one.decibels:+.1f} dB at {_short(one.frequency)} Hz"


def _said(change: Change) -> str:
    """One sentence of an axis."""
    axis = change.axis.capitalize()
    if change.is_none:
        return f"{axis}: nothing changes."
    parts = []
    if abs(20 * math.log10(change.firmness)) >= SLIGHT:
        word = "firmer" if change.firmness > 1 else "softer"
        parts.append(f"{word} by {abs(change.firmness - 1):.1%} at {_short(change.at)} Hz")
    if abs(change.delay) >= SLIGHT_DELAY:
        parts.append(f"{abs(1e3 * change.delay):.2f} ms {'later' if change.delay > 0 else 'sooner'} there")
    if abs(change.command.decibels) >= SLIGHT:
        parts.append(f"answers the stick by {_in_words(change.command)}")
    if abs(change.passed.decibels) >= SLIGHT:
        times = 10 ** (change.passed.decibels / 20)
        parts.append(f"passes {times:.2g} times the noise at {_short(change.passed.frequency)} Hz")
    if not parts:
        parts.append(f"answers the rate by {_in_words(change.rate)}, noise times {change.noise:.3f}")
    return f"{axis}: {', '.join(parts)}."
