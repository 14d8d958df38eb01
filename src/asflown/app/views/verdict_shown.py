"""The test card and the verdict as sheets and as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from asflown.app.views.flight_words import figures, unit_shown
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.study.quantities import quantity
from asflown.core.verdict.judge import Judged, Outcome, Verdict
from asflown.core.verdict.margins import Margin, Scale, Weight

if TYPE_CHECKING:
    from asflown.app.judging.testcard import TestCard
    from asflown.app.judging.verdict import Given
    from asflown.core.verdict.flying import FlyingPlan, Need

_STOP = (
    "Stop and land: a new sound, an oscillation that grows, a hot motor, a wobble in hover, a warning of the"
    " pack. Go no further that day.",
    "Propellers on: nobody within 10 m, a switch that stops the motors at your thumb, local rules for flying"
    " kept, lithium packs charged under watch. A first flight after a change is flown by someone qualified.",
)
_ORDER = (
    ("1", "hover at head height", "10 s", "it holds itself without help; land and feel the motors"),
    ("2", "small steps and doublets, roll, pitch, yaw in turn", "20 s", "it follows and settles at once"),
    ("3", "fly about as the baseline was flown, all axes, in even air", "the rest", "it feels as before"),
)
_LOG = "Log commands, rates and every motor at 500 rows a second or more, without gaps; the pack as before."


def card_sheet(made: TestCard) -> Sheet:
    """What to fly."""
    refit = made.sides.refit
    return Sheet(
        title="Test card",
        head=(
            ("aircraft", refit.aircraft),
            ("refit", f"{refit.id}, {refit.from_release or 'not stated'} → {refit.to_release}"),
            ("baseline", ", ".join(flight.id for flight in made.sides.before)),
            ("margins", f"sealed {made.sealed.at}, {made.sealed.digest[:12]}"),
        ),
        sentence=plan_says(made.plan),
        tables=(
            Table(("", "fly", "for", "go on only if"), _ORDER, title="Each flight, in this order"),
            _needs(made),
        ),
        warnings=_STOP,
        notes=(*_never(made.plan), _scatter_says(made.scatter), _assumed(made.plan), _LOG),
        next_act=(f"after flying: asflown flight add LOG {refit.aircraft} --after",),
    )


def plan_says(plan: FlyingPlan) -> str:
    """What to fly, in one sentence."""
    if not plan.flights:
        return "No length of flying is enough: see below what to fly first."
    if plan.flights == 1:
        return f"Fly one flight of {plan.seconds} s about, after the hover."
    alone = [need for need in plan.needs if need.alone < 0.9 and need.flights is not None]
    why = ", not one longer" if alone else ""
    flights = f"Fly {plan.flights} flights of {plan.seconds} s each{why}"
    return f"{flights}: flights scatter, and one cannot tell by how much."


def _assumed(plan: FlyingPlan) -> str:
    return (
        f"Planned for a verdict in 9 of 10 cases when the aircraft truly differs by {plan.assumed:.0%} of"
        " each margin (--assume says another share)."
    ).replace("%", " %")


def _scatter_says(scatter: float | None) -> str:
    if scatter is None:
        return (
            "How much this aircraft scatters from flight to flight is taken from its flights where there are"
            " several, and from a stated prior (2 % of bandwidth) as far as there are not."
        )
    return f"Scatter between flights as stated: {scatter:g} times the prior."


def _never(plan: FlyingPlan) -> tuple[str, ...]:
    """What no flying after tells, together where the reason is the same."""
    by_reason: dict[str, list[str]] = {}
    for need in plan.never:
        by_reason.setdefault(str(need.reason), []).append(_title(need.quantity))
    return tuple(
        f"Never told by flying after ({'; '.join(names)}): {reason}." for reason, names in by_reason.items()
    )


def _needs(made: TestCard) -> Table:
    rows = []
    for need in made.plan.needs:
        margin = next(m for m in made.margins if m.quantity in (need.quantity, quantity(need.quantity).name))
        rows.append(
            (
                _title(need.quantity),
                margin_says(margin),
                _flights(need),
                f"{need.power:.0%}",
                f"{need.beyond:.0%}",
            )
        )
    missing = tuple(f"{_title(name)}: not in the baseline" for name in made.plan.missing)
    return Table(
        ("figure", "margin", "alone it needs", "then told#", "twice told#"),
        tuple(rows),
        title="What the verdict needs",
        folded=missing,
    )


def _flights(need: Need) -> str:
    if need.flights is None:
        return "never"
    return f"{need.flights} x {need.seconds} s"


def margin_says(margin: Margin) -> str:
    """A margin in words: ``-13 % to +15 %``, ``±8 deg``."""
    if margin.scale is Scale.RATIO:
        low, high = (100.0 * math.expm1(end) for end in (margin.low, margin.high))
        return f"{low:+.0f} to {high:+.0f} %"
    unit, factor = unit_shown(_unit(margin.quantity))
    low, high = margin.low * factor, margin.high * factor
    text = f"±{high:.3g}" if math.isclose(-low, high) else f"{low:+.3g} to {high:+.3g}"
    return f"{text} {unit}".rstrip()


def _unit(name: str) -> str:
    example = name.replace("{axis}", "roll").replace("{n}", "1").replace("{order}", "order_1")
    return quantity(example).unit


def _title(name: str) -> str:
    return quantity(name).titled(name)


# ------------------------------------------------------------------------------- the verdict


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
        tables=(*_itself(verdict), _judged_table(verdict), *_watched(verdict)),
        notes=(
            *_missing(verdict),
            _scatter_says(made.scatter),
            "Needed figures must each lie within their margin (90 % interval, two one-sided tests at 5 %); a"
            " figure is called different when it is beyond its margin after Holm's correction over all.",
        ),
        next_act=_next(made),
    )


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
    names = ", ".join(_title(one.quantity) for one in verdict.open[:4])
    rest = f" and {len(verdict.open) - 4} more" if len(verdict.open) > 4 else ""
    return f"Not enough evidence: {told} of {len(needed)} needed figures told; open: {names}{rest}."


def _difference_says(one: Judged) -> str:
    assert one.test is not None
    feels = _FEELS.get(one.quantity.rpartition(".")[2], ("", ""))[one.test.difference > 0]
    return f"{_title(one.quantity)} {_difference(one)}{f' ({feels})' if feels else ''}"


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
    if one.test is None:
        return "unknown"
    if one.margin.scale is Scale.RATIO:
        return f"{100.0 * math.expm1(one.test.difference):+.1f} %"
    unit, factor = unit_shown(quantity(one.quantity).unit)
    value = one.test.difference * factor
    digits = 3 if abs(one.margin.high * factor) < 1 else 1
    return f"{value:+.{digits}f} {unit}".rstrip()


def _interval(one: Judged) -> str:
    if one.test is None:
        return one.reason or ""
    low, high = one.test.interval
    if one.margin.scale is Scale.RATIO:
        return f"{100.0 * math.expm1(low):+.1f} to {100.0 * math.expm1(high):+.1f} %"
    unit, factor = unit_shown(quantity(one.quantity).unit)
    digits = 3 if abs(one.margin.high * factor) < 1 else 1
    return f"{low * factor:+.{digits}f} to {high * factor:+.{digits}f} {unit}".rstrip()


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
        _title(one.quantity),
        *cells,
        unit,
        _difference(one),
        _interval(one),
        margin_says(one.margin),
        str(one.outcome),
    )


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


# ------------------------------------------------------------------------------------ as JSON


def card_json(made: TestCard) -> dict[str, Any]:
    """The test card."""
    plan = made.plan
    return {
        "aircraft": made.sides.refit.aircraft,
        "refit": made.sides.refit.id,
        "baseline": [flight.id for flight in made.sides.before],
        "flights": plan.flights,
        "seconds": plan.seconds,
        "assumed": plan.assumed,
        "scatter": made.scatter,
        "margins": {"digest": made.sealed.digest, "at": made.sealed.at, "stated": dict(made.sealed.stated)},
        "needs": [
            {
                "quantity": need.quantity,
                "flights": need.flights,
                "seconds": need.seconds,
                "power": need.power,
                "power_of_one_long_flight": need.alone,
                "reason": need.reason,
            }
            for need in plan.needs
        ],
        "missing": list(plan.missing),
    }


def verdict_json(made: Given) -> dict[str, Any]:
    """The verdict; differences on the margin's scale: natural logarithms for ratios."""
    verdict = made.verdict
    return {
        "aircraft": made.sides.refit.aircraft,
        "refit": made.sides.refit.id,
        "outcome": str(verdict.outcome),
        "before": list(verdict.before),
        "after": list(verdict.after),
        "margins": None if made.sealed is None else {"digest": made.sealed.digest, "at": made.sealed.at},
        "scatter": made.scatter,
        "quantities": list(_quantities_json(verdict.quantities)),
        "missing": list(verdict.missing),
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
        }
        if one.test is not None and one.scatter is not None:
            made |= {
                "before": one.before,
                "after": one.after,
                "difference": one.test.difference,
                "interval_90": list(one.test.interval),
                "error": one.test.error,
                "dof": one.test.dof if math.isfinite(one.test.dof) else None,
                "p_equivalent": one.test.p,
                "p_different": one.test.p_beyond,
                "scatter": {"value": one.scatter.value, "from": one.scatter.says},
            }
        yield made
