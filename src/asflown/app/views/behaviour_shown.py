"""What settings amount to, as a sheet and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from asflown.app.behaviour import Shown
from asflown.app.views.sheet import Sheet, Table
from asflown.app.views.statements_shown import not_stated_notes, statements_json, statements_table
from asflown.app.views.stick_shown import stick_table, sticks_json

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asflown.core.behaviour.amounts import Amounts, Change

#: Hz at which the answers are shown.
SHOWN_AT = (1.0, 3.0, 10.0, 30.0, 100.0)
#: Noise of a gyro that the passed noise is told for, deg/s in each root hertz; as many small gyros' sheets
#: state. Common practice, no source.
GYRO = 0.01


def behaviour_sheet(shown: Shown) -> Sheet:
    """How firmly the controllers answer, what the stick asks for, and what the safety settings say."""
    side = shown.side
    curves = side.sticks.curves
    return Sheet(
        title="What the settings amount to",
        head=(
            ("aircraft", side.aircraft),
            ("refit" if side.is_plan else "record", side.called),
            ("release", side.release or "not stated"),
        ),
        sentence=_sentence(shown),
        tables=(
            *((_loop_table(shown.axes),) if shown.axes else ()),
            *((stick_table(curves),) if curves else ()),
            *statements_table(shown.statements),
        ),
        notes=(
            *reasons_said(shown.reasons),
            *remarks_said(shown.axes),
            *reasons_said(side.sticks.reasons, "the stick in "),
            *not_stated_notes(shown.statements),
        ),
        next_act=(f"compare with another record: asflown behaviour compare {side.id} RECORD",),
    )


def _sentence(shown: Shown) -> str:
    known = "Known" if shown.axes else "Not known"
    controllers = f"{known}: the controllers of the turning rates"
    controllers += f" of {', '.join(shown.axes)}." if shown.axes else "."
    curves = shown.side.sticks.curves
    known = "Known" if curves else "Not known"
    stick = f"{known}: what the stick asks for" + (f" in {', '.join(curves)}." if curves else ".")
    stated = sum(one.is_stated for one in shown.statements)
    return f"{controllers} {stick} Stated on radio, arming and battery: {stated or 'nothing'}."


def _loop_table(axes: Mapping[str, Amounts]) -> Table:
    rows = []
    for frequency in SHOWN_AT:
        gains, phases = zip(*(_answer(one, frequency) for one in axes.values()), strict=True)
        rows.append((f"answer to the rate at {frequency:g} Hz", *gains, "% drive for 100 deg/s"))
        rows.append(("  its phase", *phases, "deg"))
    noise = (f"{100 * one.noise * math.radians(GYRO):.3g}" for one in axes.values())
    rows.append((f"motors' noise from a gyro of {GYRO:g} deg/s/√Hz", *noise, "% drive"))
    return Table(("", *(f"{axis}#" for axis in axes), "unit"), tuple(rows), title="Rate loop")


def behaviour_json(shown: Shown) -> dict[str, Any]:
    """What settings amount to as JSON: responses in SI, drive 1 per rad/s; the stick in rad/s."""
    side = shown.side
    return {
        "aircraft": side.aircraft,
        "record": None if side.is_plan else side.id,
        "refit": side.id if side.is_plan else None,
        "release": side.release,
        "axes": {
            axis: {
                "loop_rate": one.loop_rate,
                "noise": one.noise,
                "frequency": one.frequencies.tolist(),
                "command": _curve(one.command),
                "rate": _curve(one.rate),
                "remarks": list(one.remarks),
            }
            for axis, one in shown.axes.items()
        },
        "reasons": dict(shown.reasons),
        "stick": sticks_json(side.sticks),
        "stick_reasons": dict(side.sticks.reasons),
        "statements": statements_json(shown.statements),
    }


def _answer(one: Amounts, frequency: float) -> tuple[str, str]:
    along = np.log(one.frequencies)
    gain = float(np.interp(math.log(frequency), along, np.abs(one.rate)))
    phase = float(np.interp(math.log(frequency), along, np.unwrap(np.angle(one.rate))))
    return f"{100 * gain * math.radians(100.0):.3g}", f"{math.degrees(phase):.0f}"


def _curve(values: Any) -> dict[str, list[float]]:
    return {"gain": np.abs(values).tolist(), "phase": np.unwrap(np.angle(values)).tolist()}


def reasons_said(reasons: Mapping[str, str], of: str = "") -> tuple[str, ...]:
    """Why axes are not known; said once where it is the same for all."""
    told = dict(reasons)
    if len(reasons) > 1 and len(set(reasons.values())) == 1:
        told = {", ".join(reasons): next(iter(reasons.values()))}
    return tuple(f"{f'{of}{axis}'.capitalize()}: {reason}." for axis, reason in told.items())


def remarks_said(axes: Mapping[str, Amounts] | Mapping[str, Change]) -> tuple[str, ...]:
    """What is in no response, each thing once."""
    return tuple(dict.fromkeys(f"{remark.capitalize()}." for one in axes.values() for remark in one.remarks))
