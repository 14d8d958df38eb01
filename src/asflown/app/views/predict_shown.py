"""What is predicted, before and after side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asflown.app.views.flight_words import UNKNOWN, figures, spread
from asflown.app.views.sheet import Sheet, Table
from asflown.core.study.quantities import quantity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asflown.app.predict import Predicted
    from asflown.core.behaviour.predict.concern import Concern
    from asflown.core.behaviour.predict.result import Answer, Prediction
    from asflown.core.measured import Measured

_METHOD = (
    "Predicted from the flight's plant and the settings alone: same propellers, pack and mass. The 95 %"
    " intervals hold the error of identifying the plant. The flight has the last word."
)
_METHOD_READ = (
    "Predicted from the flight's plant and the controller that the log shows: same propellers, pack and mass."
    " The 95 % intervals hold the errors of identifying both. The flight has the last word."
)
_NOISE = "noise to the motors"


def predicted_sheet(made: Predicted) -> Sheet:
    """The sheet: a sentence for each axis, a table for each axis."""
    return Sheet(
        title="How it would fly",
        head=(
            ("aircraft", made.aircraft),
            ("baseline", f"{made.flight.id}, {made.flight.release or 'release not stated'}"),
            ("before", made.before),
            ("after", made.after),
        ),
        sentence=" ".join(said(one) for one in made.axes.values()) or "No axis can be predicted.",
        tables=tuple(_table(one) for one in made.axes.values()),
        warnings=tuple(
            f"{one.says}. Do not fly this" if one.is_unsafe else one.says for one in made.concerns
        ),
        notes=(*reasons_said(made.reasons.items()), *_remarks(made), *_method(made)),
        next_act=_next(made),
    )


#: What is shown side by side in one row of an axis: figure, column, factor.
_BESIDE = (
    ("bandwidth", "bandwidth, Hz", 1.0),
    ("phase_delay", "delay, ms", 1e3),
    ("phase_margin", "phase m., deg", 1.0),
    ("gain_margin", "gain m., dB", 1.0),
    ("peak_sensitivity", "peak", 1.0),
    ("overshoot", "overshoot, %", 100.0),
)


def beside_table(made: Predicted) -> Table:
    """Before and after of every axis in a row each, for a sheet about something else."""
    rows = tuple(
        (
            one.axis,
            *(_beside(one, name, factor) for name, _, factor in _BESIDE),
            UNKNOWN if one.noise.value is None else f"x {one.noise.value:.2f}",
            str(one.after.stability),
        )
        for one in made.axes.values()
    )
    return Table(
        ("axis", *(f"{title}#" for _, title, _ in _BESIDE), "noise#", "loop"),
        rows,
        title=f"How it would fly: before → after, predicted from {made.flight.id}",
        folded=(f"intervals, rise time, crossover: asflown predict {made.aircraft}",),
    )


def _beside(one: Prediction, name: str, factor: float) -> str:
    was, now = (side.figures[name] for side in (one.before, one.after))
    return " → ".join(_short(number, factor) for number in (was, now))


def _short(number: Measured, factor: float) -> str:
    if number.value is None or number.low is None or number.high is None:
        return "?"
    value = factor * number.value
    return figures(value, max(factor * spread(number.low, number.high, number.value), 0.1 * abs(value)))


def beside_json(made: Predicted | None) -> dict[str, Any] | None:
    """Figures before and after, without curves."""
    if made is None:
        return None
    return {
        "flight": made.flight.id,
        "axes": {
            axis: {
                "before": {name: number_json(number) for name, number in one.before.figures.items()},
                "after": {name: number_json(number) for name, number in one.after.figures.items()},
                "stability": str(one.after.stability),
                "noise": number_json(one.noise),
            }
            for axis, one in made.axes.items()
        },
        "reasons": dict(made.reasons),
    }


def _method(made: Predicted) -> tuple[str, ...]:
    if not made.axes:
        return ()
    return (_METHOD if made.read_from is None else _METHOD_READ,)


def warning_of(one: Concern) -> str:
    """A concern as a warning."""
    return f"{one.says}. Do not fly this" if one.is_unsafe else one.says


def _next(made: Predicted) -> tuple[str, ...]:
    if made.read_from is not None and (made.concerns or not made.axes):
        return ("change the new settings or rock again, propellers off: asflown behaviour read LOG",)
    if made.concerns:
        return (f"find settings that keep the old answer: asflown retune {made.aircraft}",)
    if not made.axes:
        return (
            "measure model-free, before and after: asflown testcard " + made.aircraft,
            f"read the new controller on the bench: asflown predict {made.aircraft} --controller-log LOG",
        )
    return (f"plan the flying: asflown testcard {made.aircraft}",)


def said(one: Prediction) -> str:
    """One sentence of an axis: what changes most, or that nothing does."""
    axis = one.axis.capitalize()
    if one.after.stability.value != "stable":
        return f"{axis}: {one.after.stability}."
    changes = [
        text
        for name, word in (("bandwidth", "bandwidth"), ("peak_sensitivity", "peak sensitivity"))
        if (text := _percent(one.change[name], word))
    ]
    overshoot = one.change["overshoot"].value
    if overshoot is not None and abs(overshoot) >= 0.005:
        changes.append(f"overshoot {overshoot:+.1%} of a step".replace("%", " %"))
    noise = one.noise.value
    if noise is not None and abs(noise - 1.0) >= 0.01:
        changes.append(f"noise to the motors times {noise:.2f}")
    return f"{axis}: {', '.join(changes) if changes else 'as before'}."


def _percent(change: Measured, word: str) -> str:
    if change.value is None or abs(change.value - 1.0) < 0.005:
        return ""
    return f"{word} {100.0 * (change.value - 1.0):+.1f} %"


def _table(one: Prediction) -> Table:
    rows = [_row(name, one) for name in one.after.figures]
    rows.append((_NOISE, "1", *_shown(one.noise, 1.0), "times", _noisier(one)))
    rows.append(("loop", str(one.before.stability), str(one.after.stability), "", "", ""))
    return Table(
        ("figure", "before#", "after#", "95 % interval", "unit", "change#"),
        tuple(rows),
        title=one.axis.capitalize(),
    )


def _noisier(one: Prediction) -> str:
    if one.noise.value is None:
        return ""
    share = 100.0 * (one.noise.value - 1.0)
    return f"{share:+.1f} %" if abs(share) >= 0.05 else "none"


def _row(name: str, one: Prediction) -> tuple[str, ...]:
    what = quantity(f"axes.{one.axis}.{name}")
    unit, factor = ("ms", 1e3) if what.unit == "s" else ("" if what.unit == "1" else what.unit, 1.0)
    before, _ = _shown(one.before.figures[name], factor)
    after, interval = _shown(one.after.figures[name], factor)
    return what.title, before, after, interval, unit, _changed(name, one)


def _changed(name: str, one: Prediction) -> str:
    from asflown.core.behaviour.predict.result import BY_DIFFERENCE

    change = one.change[name]
    if change.value is None:
        return ""
    if name in BY_DIFFERENCE:
        text = f"{change.value:+.3f}" if name == "overshoot" else f"{change.value:+.1f} {change.unit}"
        return text if float(text.split()[0]) != 0.0 else "none"
    share = 100.0 * (change.value - 1.0)
    return f"{share:+.1f} %" if abs(share) >= 0.05 else "none"


def _shown(number: Measured, factor: float) -> tuple[str, str]:
    if number.value is None or number.low is None or number.high is None:
        return UNKNOWN, ""
    value, low, high = (factor * x for x in (number.value, number.low, number.high))
    like = max(spread(low, high, value), 1e-3 * abs(value))
    return figures(value, like), f"{figures(low, like)} to {figures(high, like)}"


def reasons_said(reasons: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Why axes are not told; the same reason once."""
    by_reason: dict[str, list[str]] = {}
    for axis, reason in reasons:
        by_reason.setdefault(reason, []).append(axis)
    return tuple(f"{', '.join(axes).capitalize()}: {reason}." for reason, axes in by_reason.items())


