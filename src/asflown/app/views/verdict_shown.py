"""The verdict as a sheet and as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from asflown.app.views.causes_shown import causes_json, causes_table, found_otherwise, held_json, held_table
from asflown.app.views.flight_words import figures, unit_shown
from asflown.app.views.judged_words import (
    RULE,
    change_says,
    flying_says,
    interval_says,
    margin_says,
    scatter_says,
    title_of,
)
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.study.quantities import quantity
from asflown.core.verdict.ahead import More
from asflown.core.verdict.judge import Judged, Outcome, Verdict
from asflown.core.verdict.margins import Scale, Weight

if TYPE_CHECKING:
    from asflown.app.judging.verdict import Given


def verdict_sheet(made: Given) -> Sheet:
    """The verdict, its numbers, and what it rests on."""
    refit, verdict = made.sides.refit, made.verdict
    return Sheet(
        title=f"Verdict: {verdict.outcome}",
        head=(
            ("aircraft", refit.aircraft),
            ("refit", f"{refit.id}, {refit.from_release or 'not stated'} → {refit.to_release}"),
            ("before", ", ".join(verdict.before)),
            ("after", ", ".join(verdict.after)),
            ("margins", _sealed(made)),
        ),
        sentence=outcome_says(verdict),
        tables=(
            *_itself(verdict),
            *causes_table(made.causes),
            _judged_table(verdict),
            *held_table(made),
            *_watched(verdict),
        ),
        warnings=found_otherwise(made),
        notes=(
            *_more(verdict),
            *_missing(verdict),
            *_aside(made),
            scatter_says(made.scatter),
            RULE,
        ),
        next_act=_next(made),
    )


def _aside(made: Given) -> Iterable[str]:
    """Flights that a person set aside: nothing here rests on them, and a reader is to know."""
    for flight in made.sides.aside:
        yield f"Set aside, not judged: {flight.id} ({flight.aside})."


def outcome_says(verdict: Verdict) -> str:
    """The outcome with where and by how much."""
    if verdict.outcome is Outcome.DIFFERS:
        where = "; ".join(_difference_says(one) for one in verdict.different[:4])
        more = len(verdict.different) - 4
        return f"Differs: {where}{f'; and {more} more' if more > 0 else ''}."
    needed = [one for one in verdict.quantities if one.needed]
    if verdict.outcome is Outcome.AS_BEFORE:
        return f"Flies as before: all {counted(len(needed), 'needed figure')} lie within their margins."
    told = len(needed) - len(verdict.open)
    names = ", ".join(title_of(one.quantity) for one in verdict.open[:4])
    rest = f" and {len(verdict.open) - 4} more" if len(verdict.open) > 4 else ""
    return f"Not enough evidence: {told} of {len(needed)} needed figures told; open: {names}{rest}."


def _difference_says(one: Judged) -> str:
    assert one.test is not None
    feels = _FEELS.get(one.quantity.rpartition(".")[2], ("", ""))[one.test.difference > 0]
    return f"{title_of(one.quantity)} {_difference(one)}{f' ({feels})' if feels else ''}"


#: What less and more of it feels like. Common practice, no source.
_FEELS = {
    "bandwidth": ("slower to follow the stick", "quicker to follow the stick"),
    "rise_time": ("sharper", "softer"),
    "overshoot": ("stops more softly", "bounces back at the end of a move"),
    "phase_delay": ("more direct", "a feeling of lag in quick moves"),
    "phase_margin": ("wobbles after moves and gusts", "calmer after moves and gusts"),
    "peak_sensitivity": ("takes gusts more calmly", "shakes more in gusts"),
    "command_at_half_stick": ("the stick asks for less", "the stick asks for more"),
    "command_at_full_stick": ("the stick asks for less", "the stick asks for more"),
}


def _difference(one: Judged) -> str:
    return "unknown" if one.test is None else change_says(one.test.difference, one.margin, one.quantity)


def _interval(one: Judged) -> str:
    if one.test is None:
        return one.reason or ""
    return interval_says(*one.test.interval, one.margin, one.quantity)


def _row(one: Judged) -> tuple[str, ...]:
    unit, factor = unit_shown(quantity(one.quantity).unit)
    if unit == "s":
        unit, factor = "ms", 1e3
    cells = ["unknown", "unknown"]
    if one.before is not None and one.after is not None and one.test is not None:
        scale = abs(one.before) if one.margin.scale is Scale.RATIO else 1.0
        like = max(one.test.error * scale * factor, 1e-12)
        cells = [figures(value * factor, like) for value in (one.before, one.after)]
    return (
        title_of(one.quantity),
        *cells,
        unit,
        _difference(one),
        _interval(one),
        margin_says(one.margin),
        _SAYS[one.outcome],
    )


#: The outcomes of one figure, short.
_SAYS = {Outcome.AS_BEFORE: "as before", Outcome.DIFFERS: "differs", Outcome.NOT_ENOUGH: "not enough"}
_COLUMNS = ("figure", "before#", "after#", "unit", "difference#", "90 % interval", "margin", "says")


def _judged_table(verdict: Verdict) -> Table:
    rows = tuple(_row(one) for one in verdict.quantities if one.needed)
    routes = dict.fromkeys(one.route.replace("_", " ") for one in verdict.quantities if one.route)
    title = "Needed figures" + (f", by route: {', '.join(routes)}" if routes else "")
    return Table(_COLUMNS, rows, title=title, empty="nothing could be compared")


def _watched(verdict: Verdict) -> tuple[Table, ...]:
    rows = tuple(
        _row(one)
        for one in verdict.quantities
        if not one.needed and one.margin.weight is Weight.WATCHED and one.test
    )
    return (Table(_COLUMNS, rows, title="Watched besides"),) if rows else ()


def _itself(verdict: Verdict) -> tuple[Table, ...]:
    """Before against before, first."""
    itself = verdict.against_itself
    if itself is None:
        return ()
    rows = tuple(_row(one) for one in itself.quantities if one.needed and one.test)
    return (Table(_COLUMNS, rows, title=f"Before against before: {itself.outcome}"),)


def _missing(verdict: Verdict) -> tuple[str, ...]:
    return tuple(f"Missing: {text}." for text in dict.fromkeys(verdict.missing))[:8]


def _more(verdict: Verdict) -> tuple[str, ...]:
    """What further flying would settle what is open, were the differences as seen."""
    if verdict.outcome is not Outcome.NOT_ENOUGH:
        return ()
    by_flying: dict[More | None, list[str]] = {}
    for one in verdict.open:
        if one.test is not None and one.ahead is not None:
            by_flying.setdefault(one.more, []).append(title_of(one.quantity))
    return tuple(
        f"To settle {'; '.join(names)}: {flying_says(more)} more, were the difference as seen."
        if more is not None
        else f"No further flying looked at would settle {'; '.join(names)}, were the difference as seen."
        for more, names in by_flying.items()
    )


def _sealed(made: Given) -> str:
    if made.sealed is None:
        return "the usual ones; nobody sealed them before the flight"
    return f"sealed {made.sealed.at}, {made.sealed.digest[:12]}"


def _next(made: Given) -> tuple[str, ...]:
    refit, outcome = made.sides.refit, made.verdict.outcome
    if outcome is Outcome.AS_BEFORE:
        return (f"sign it off: asflown sign {refit.aircraft}",)
    if outcome is Outcome.DIFFERS:
        return (
            "look for what differs: propellers, screws, pack, settings; then fly again",
            f"or go back exactly: asflown back {refit.aircraft}",
        )
    return (f"plan more flying: asflown testcard {refit.aircraft}",)


def verdict_json(made: Given) -> dict[str, Any]:
    """The verdict; differences on the margin's scale: natural logarithms for ratios."""
    verdict = made.verdict
    return {
        "aircraft": made.sides.refit.aircraft,
        "refit": made.sides.refit.id,
        "outcome": str(verdict.outcome),
        "before": list(verdict.before),
        "after": list(verdict.after),
        "set_aside": [{"flight": each.id, "why": each.aside} for each in made.sides.aside],
        "margins": None if made.sealed is None else {"digest": made.sealed.digest, "at": made.sealed.at},
        "scatter": made.scatter,
        "quantities": list(_quantities_json(verdict.quantities)),
        "missing": list(verdict.missing),
        "against_prediction": held_json(made.held),
        "causes": causes_json(made.causes),
        "before_against_before": None
        if verdict.against_itself is None
        else {
            "outcome": str(verdict.against_itself.outcome),
            "quantities": list(_quantities_json(verdict.against_itself.quantities)),
        },
    }


def _quantities_json(judged: Iterable[Judged]) -> Iterable[dict[str, Any]]:
    for one in judged:
        made: dict[str, Any] = {
            "quantity": one.quantity,
            "outcome": str(one.outcome),
            "needed": one.needed,
            "scale": str(one.margin.scale),
            "margin": [one.margin.low, one.margin.high],
            "route": one.route or None,
            "reason": one.reason,
            "more": None if one.more is None else {"flights": one.more.flights, "seconds": one.more.seconds},
        }
        if one.test is not None and one.scatter is not None:
            made |= {
                "before": one.before,
                "after": one.after,
                "difference": one.test.difference,
                "interval_90": list(one.test.interval),
                "interval_95": list(one.test.interval_95),
                "error": one.test.error,
                "dof": one.test.dof if math.isfinite(one.test.dof) else None,
                "p_equivalent": one.test.p,
                "p_different": one.test.p_beyond,
                "scatter": {"value": one.scatter.value, "from": one.scatter.says},
            }
        yield made
