"""The sheet of a calibration: method, readings, numbers with intervals, fit for use or not, what to write."""

from __future__ import annotations

from typing import Any

from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.calibrate.kept import Calibration, When
from asflown.core.measured import Measured

_METHOD = "a straight line through the readings by weighted least squares: true = scale × shown + offset"


def calibration_sheet(made: Calibration, other: Calibration | None, *, is_kept: bool) -> Sheet:
    """One calibration, beside the one at the other moment."""
    return Sheet(
        title=f"Calibration of the {made.what}",
        head=(
            ("aircraft", made.aircraft),
            ("date", made.at),
            ("kept", f"{made.id}, {made.when.value}" if is_kept else "no: only computed"),
            ("method", _METHOD),
        ),
        sentence=f"{'Fit for use' if made.is_fit else 'Not fit for use: repeat it'}: {made.why}.",
        warnings=(
            "propellers off; with the pack plugged in a motor can start: hands and hair away from it; one"
            " person at the pack's plug",
        ),
        tables=(
            Table(
                (f"shown, {made.unit}#", f"meter, {made.unit}#", f"line less meter, {made.unit}#"),
                tuple((f"{a:g}", f"{b:g}", _left(made, a, b)) for a, b in made.readings),
                title=f"{counted(len(made.readings), 'reading')}",
            ),
            Table(
                ("number", "value", "95 % interval", "from"),
                tuple(_row(made, name, one) for name, one in made.results.items()),
                title="What came of it",
            ),
            *_beside(made, other),
        ),
        next_act=_next(made, is_kept=is_kept),
    )


def _unit(made: Calibration, name: str) -> str:
    return f" {made.unit}" if name == "offset" else ""


def _row(made: Calibration, name: str, one: Measured) -> tuple[str, str, str, str]:
    if one.value is None or one.low is None or one.high is None:
        return name, "unknown", "", one.reason or ""
    unit = _unit(made, name)
    return name, f"{one.value:.4f}{unit}", f"{one.low:.4f} to {one.high:.4f}{unit}", one.route


def _left(made: Calibration, shown: float, true: float) -> str:
    scale, offset = made.results["scale"].value, made.results["offset"].value
    return "" if scale is None or offset is None else f"{scale * shown + offset - true:+.3f}"


def _beside(made: Calibration, other: Calibration | None) -> tuple[Table, ...]:
    if other is None:
        return ()
    pair = sorted((made, other), key=lambda one: one.when is When.AS_LEFT)
    rows = tuple((name, *(_row(one, name, one.results[name])[1] for one in pair)) for name in made.results)
    columns = ("number", *(f"{one.when.value}, {one.at[:10]}" for one in pair))
    return (Table(columns, rows, title="As found and as left"),)


def _next(made: Calibration, *, is_kept: bool) -> tuple[str, ...]:
    scale, alone = made.results["scale"].value, made.results["scale alone"].value
    if not made.is_fit or scale is None or alone is None:
        return ("take the readings again",)
    acts = [
        f"where the aircraft takes a scale alone: multiply its {made.what} scale by {alone:.4f}, and store",
        f"where it takes an offset too: multiply the scale by {scale:.4f}, then set the offset above",
    ]
    if not is_kept:
        acts.append("keep it: the same with --as-found before you correct it, --as-left after")
    return tuple(acts)


def calibration_json(made: Calibration, other: Calibration | None, *, is_kept: bool) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": made.aircraft,
        "what": made.what,
        "when": made.when.value,
        "kept": made.id if is_kept else None,
        "method": _METHOD,
        "unit": made.unit,
        "readings": [list(pair) for pair in made.readings],
        "results": {
            name: {"value": one.value, "low": one.low, "high": one.high, "reason": one.reason}
            for name, one in made.results.items()
        },
        "fit_for_use": made.is_fit,
        "why": made.why,
        "beside": other.id if other else None,
        "next": list(_next(made, is_kept=is_kept)),
    }
