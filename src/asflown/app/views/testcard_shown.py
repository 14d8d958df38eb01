"""The test card as a sheet and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asflown.app.views.judged_words import margin_says, scatter_says, title_of
from asflown.app.views.sheet import Sheet, Table
from asflown.core.study.quantities import quantity

if TYPE_CHECKING:
    from asflown.app.judging.testcard import TestCard
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
        notes=(*_never(made.plan), scatter_says(made.scatter), _assumed(made.plan), _LOG),
        next_act=(f"after flying: asflown flight add LOG {refit.aircraft} --after",),
    )


def plan_says(plan: FlyingPlan) -> str:
    """What to fly, in one sentence."""
    if not plan.flights:
        return "No length of flying is enough: see below what to fly first."
    return f"{plan.flying[0].upper()}{plan.flying[1:]}."


def _assumed(plan: FlyingPlan) -> str:
    return (
        f"Planned for a verdict in 9 of 10 cases when the aircraft truly differs by {plan.assumed:.0%} of"
        " each margin (--assume says another share)."
    ).replace("%", " %")


def _never(plan: FlyingPlan) -> tuple[str, ...]:
    """What no flying after tells, together where the reason is the same."""
    by_reason: dict[str, list[str]] = {}
    for need in plan.never:
        by_reason.setdefault(str(need.reason), []).append(title_of(need.quantity))
    return tuple(
        f"Never told by flying after ({'; '.join(names)}): {reason}." for reason, names in by_reason.items()
    )


def _needs(made: TestCard) -> Table:
    rows = []
    for need in made.plan.needs:
        margin = next(m for m in made.margins if m.quantity in (need.quantity, quantity(need.quantity).name))
        rows.append(
            (
                title_of(need.quantity),
                margin_says(margin),
                _flights(need),
                f"{need.power:.0%}",
                f"{need.beyond:.0%}",
            )
        )
    missing = tuple(f"{title_of(name)}: not in the baseline" for name in made.plan.missing)
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
