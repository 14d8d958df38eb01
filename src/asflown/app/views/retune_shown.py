"""What a retune proposes, and what remains different."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asflown.app.views.predict_shown import predicted_json, said, warning_of
from asflown.app.views.sheet import Sheet, Table, counted

if TYPE_CHECKING:
    from asflown.app.retune import Proposal
    from asflown.core.behaviour.retune.loops import Kept

_NOTE = (
    "Kept: the old answer to the command from 0.5 to 25 Hz, with peak sensitivity and noise to the motors no"
    " worse than before. Nothing is applied: the values stand in the plan as a way to decide, and the flight"
    " has the last word."
)


def retuned_sheet(made: Proposal) -> Sheet:
    """The proposal: settings first, then what remains."""
    return Sheet(
        title="Retune",
        head=(
            ("aircraft", made.aircraft),
            ("release", made.release),
            ("baseline", made.planned.flight.id),
            ("turned", "gains and filters" if made.filters else "gains alone"),
        ),
        sentence=_sentence(made),
        tables=(_settings(made), _remains(made)),
        warnings=tuple(f"with the proposal {warning_of(one)}" for one in made.proposed.concerns),
        notes=(*_ends(made), _NOTE),
        next_act=_next(made),
    )


def _sentence(made: Proposal) -> str:
    if not made.settings:
        return "The plan's settings keep the old answer as well as this release can: nothing is proposed."
    told = " ".join(said(one) for one in made.proposed.axes.values())
    how = "The old answer is kept" if made.retuned.is_good else "The nearest that was found"
    return f"{how} with {counted(len(made.settings), 'setting')} changed. {told}"


def _next(made: Proposal) -> tuple[str, ...]:
    if not made.settings:
        return (f"plan the flying: asflown testcard {made.aircraft}",)
    if made.planned.concerns and not made.proposed.concerns:
        return (f"take them: asflown decide {made.aircraft} predicted.safety --choose retuned --why REASON",)
    names = ", ".join(f"{one.key} = {one.proposed}" for one in made.settings[:3])
    return (f"set what you want of it on the aircraft after the refit ({names} …), and keep a record",)


def _settings(made: Proposal) -> Table:
    rows = tuple((str(one.key), one.planned, one.proposed, one.unit or "") for one in made.settings)
    return Table(("setting", "planned#", "proposed#", "unit"), rows, title="Settings", empty="none")


def _remains(made: Proposal) -> Table:
    rows = []
    for axis, kept in made.retuned.axes.items():
        planned = made.retuned.planned[axis]
        rows.append((axis, "planned", *_cells(planned)))
        rows.append(("", "proposed", *_cells(kept)))
    columns = ("axis", "with", "gain dB#", "at Hz#", "phase deg#", "at Hz#", "peak#", "noise#")
    return Table(columns, tuple(rows), title="Largest differences from before, 0.5 to 25 Hz")


def _cells(one: Kept) -> tuple[str, ...]:
    noise = f"{one.noise:.3f}" if one.noise else "unknown"
    return (
        f"{one.decibels:.2f}",
        f"{one.decibels_at:.1f}",
        f"{one.degrees:.1f}",
        f"{one.degrees_at:.1f}",
        f"{one.peak:.3f}",
        noise,
    )


def _ends(made: Proposal) -> tuple[str, ...]:
    if not made.retuned.at_end:
        return ()
    return (f"At the end of the release's own range: {', '.join(made.retuned.at_end)}.",)


def retuned_json(made: Proposal) -> dict[str, Any]:
    """The proposal with its predictions."""
    return {
        "aircraft": made.aircraft,
        "release": made.release,
        "filters": made.filters,
        "good": made.retuned.is_good,
        "settings": [
            {"setting": str(one.key), "role": one.role, "planned": one.planned, "proposed": one.proposed}
            for one in made.settings
        ],
        "remains": {
            axis: {
                "planned": _kept_json(made.retuned.planned[axis]),
                "proposed": _kept_json(kept),
            }
            for axis, kept in made.retuned.axes.items()
        },
        "started": list(made.retuned.started),
        "best_start": made.retuned.best_start,
        "at_end_of_range": list(made.retuned.at_end),
        "planned": predicted_json(made.planned),
        "proposed": predicted_json(made.proposed),
    }


def _kept_json(one: Kept) -> dict[str, float | None]:
    return {
        "decibels": one.decibels,
        "decibels_at": one.decibels_at,
        "degrees": one.degrees,
        "degrees_at": one.degrees_at,
        "peak": one.peak,
        "noise": one.noise or None,
    }
