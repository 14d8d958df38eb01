"""The carry-over with what is to be decided, one decide slip, and *not now*."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from asflown.errors import NeedsPerson, UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Link, Page, Way
from asflown.faces.web.pages.beside import others
from asflown.faces.web.remember import remembered

if TYPE_CHECKING:
    from asflown.app.carry_over import Made
    from asflown.app.predict import Predicted

_KEYS = (("n", "next open question"), ("p", "the one before"), ("1-9", "choose"), ("w", "say why"))


def look(asked: Asked) -> Page:
    """The carry-over of the open refit; without one, where to go."""
    from asflown.app import decide, kept

    store, aircraft = asked.work.store, asked["aircraft"]
    described = kept.aircraft(store, aircraft)
    if kept.open_refit(store, described.id) is None:
        return _start(asked, described.id)
    return _shown(asked, decide.open_plan(asked.work, described.id))


def _start(asked: Asked, aircraft: str) -> Page:
    """Where to go, and from what."""
    from asflown.app import kept
    from asflown.app.views.sheet import Sheet

    store = asked.work.store
    record = kept.latest_record(store, aircraft)
    head = (("aircraft", aircraft), ("newest record", record.id if record else "none"))
    if record is None:
        sheet = Sheet(
            "Carry-over",
            head,
            "No record of this aircraft is kept yet: that is what a carry-over starts from.",
            next_act=(f"take one: asflown found --aircraft {aircraft}",),
        )
        return Page(sheet, others=others(aircraft), whose=aircraft)
    sheet = Sheet(
        "Carry-over",
        head,
        "No refit is open. Choose the release to go to; nothing on the aircraft is touched.",
    )
    ways = tuple(Way(release.id, release.id) for release, _ in kept.all_releases(store))
    fields = (
        Field("to", "Release to go to", "choice" if ways else "text", "", ways, needed=True),
        Field("notes", "Change notes that came by themselves (TOML)", "files"),
    )
    act = Act("plan", "Make the carry-over", fields)
    return Page(sheet, acts=(act,), others=others(aircraft), whose=aircraft)


def _shown(asked: Asked, made: Made) -> Page:
    from asflown.app import carry_over
    from asflown.app.views.carry_json import carry_json
    from asflown.app.views.carry_shown import Show, carry_sheet, folds_of
    from asflown.app.views.decide_asked import asked as asked_of
    from asflown.faces.report.kinds import carry_printed

    aircraft = made.plan.aircraft
    said = asked.query.get("show")
    folding = Show(said) if said in {str(one) for one in Show} else None
    sheet = carry_sheet(made, folding)
    here = folding or (Show.NEEDS_YOU if made.plan.open_groups else Show.CHANGED)
    groups = asked_of(made) if here is Show.NEEDS_YOU else ()
    if groups:
        # the questions stand on the page itself, in place of the table and of the way to them
        sheet = replace(sheet, tables=sheet.tables[1:], next_act=sheet.next_act[1:])
    folds = tuple(
        Link(f"{words} ({number})", f"{at('aircraft', aircraft, 'plan')}?show={show}", show is here)
        for show, words, number in folds_of(made)
    )

    def foreseen() -> Predicted | None:
        return remembered(
            asked.work, ("foreseen", aircraft), lambda: carry_over.foreseen(asked.work.store, made)
        )

    return Page(
        sheet,
        lambda: carry_json(made, foreseen()),
        acts=() if groups else tuple(_acts(made)),
        others=others(aircraft),
        whose=aircraft,
        folds=folds,
        printed=lambda: carry_printed(made, folding, foreseen()),
        template="carry.html",
        more={
            "groups": groups,
            "group_acts": [_group_act(one) for one in groups],
            "all_acts": tuple(_acts(made)) if groups else (),
            "keys": _KEYS if groups else (),
            "has_main": bool(groups),
        },
    )


def _group_act(group: Any) -> Act:
    ways = tuple(
        Way(one.word, f"{one.says}{' (recommended)' if one.is_recommended else ''}") for one in group.choices
    )
    typed = tuple(
        Field(f"value.{one.name}", f"{one.name} (found: {one.found})", is_aside=True) for one in group.typed
    )
    return Act(
        f"decide:{group.id}",
        "Decide",
        (
            Field("option", "Choose", "ways", "", ways, needed=True),
            *typed,
            Field("why", "Why", needed=True, hint="goes into the logbook"),
        ),
        is_in_place=True,
        aside="a value of your own",
    )


def _acts(made: Made) -> list[Act]:
    """Acts about the whole plan."""
    from asflown.app.decide import ADOPTABLE

    found = []
    groups = made.plan.open_groups
    why = Field("why", "Why", needed=True)
    if any(line.cause in ADOPTABLE for group in groups for line in group.lines):
        found.append(
            Act(
                "adopt",
                "Take the new factory values",
                (why,),
                title="All new and moved factory values at once",
                is_in_place=True,
            )
        )
    if any(group.is_as_before for group in groups):
        found.append(
            Act(
                "as-before",
                "Settle as before",
                (why,),
                title="Everything clear as it was decided before",
                note="What touches safety stays open.",
                is_in_place=True,
            )
        )
    if made.refit.decisions:
        found.append(
            Act("undo", "Take it back", (why,), title="Take the last decision back", is_in_place=True)
        )
    return found


def act(asked: Asked) -> Page | Go:
    """Plan, decide, adopt, settle as before, or take back."""
    from asflown.app import carry_over, decide

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    if sent.act == "plan":
        notes = tuple((one.data, one.name) for one in sent.files.get("notes", ()))
        made = carry_over.make_plan(
            asked.work, carry_over.Ask(aircraft=aircraft, to_release=sent.said("to"), notes=notes)
        )
        return Go(at("aircraft", made.plan.aircraft, "plan"))
    kind, _, group = sent.act.partition(":")
    if kind == "decide":
        return _decided(asked, group)
    if kind == "adopt":
        decide.adopt_factory(asked.work, aircraft, sent.text("why"))
    elif kind == "as-before":
        decide.as_before(asked.work, aircraft, sent.text("why"))
    elif kind == "undo":
        decide.undo(asked.work, aircraft, sent.text("why"))
    else:
        raise UsageError("nothing was chosen")
    return Go(at("aircraft", aircraft, "plan"))


def _decided(asked: Asked, group: str) -> Go:
    from asflown.app import decide

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    option = sent.text("option")
    if not option:
        raise UsageError("nothing was chosen", next_step="choose one of the ways and say why")
    values = {
        name.removeprefix("value."): texts[0].strip()
        for name, texts in sent.texts.items()
        if name.startswith("value.") and texts[0].strip()
    }
    choice = decide.Choice(group, option, sent.text("why"), values=values if option == "value" else {})
    decide.decide(asked.work, aircraft, choice)
    return Go(at("aircraft", aircraft, "plan"), f"Kept: {group}, {option}.")


def slip(asked: Asked) -> Page:
    """One open group with every line."""
    from asflown.app import decide
    from asflown.app.views.decide_asked import asked as asked_of
    from asflown.app.views.decide_shown import open_json, slip_sheet

    made = decide.open_plan(asked.work, asked["aircraft"])
    group = decide.group_of(made.plan, asked["group"])
    [shown] = asked_of(made, [group])
    return Page(
        replace(slip_sheet(made, group), next_act=()),
        lambda: open_json(made),
        acts=(replace(_group_act(shown), is_in_place=False),),
        others=others(made.plan.aircraft),
        whose=made.plan.aircraft,
    )


def decide(asked: Asked) -> Go:
    """Settle the group of a slip."""
    assert asked.sent is not None
    return _decided(asked, asked.sent.act.partition(":")[2] or asked["group"])


def not_now(asked: Asked) -> Page:
    """Put the refit off, with a reason."""
    from asflown.app import kept
    from asflown.app.views.sheet import Sheet

    found = kept.needed_refit(asked.work.store, asked["aircraft"])
    refit = found.refit
    says = f"Staying on {refit.from_release or 'the old release'} is a proper end: what was decided is kept."
    sheet = Sheet("Not now", (("aircraft", refit.aircraft), ("refit", refit.id)), says)
    return Page(
        sheet,
        acts=(Act("not-now", "End the refit", (Field("why", "Why", needed=True),)),),
        others=others(refit.aircraft),
        whose=refit.aircraft,
    )


def put_off(asked: Asked) -> Go:
    """End the refit."""
    from asflown.app.carry_over import not_now as job

    assert asked.sent is not None
    if not asked.sent.text("why"):
        raise NeedsPerson("say why: the reason goes into the logbook")
    refit = job(asked.work, asked["aircraft"], asked.sent.text("why"))
    return Go(at("aircraft", refit.aircraft), "The refit is ended; the aircraft stays as it is.")
