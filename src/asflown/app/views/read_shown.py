"""A controller that was read out of a log, as a sheet and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from asflown.app.views.flight_words import UNKNOWN, figures, spread
from asflown.app.views.sheet import Sheet, Table

if TYPE_CHECKING:
    from asflown.app.read_controller import ReadLog
    from asflown.core.behaviour.from_log.read import ReadController
    from asflown.core.measured import Measured

#: How each figure is shown: title, unit, and what its number in SI is multiplied by.
_DEGREES = math.pi / 180.0
SHOWN = {
    "proportional": ("proportional", "% for 100 deg/s", 1e4 * _DEGREES),
    "integral": ("integral", "% for 100 deg", 1e4 * _DEGREES),
    "derivative": ("derivative", "% for 1000 deg/s²", 1e5 * _DEGREES),
    "feed_forward": ("feed-forward", "% for 1000 deg/s²", 1e5 * _DEGREES),
    "rate_cutoff": ("filter of the rate", "Hz", 1.0),
    "derivative_cutoff": ("filter of the derivative", "Hz", 1.0),
    "command_cutoff": ("filter of the command", "Hz", 1.0),
    "rate_delay": ("further delay of the rate", "ms", 1e3),
    "command_delay": ("further delay of the command", "ms", 1e3),
}
#: Hz at which the whole answer is told in the JSON.
_LOWEST, _POINTS = 0.3, 120
#: What is said of a log that was made on the bench.
BENCH = (
    "On the bench: propellers off the motors, people clear, a sound pack within reach to be unplugged; with"
    " the pack connected motors can start, and USB alone may not feed the board as the pack does. asflown"
    " never arms and never asks for it: where a firmware computes its output only while armed, whether to do"
    " so with the propellers off is yours to decide."
)
_HELD = (
    "Many firmwares hold the integral and soften gains while throttle is low: what is read here is what ran"
    " on the bench."
)
_WHAT = (
    "Each figure with its 95 % interval. Cut-offs are half-power frequencies. Signs: the answer to the rate"
    " is taken away."
)


def read_sheet(made: ReadLog) -> Sheet:
    """The sheet: what was read, and whether the family fits."""
    axes = made.axes
    from asflown.core.behaviour.from_log.bench import LogKind

    bench = made.told.kind is LogKind.BENCH
    return Sheet(
        title="The controller read from the log",
        head=(
            ("log", made.name),
            ("log of", f"{made.told.kind}: {made.told.why}"),
            ("output", made.drive),
            ("loop", f"{made.loop_rate:g} Hz, as stated" if made.loop_rate else "rate not stated"),
        ),
        sentence=_sentence(made),
        tables=tuple(_table(axis, one) for axis, one in axes.items()),
        warnings=tuple(
            f"{axis.capitalize()}: the family does not fit: {one.check.reason}; nothing is predicted from it"
            for axis, one in axes.items()
            if one.check.reason
        ),
        notes=(
            *_reasons(made),
            *_remarks(made),
            *((_HELD, BENCH) if bench else ()),
            *((_WHAT,) if axes else ()),
        ),
        next_act=("predict with it: asflown predict AIRCRAFT --controller-log " + made.name,)
        if made.fits
        else ("rock about each axis, slowly, quickly, with taps, and move the sticks; then read again",),
    )


def _sentence(made: ReadLog) -> str:
    fit = [axis for axis, one in made.axes.items() if one.check.holds]
    if not made.axes:
        return "No controller can be read from this log."
    if not fit:
        return "Read, but no axis is of the family: none of it is used."
    left = [axis for axis in made.axes if axis not in fit]
    told = f"Read and of the family: {', '.join(fit)}."
    return told + (f" Not of the family: {', '.join(left)}." if left else "")


def _table(axis: str, one: ReadController) -> Table:
    rows = [_row(one, name, *shown) for name, shown in SHOWN.items()]
    rows.append(("output explained", f"{100 * one.check.explained:.2f}", "", "%", ""))
    rows.append(("told from", f"{one.lowest:.2g} to {one.highest:.3g}", "", "Hz", ""))
    return Table(("", "read#", "95 % interval", "unit", "form"), tuple(rows), title=axis.capitalize())


def _row(one: ReadController, name: str, title: str, unit: str, factor: float) -> tuple[str, ...]:
    figure, order = one.figures[name], _order(one, name)
    if figure.value is None or figure.low is None or figure.high is None:
        return (title, "none" if order == "none" else UNKNOWN, "", "", "" if order == "none" else order)
    like = spread(figure.low * factor, figure.high * factor, figure.value * factor)
    low, high = (figures(end * factor, like) for end in (figure.low, figure.high))
    return title, figures(figure.value * factor, like), f"{low} to {high}", unit, order


def _order(one: ReadController, name: str) -> str:
    """A filter's form in words, empty for what is no filter or not told."""
    from asflown.core.behaviour.from_log.read import ORDERS

    if not name.endswith("cutoff") or (name.startswith("command") and not one.commanded):
        return ""
    order = getattr(one.best.variant, name.removesuffix("_cutoff"))
    return ORDERS[order] if order is not None else "none"


