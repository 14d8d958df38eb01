"""Measured against predicted, and why an axis differs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from asflown.app.views.judged_words import (
    change_says,
    flying_says,
    interval_says,
    margin_says,
    title_of,
)
from asflown.app.views.sheet import Table
from asflown.core.verdict.expected import Agreement, Expected

if TYPE_CHECKING:
    from asflown.app.judging.causes import Cause, Suspect
    from asflown.app.judging.verdict import Given

_LOOK = "look for a loose part, another propeller, another pack or load, a bent arm"


def held_table(made: Given) -> tuple[Table, ...]:
    """Changes as measured and as predicted; those as predicted are folded into a sentence."""
    if not made.held:
        return ()
    shown = [one for one in made.held if one.agreement is not Agreement.AS_PREDICTED]
    alike = len(made.held) - len(shown)
    of = f"from {made.predicted.flight.id}" if made.predicted is not None else ""
    return (
        Table(
            ("figure", "measured#", "predicted#", "difference#", "90 % interval", "margin", "says"),
            tuple(_row(one) for one in shown),
            title=f"Measured against predicted {of}".rstrip(),
            folded=(f"{alike} of {len(made.held)} figures changed as predicted, within their margins",)
            if alike and shown
            else (),
            empty=f"all {len(made.held)} figures changed as predicted, within their margins",
        ),
    )


def _row(one: Expected) -> tuple[str, ...]:
    name, margin = one.judged.quantity, one.judged.margin
    assert one.judged.test is not None
    return (
        title_of(name),
        change_says(one.judged.test.difference, margin, name),
        change_says(one.predicted[0], margin, name),
        change_says(one.test.difference, margin, name),
        interval_says(*one.test.interval, margin, name),
        margin_says(margin),
        str(one.agreement),
    )


def found_otherwise(made: Given) -> tuple[str, ...]:
    """A flight that differs from its prediction though the settings match is a finding."""
    names = [title_of(one.judged.quantity) for one in made.held if one.agreement is Agreement.OTHERWISE]
    if not names:
        return ()
    return (f"Changed otherwise than the settings say: {'; '.join(names)}. Before flying on, {_LOOK}.",)


def causes_table(causes: Iterable[Cause]) -> tuple[Table, ...]:
    """What explains each axis that differs."""
    rows = tuple((one.axis, _said(one)) for one in causes)
    return (Table(("axis", "why"), rows, title="What explains it"),) if rows else ()


def _said(one: Cause) -> str:
    if one.reason is not None:
        return f"whether the settings explain it is not known: {one.reason}"
    if one.by_settings is False:
        return f"the settings do not explain it: {_LOOK}"
    lead = "the settings explain it" if one.by_settings else "the settings may explain it"
    if not one.suspects:
        return f"{lead}, but no one or two of them alone"
    first, *others = (_set_said(some) for some in one.suspects)
    also = f" So would {' or '.join(others)}." if others else ""
    return f"{lead}. The old answer would come back with {first}.{also}{_proof(one)}"


def _set_said(some: tuple[Suspect, ...]) -> str:
    return " and ".join(
        f"{one.name} {one.now} → {one.back}{f' {one.unit}' if one.unit else ''}" for one in some
    )


def _proof(one: Cause) -> str:
    if one.proof is None or one.proof_by is None:
        return ""
    return f" To prove it: {flying_says(one.proof)} with it ({title_of(one.proof_by)})."


def held_json(held: Iterable[Expected]) -> list[dict[str, Any]]:
    """Measured against predicted; differences on the margin's scale: natural logarithms for ratios."""
    return [
        {
            "quantity": one.judged.quantity,
            "agreement": str(one.agreement),
            "predicted": {"value": one.predicted[0], "low": one.predicted[1], "high": one.predicted[2]},
            "difference": one.test.difference,
            "interval_90": list(one.test.interval),
        }
        for one in held
    ]


def causes_json(causes: Iterable[Cause]) -> list[dict[str, Any]]:
    """Why each axis differs."""
    return [
        {
            "axis": one.axis,
            "by_settings": one.by_settings,
            "reason": one.reason,
            "suspects": [
                [{"setting": s.name, "now": s.now, "back": s.back, "unit": s.unit} for s in some]
                for some in one.suspects
            ],
            "proof": None
            if one.proof is None
            else {
                "flights": one.proof.flights,
                "seconds": one.proof.seconds,
                "quantity": one.proof_by,
            },
        }
        for one in causes
    ]
