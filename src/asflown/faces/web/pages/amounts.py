"""What settings amount to in flight, and what became of every name between two releases."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from asflown.errors import UsageError
from asflown.faces.web.page import Asked, Go, Link, Page
from asflown.faces.web.pages.beside import links, others

if TYPE_CHECKING:
    from asflown.app.behaviour import Compared


def one(asked: Asked) -> Page:
    """What the settings of a record, an aircraft or a refit's plan amount to."""
    from asflown.app.behaviour import behaviour_of
    from asflown.app.views.behaviour_shown import behaviour_json, behaviour_sheet

    shown = behaviour_of(asked.work.store, asked["settings"])
    return Page(behaviour_sheet(shown), lambda: behaviour_json(shown))


def two(asked: Asked) -> Page:
    """What changes between two of them."""
    from asflown.app.behaviour import compare_behaviour

    first, second = asked.query.get("first"), asked.query.get("second")
    if not first or not second:
        raise UsageError("two records are compared", next_step="choose them from an aircraft's records")
    return _compared(compare_behaviour(asked.work.store, first, second))


def planned(asked: Asked) -> Page:
    """What the carry-over changes: the settings as found against those planned."""
    from asflown.app import kept
    from asflown.app.behaviour import compare_behaviour

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    return _compared(compare_behaviour(asked.work.store, aircraft, None, plan=True), aircraft)


def _compared(made: Compared, aircraft: str = "") -> Page:
    from asflown.app.views.behaviour_compared import compared_behaviour_json, compared_behaviour_sheet

    return Page(
        compared_behaviour_sheet(made),
        lambda: compared_behaviour_json(made),
        others=others(aircraft) if aircraft else (),
        whose=aircraft,
    )


def match(asked: Asked) -> Page:
    """What became of every name between two releases that are kept."""
    from asflown.app import catalogs, matched
    from asflown.app.views.match_json import match_json
    from asflown.app.views.match_shown import Show, match_sheet

    old, new = asked.query.get("old"), asked.query.get("new")
    if not old or not new:
        raise UsageError("two releases are matched", next_step="choose them: asflown release list")
    said = asked.query.get("show")
    show = Show(said) if said in {str(each) for each in Show} else None
    folds = tuple(
        Link(
            str(each or "what differs"),
            f"/match?{urlencode({'old': old, 'new': new} | ({'show': str(each)} if each else {}))}",
            each is show,
        )
        for each in (None, *Show)
    )
    given = catalogs.both(old, new, lambda word, beside=(): None, lambda: asked.work.store)
    made = matched.match_given(*given)
    return Page(
        match_sheet(made, show), lambda: match_json(made), names=links("release", (old, new)), folds=folds
    )


def to_match(asked: Asked) -> Go:
    """From the form to the page."""
    assert asked.sent is not None
    return Go(f"/match?{urlencode({name: asked.sent.text(name) for name in ('old', 'new')})}")