def _reasons(made: ReadLog) -> tuple[str, ...]:
    reasons = made.reasons
    if len(reasons) > 1 and len(set(reasons.values())) == 1:
        return (f"{', '.join(reasons).capitalize()}: {next(iter(reasons.values()))}.",)
    return tuple(f"{axis.capitalize()}: {reason}." for axis, reason in reasons.items())


def _remarks(made: ReadLog) -> tuple[str, ...]:
    """Remarks of the axes; the same one of several axes once."""
    by_text: dict[str, list[str]] = {}
    for axis, one in made.axes.items():
        for text in one.remarks:
            by_text.setdefault(text, []).append(axis)
    return tuple(f"{', '.join(axes).capitalize()}: {text}." for text, axes in by_text.items())


def read_json(made: ReadLog) -> dict[str, Any]:
    """The same as JSON, in SI; drive 1 for a rate of 1 rad/s."""
    return {
        "log": made.name,
        "kind": made.told.kind.name.lower(),
        "told_by": made.told.why,
        "output": made.drive,
        "rows_per_second": made.rate,
        "loop_rate": made.loop_rate,
        "axes": {axis: _axis_json(one) for axis, one in made.axes.items()},
        "reasons": dict(made.reasons),
    }


def _axis_json(one: ReadController) -> dict[str, Any]:
    return {
        "holds": one.check.holds,
        "reason": one.check.reason,
        "explained": one.check.explained,
        "beyond_family": [
            {"low": group.low, "high": group.high, "share": group.beyond, "chance": group.chance}
            for group in one.check.groups
        ],
        "unsteady": one.check.steady,
        "lowest": one.lowest,
        "highest": one.highest,
        "seconds": one.seconds,
        "left_out": one.left_out,
        "figures": {name: _number(figure) for name, figure in one.figures.items()},
        "orders": {
            name: None if order is None else int(order)
            for name in ("rate", "derivative", "command")
            for order in (getattr(one.best.variant, name),)
        },
        "remarks": list(one.remarks),
        "response": _response_json(one),
    }


def _number(figure: Measured) -> dict[str, Any]:
    if figure.value is None:
        return {"value": None, "unit": figure.unit, "reason": figure.reason}
    return {"value": figure.value, "low": figure.low, "high": figure.high, "unit": figure.unit}


def _response_json(one: ReadController) -> dict[str, Any]:
    """Gain and phase with pointwise 95 % bands."""
    from asflown.core.behaviour.from_log.read import bands_of

    made: dict[str, Any] = {}
    for name, (frequencies, gain, phase) in bands_of(one, _LOWEST, _POINTS).items():
        made["frequency"] = frequencies.tolist()
        made[name] = {"gain": gain.tolist(), "phase": phase.tolist()}
    return made
