"""The verdict on a refit: flights before against flights after, and measured against predicted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.app import kept, state
from asflown.app.judging.causes import Cause, causes_of
from asflown.app.judging.margins import Margins, sealed
from asflown.app.judging.sides import Sides, refit_meant, sides_of
from asflown.app.workplace import Workplace
from asflown.core.refit import GateName
from asflown.core.verdict.estimate import of_flight
from asflown.core.verdict.expected import Agreement, Expected, expected
from asflown.core.verdict.judge import Outcome, Verdict, judge
from asflown.core.verdict.margins import Margin
from asflown.errors import NeedsPerson

if TYPE_CHECKING:
    from asflown.app.predict import Predicted

#: Kind of the logbook's entries.
KIND = "verdict"
_ANSWERS = {Outcome.AS_BEFORE: "passed", Outcome.DIFFERS: "failed"}


@dataclass(frozen=True)
class Given:
    """A verdict with what it rests on.

    Attributes
    ----------
    sealed
        ``None``: the usual margins, which nobody sealed before the flight.
    predicted
        What was predicted for the settings as left; ``None`` where nothing could be.
    held
        Measured changes against the predicted ones.
    causes
        Of every axis that differs.
    """

    sides: Sides
    verdict: Verdict
    margins: tuple[Margin, ...]
    sealed: Margins | None
    predicted: Predicted | None
    scatter: float | None
    held: tuple[Expected, ...] = ()
    causes: tuple[Cause, ...] = ()


def give(work: Workplace, aircraft: str, *, scatter: float | None = None, is_noted: bool = True) -> Given:
    """Judge the flights after a refit by those before it, and note it in the logbook.

    Parameters
    ----------
    scatter
        A factor on the prior spread between flights, taken as known; ``None``: moderated by the flights.
    is_noted
        Whether the logbook and the refit's gate are told.

    Raises
    ------
    NeedsPerson
        Without a refit, or without a flight on either side.
    """
    refit = refit_meant(work.store, aircraft)
    sides = sides_of(work.store, refit)
    _refuse(sides)
    margins, kept_margins = sealed(work.store, refit)
    made = judge(
        [of_flight(flight) for flight in sides.before],
        [of_flight(flight) for flight in sides.after],
        margins,
        scatter=scatter,
        history=[[of_flight(flight) for flight in group] for group in sides.others],
    )
    foreseen = _predicted(work, sides)
    held = () if foreseen is None else expected(made, foreseen.axes)
    causes = causes_of(work.store, made, held, foreseen, refit, margins)
    given = Given(sides, made, margins, kept_margins, foreseen, scatter, held, causes)
    if is_noted:
        _note(work, given)
    return given


def _refuse(sides: Sides) -> None:
    refit = sides.refit
    if not sides.before:
        raise NeedsPerson(
            f"no flight with the settings of {refit.found} is kept: without a baseline there is no verdict",
            next_step=f"measure a log of one: asflown flight add LOG {refit.aircraft} --before",
        )
    if refit.as_left is None:
        raise NeedsPerson(
            f"{refit.id} has no record as left: nobody knows which settings would be judged",
            next_step=f"read the aircraft back: asflown readback LISTING --aircraft {refit.aircraft}",
        )
    if not sides.after:
        raise NeedsPerson(
            f"no flight with the settings of {refit.as_left} is kept",
            next_step=f"fly the test card, then: asflown flight add LOG {refit.aircraft} --after",
        )


def _predicted(work: Workplace, sides: Sides) -> Predicted | None:
    """What the baseline predicts for the settings as left."""
    from asflown.app.flights.known import declared_controllers
    from asflown.app.predict import predicted

    base = next((flight for flight in reversed(sides.before) if flight.identified), None)
    if base is None or sides.refit.as_left is None:
        return None
    after = declared_controllers(work.store, sides.refit.aircraft, record=sides.refit.as_left)
    made = predicted(work.store, base, after, sides.refit.as_left)
    return made if made.axes else None


def _note(work: Workplace, given: Given) -> None:
    """Keep the verdict in the logbook, and with the refit's gate where it says something; once the same."""
    refit, made = given.sides.refit, given.verdict
    body: dict[str, object] = {
        "refit": refit.id,
        "outcome": str(made.outcome),
        "before": list(made.before),
        "after": list(made.after),
        "margins": given.sealed.digest if given.sealed else None,
        "different": [one.quantity for one in made.different],
        "open": [one.quantity for one in made.open],
        "scatter": given.scatter,
        "not_as_predicted": [
            one.judged.quantity for one in given.held if one.agreement is Agreement.OTHERWISE
        ],
    }
    last = next((e for e in reversed(work.store.book(refit.aircraft)) if e.kind == KIND), None)
    if last is not None and {**last.body} == body:
        return
    found = kept.refit(work.store, refit.id)
    assert found is not None
    answer = _ANSWERS.get(made.outcome)
    with work.store.transaction() as tx:
        if answer is not None:
            says = f"{made.outcome}: {', '.join(made.after)} against {', '.join(made.before)}"
            now = state.answer(work, found.refit, GateName.VERDICT, answer, says)
            job = state.put(tx, state.job_of(work.store, found), now)
            state.log_gate(tx, job.refit, GateName.VERDICT)
        tx.log(refit.aircraft, KIND, body)
