"""What settings amount to in the rate loop, as sheets and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from asflown.app.behaviour import Compared, Shown
from asflown.app.views.sheet import Sheet, Table
from asflown.core.behaviour.amounts import SLIGHT, SLIGHT_DELAY

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asflown.core.behaviour.amounts import Amounts, Change, Largest

#: Hz at which the answers are shown.
SHOWN_AT = (1.0, 3.0, 10.0, 30.0, 100.0)
#: Noise of a gyro that the passed noise is told for, deg/s in each root hertz; as many small gyros' sheets
#: state. Common practice, no source.
GYRO = 0.01


def behaviour_sheet(shown: Shown) -> Sheet:
    """One record's controllers: how firmly they answer the rate, how far behind, and the noise they pass."""
    axes = shown.axes
    rows = []
    for frequency in SHOWN_AT:
        gains, phases = (
            zip(*(_answer(one, frequency) for one in axes.values()), strict=True) if axes else ((), ())
        )
        rows.append((f"answer to the rate at {frequency:g} Hz", *gains, "% drive for 100 deg/s"))
        rows.append(("  its phase", *phases, "deg"))
    noise = (f"{100 * one.noise * math.radians(GYRO):.3g}" for one in axes.values())
    rows.append((f"motors' noise from a gyro of {GYRO:g} deg/s/√Hz", *noise, "% drive"))
    table = Table(("", *(f"{axis}#" for axis in axes), "unit"), tuple(rows) if axes else ())
    known = "Known" if axes else "Not known"
    return Sheet(
        title="What the settings amount to",
        head=_head(shown.record.aircraft, shown.record.id, shown.release),
        sentence=f"{known}: the controllers of the turning rates"
        + (f" of {', '.join(axes)}." if axes else "."),
        tables=(table,) if axes else (),
        notes=(*_reasons(shown.reasons), *_remarks(axes)),
        next_act=(f"compare with another record: asflown behaviour compare {shown.record.id} RECORD",),
    )


def behaviour_json(shown: Shown) -> dict[str, Any]:
    """One record's controllers as JSON: responses in SI, drive 1 per rad/s."""
    return {
        "aircraft": shown.record.aircraft,
        "record": shown.record.id,
        "release": shown.release,
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
    }


def compared_behaviour_sheet(compared: Compared) -> Sheet:
    """What changes from one record's controllers to another's, in words first."""
    first, second = compared.first, compared.second
    rows = tuple(_row(change) for change in compared.axes.values())
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
    one, other = (release or "release not stated" for release in compared.releases)
    return Sheet(
        title="What changes in the rate loop",
        head=(
            ("aircraft", first.aircraft),
            ("before", f"{first.id}, {one}"),
            ("after", f"{second.id}, {other}"),
        ),
        sentence=" ".join(_said(change) for change in compared.axes.values())
        or "No axis is known on both sides.",
        tables=(Table(columns, rows),) if rows else (),
        notes=(*_reasons(compared.reasons), *_remarks(compared.axes), *_where(compared), _COLUMNS)
        if rows
        else _reasons(compared.reasons),
        next_act=(f"look at one: asflown behaviour show {second.id}",),
    )


_COLUMNS = (
    "Firmness: answer to the rate, after over before. Later: how much later it comes. To the rate, to the"
    " command: largest change between 0.5 and 25 Hz. Noise: what white gyro noise does to the motors, after"
    " over before; passed: the largest change above 60 Hz."
)


def compared_behaviour_json(compared: Compared) -> dict[str, Any]:
    """What changes, as JSON: ratios after over before, dB, Hz, s."""
    return {
        "first": {"record": compared.first.id, "release": compared.releases[0]},
        "second": {"record": compared.second.id, "release": compared.releases[1]},
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
    }


def _head(aircraft: str, record: str, release: str | None) -> tuple[tuple[str, str], ...]:
    return (("aircraft", aircraft), ("record", record), ("release", release or "not stated"))


def _answer(one: Amounts, frequency: float) -> tuple[str, str]:
    along = np.log(one.frequencies)
    gain = float(np.interp(math.log(frequency), along, np.abs(one.rate)))
    phase = float(np.interp(math.log(frequency), along, np.unwrap(np.angle(one.rate))))
    return f"{100 * gain * math.radians(100.0):.3g}", f"{math.degrees(phase):.0f}"


def _curve(values: Any) -> dict[str, list[float]]:
    return {"gain": np.abs(values).tolist(), "phase": np.unwrap(np.angle(values)).tolist()}


def _largest(one: Largest) -> dict[str, float]:
    return {"decibels": one.decibels, "frequency": one.frequency}


def _reasons(reasons: Mapping[str, str]) -> tuple[str, ...]:
    """Why axes are not known; said once where it is the same for all."""
    if len(reasons) > 1 and len(set(reasons.values())) == 1:
        return (f"{', '.join(reasons).capitalize()}: {next(iter(reasons.values()))}.",)
    return tuple(f"{axis.capitalize()}: {reason}." for axis, reason in reasons.items())


def _remarks(axes: Mapping[str, Amounts] | Mapping[str, Change]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"{remark.capitalize()}." for one in axes.values() for remark in one.remarks))


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
