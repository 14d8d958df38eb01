"""The sheet of a calibration: method, readings, numbers with intervals, fit for use or not, what to write."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.calibrate.kept import Calibration, When
from asflown.core.measured import Measured

_LINE = "a straight line through the readings by weighted least squares: true = scale × shown + offset"


_PLUGGED_IN = (
    "propellers off; with the pack plugged in a motor can start: hands and hair away from it; one"
    " person at the pack's plug"
)


def calibration_sheet(made: Calibration, other: Calibration | None = None, *, is_kept: bool) -> Sheet:
    """One calibration, beside the one at the other moment."""
    samples = (("samples", f"{one.name}: {one.used}") for one in made.samples)
    return Sheet(
        title=f"Calibration of the {made.what}",
        head=(
            ("aircraft", made.aircraft or "not stated"),
            ("date", made.at or "not kept"),
            ("kept", _kept(made) if is_kept else "no: only computed"),
            ("method", method_of(made)),
            *samples,
        ),
        sentence=f"{'Fit for use' if made.is_fit else 'Not fit for use: repeat it'}: {made.why}.",
        warnings=made.cautions or (() if made.method else (_PLUGGED_IN,)),
        tables=(
            *_read(made),
            Table(
                ("number", "value", "95 % interval", "from"),
                tuple(_rows(made)),
                title="What came of it",
            ),
            *(Table(one.columns, one.rows, title=one.title) for one in made.tables),
            *_beside(made, other),
        ),
        notes=made.remarks,
        next_act=_next(made, is_kept=is_kept),
    )


def _kept(made: Calibration) -> str:
    size = sum(one.size for one in made.originals) / 1e6
    return f"{made.id}, {made.when.value}" + (f", its samples too ({size:.1f} MB)" if made.originals else "")


def method_of(made: Calibration) -> str:
    """How it was computed."""
    return made.method or _LINE


def _read(made: Calibration) -> tuple[Table, ...]:
    if not made.readings:
        return ()
    return (
        Table(
            (f"shown, {made.unit}#", f"meter, {made.unit}#", f"line less meter, {made.unit}#"),
            tuple((f"{a:g}", f"{b:g}", _left(made, a, b)) for a, b in made.readings),
            title=counted(len(made.readings), "reading"),
        ),
    )


def _row(made: Calibration, name: str, one: Measured) -> tuple[str, str, str, str]:
    if one.value is None or one.low is None or one.high is None:
        return name, "unknown", "", one.reason or ""
    unit = "" if one.unit == "1" else f" {one.unit}"
    digits = _digits(one.high - one.low)
    return (
        name,
        f"{one.value:.{digits}f}{unit}",
        f"{one.low:.{digits}f} to {one.high:.{digits}f}{unit}",
        one.route,
    )


def _rows(made: Calibration) -> Iterator[tuple[str, str, str, str]]:
    """One row for each number; those unknown for the same reason share one."""
    unknown: dict[str, list[str]] = {}
    for name, one in made.results.items():
        if one.value is None:
            unknown.setdefault(one.reason or "", []).append(name)
        else:
            yield _row(made, name, one)
    for reason, names in unknown.items():
        yield ", ".join(names), "unknown", "", reason


def _digits(width: float) -> int:
    """Figures after the point: four, or more where the interval is narrow."""
    return 4 if width <= 0 else max(4, min(9, 2 - math.floor(math.log10(width))))


def _left(made: Calibration, shown: float, true: float) -> str:
    scale, offset = made.results["scale"].value, made.results["offset"].value
    return "" if scale is None or offset is None else f"{scale * shown + offset - true:+.3f}"


def _beside(made: Calibration, other: Calibration | None) -> tuple[Table, ...]:
    if other is None:
        return ()
    pair = sorted((made, other), key=lambda one: one.when is When.AS_LEFT)
    rows = tuple(
        (name, *(_row(one, name, one.results[name])[1] if name in one.results else "" for one in pair))
        for name in made.results
    )
    columns = ("number", *(f"{one.when.value}, {one.at[:10]}" for one in pair))
    return (Table(columns, rows, title="As found and as left"),)


def _next(made: Calibration, *, is_kept: bool) -> tuple[str, ...]:
    keep = "keep it: the same with --as-found before you correct it, --as-left after"
    if made.method:
        return made.write if is_kept else (*made.write, keep)
    scale, alone = made.results["scale"].value, made.results["scale alone"].value
    if not made.is_fit or scale is None or alone is None:
        return ("take the readings again",)
    acts = [
        f"where the aircraft takes a scale alone: multiply its {made.what} scale by {alone:.4f}, and store",
        f"where it takes an offset too: multiply the scale by {scale:.4f}, then set the offset above",
    ]
    if not is_kept:
        acts.append(keep)
    return tuple(acts)


def calibration_json(made: Calibration, other: Calibration | None = None, *, is_kept: bool) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": made.aircraft,
        "what": made.what,
        "when": made.when.value,
        "kept": made.id if is_kept else None,
        "originals": [one.sha256 for one in made.originals],
        "method": method_of(made),
        "unit": made.unit,
        "readings": [list(pair) for pair in made.readings],
        "results": {
            name: {
                "value": one.value,
                "low": one.low,
                "high": one.high,
                "unit": one.unit,
                "reason": one.reason,
            }
            for name, one in made.results.items()
        },
        "samples": [{"log": one.name, "sha256": one.sha256, "used": one.used} for one in made.samples],
        "tables": [
            {"title": one.title, "columns": list(one.columns), "rows": [list(row) for row in one.rows]}
            for one in made.tables
        ],
        "remarks": list(made.remarks),
        "fit_for_use": made.is_fit,
        "why": made.why,
        "beside": other.id if other else None,
        "next": list(_next(made, is_kept=is_kept)),
    }


def list_sheet(aircraft: str, kept: Sequence[Calibration]) -> Sheet:
    """Every calibration of an aircraft that is kept, those of one thing together."""
    return Sheet(
        title="Calibrations",
        head=(("aircraft", aircraft),),
        sentence=f"{counted(len(kept), 'calibration')} kept."
        if kept
        else "No calibration is kept for this aircraft.",
        tables=(
            Table(
                ("calibration", "of", "when", "date", "fit for use", "why"),
                tuple(
                    (one.id, one.what, one.when.value, one.at[:10], "yes" if one.is_fit else "no", one.why)
                    for one in sorted(kept, key=lambda one: one.what)
                ),
                empty="nothing kept yet: a meter, or a log of the aircraft at rest, begins one",
            ),
            Table(
                ("of", "as found", "as left"),
                tuple(_paired(kept)),
                title="As found and as left",
                empty="none yet",
            ),
        ),
        next_act=()
        if kept
        else (
            "asflown calibrate meter voltage SHOWN=TRUE SHOWN=TRUE --as-found",
            "asflown calibrate accelerometer LOG --as-found",
        ),
    )


def _paired(kept: Sequence[Calibration]) -> Iterator[tuple[str, str, str]]:
    """The newest at either moment, by what they are of."""
    for what in sorted({one.what for one in kept}):
        newest = {one.when: one.id for one in kept if one.what == what}
        yield what, newest.get(When.AS_FOUND, "not kept"), newest.get(When.AS_LEFT, "not kept")


def list_json(aircraft: str, kept: Sequence[Calibration]) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": aircraft,
        "calibrations": [calibration_json(one, is_kept=True) for one in kept],
        "pairs": [{"what": what, "as_found": found, "as_left": left} for what, found, left in _paired(kept)],
    }