def _remarks(made: Predicted) -> tuple[str, ...]:
    told = dict.fromkeys(
        f"{remark[:1].upper()}{remark[1:]}." for one in made.axes.values() for remark in one.remarks
    )
    unknown: dict[str, None] = {}
    for one in made.axes.values():
        for name, number in one.after.figures.items():
            if number.reason and one.after.stability.value == "stable":
                title = quantity(f"axes.{one.axis}.{name}").title
                unknown[f"Unknown ({title}, {one.axis}): {number.reason}."] = None
    return (*told, *unknown)


def predicted_json(made: Predicted) -> dict[str, Any]:
    """Everything predicted, in SI."""
    return {
        "aircraft": made.aircraft,
        "flight": made.flight.id,
        "before": made.before,
        "after": made.after,
        "concerns": [
            {"axis": one.axis, "stability": str(one.stability), "says": one.says} for one in made.concerns
        ],
        "axes": {axis: _axis_json(one) for axis, one in made.axes.items()},
        "reasons": dict(made.reasons),
    }


def _axis_json(one: Prediction) -> dict[str, Any]:
    return {
        "before": _answer_json(one.before),
        "after": _answer_json(one.after),
        "change": {name: number_json(number) for name, number in one.change.items()},
        "noise": number_json(one.noise),
        "remarks": list(one.remarks),
    }


def _answer_json(one: Answer) -> dict[str, Any]:
    made: dict[str, Any] = {
        "stability": str(one.stability),
        "unstable_share": one.unstable_share,
        "figures": {name: number_json(number) for name, number in one.figures.items()},
    }
    if one.response is not None and one.loop is not None and one.step is not None:
        for word, curve in (("response", one.response), ("loop", one.loop)):
            made[word] = {
                "frequency": curve.frequencies.tolist(),
                "gain": curve.gain.tolist(),
                "phase": curve.phase.tolist(),
            }
        made["step"] = {"time": one.step.time.tolist(), "answer": one.step.answer.tolist()}
    return made


def number_json(number: Measured) -> dict[str, Any]:
    """A number with its interval, or its reason."""
    if number.value is None:
        return {"value": None, "unit": number.unit, "reason": number.reason}
    return {"value": number.value, "low": number.low, "high": number.high, "unit": number.unit}
