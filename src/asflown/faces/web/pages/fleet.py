"""The aircraft: the list of them, a new one, what is known of one; and who works."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page
from asflown.faces.web.pages.beside import links, others

if TYPE_CHECKING:
    from asflown.app.needs import Store
    from asflown.core.refit import Refit


def look(asked: Asked) -> Page:
    """Every aircraft; where there is none, the way to a first record."""
    from asflown.app import kept
    from asflown.app.views.aircraft_shown import aircraft_list_json, aircraft_list_sheet

    store = asked.work.store
    fleet = [(one, _open(store, one.id)) for one in kept.all_aircraft(store)]
    current = store.memory(kept.CURRENT)
    sheet = aircraft_list_sheet(fleet, current)
    names = links("aircraft", (one.id for one, _ in fleet))
    if not fleet:
        return Page(replace(sheet, next_act=()), acts=(NEW,), template="first.html", names=names)
    acts = ("describe another one: asflown aircraft new",)
    return Page(replace(sheet, next_act=acts), lambda: aircraft_list_json(fleet, current), names=names)


def _open(store: Store, aircraft: str) -> Refit | None:
    from asflown.app import kept

    found = kept.open_refit(store, aircraft)
    return found.refit if found else None


NEW = Act(
    "new",
    "Keep this aircraft",
    (
        Field("id", "Short name", needed=True, hint="lower case letters, digits and hyphens, e.g. plover"),
        Field("title", "Title", hint="what people call it"),
        Field("board", "Board"),
        Field("release", "Release it has now"),
        Field("mass_kg", "Mass, kg"),
        Field("motors.count", "Number of motors"),
        Field("battery.cells", "Cells of the battery in series"),
    ),
    title="Describe an aircraft",
    note="The short name alone is enough to begin; what nobody states stands as not stated.",
    address="/new-aircraft",
)
FILE = Act(
    "file",
    "Keep what the file describes",
    (Field("file", "Description (TOML)", "file", needed=True),),
    title="Or bring a description",
    address="/new-aircraft",
)


def new(asked: Asked) -> Page:
    """A form for a new aircraft."""
    from asflown.app.views.sheet import Sheet

    sheet = Sheet("New aircraft", (), "A short name is enough to begin.")
    return Page(sheet, acts=(NEW, FILE))


def make(asked: Asked) -> Go:
    """Keep a new aircraft."""
    from asflown.app import aircraft as job
    from asflown.core.aircraft import Aircraft

    sent = asked.sent
    assert sent is not None
    file = sent.file("file")
    if sent.act == "file":
        if file is None:
            raise UsageError("no file was chosen", next_step="choose the description, a TOML file")
        described = job.from_file(*file)
    else:
        described = Aircraft(id=sent.text("id"), title=sent.text("title") or sent.text("id"))
        described = job.with_facts(
            described, {one.name: sent.text(one.name) for one in NEW.fields[2:] if sent.text(one.name)}
        )
    made = job.new_aircraft(asked.work, described).aircraft
    return Go(at("aircraft", made.id, "take"), f"{made.id} is kept. Bring its settings listing next.")


def about(asked: Asked) -> Page:
    """What is known of one aircraft, and a form to change it."""
    from asflown.app import kept
    from asflown.app.views.aircraft_shown import aircraft_json, aircraft_sheet

    store = asked.work.store
    made = kept.aircraft(store, asked["aircraft"])
    found = kept.open_refit(store, made.id)
    refit = found.refit if found else None
    return Page(
        replace(aircraft_sheet(made, refit), next_act=()),
        lambda: aircraft_json(made, refit),
        acts=(CHANGE,),
        others=others(made.id),
        whose=made.id,
    )


CHANGE = Act(
    "change",
    "Keep the change",
    (
        Field(
            "facts",
            "Facts to change, one a line",
            "area",
            needed=True,
            hint="KEY=VALUE, e.g. release=marram-5.0 or device.esc.version=2.1; an empty value: not stated",
        ),
    ),
    title="Change what is known",
)


def change(asked: Asked) -> Go:
    """Keep changed facts."""
    from asflown.app import aircraft as job

    assert asked.sent is not None
    facts: dict[str, str] = {}
    for line in asked.sent.text("facts").splitlines():
        if not line.strip():
            continue
        key, sign, value = line.partition("=")
        if not sign:
            raise UsageError(f"{line.strip()!r} says no value", next_step="write KEY=VALUE, one a line")
        facts[key.strip()] = value.strip()
    made = job.edit_aircraft(asked.work, asked["aircraft"], lambda one: job.with_facts(one, facts))
    return Go(at("aircraft", made.aircraft.id, "about"), f"Changed: {'; '.join(made.changed) or 'nothing'}.")


WHO = Act("who", "Work under this name", (Field("who", "Name", needed=True),))


def who(asked: Asked) -> Page:
    """Who works: the name that decisions and gates are entered under."""
    from asflown.app.views.sheet import Sheet

    name = asked.work.who
    sheet = Sheet("Who works", (("name", name),), f"What is done from this browser is entered under {name}.")
    act = replace(WHO, fields=(replace(WHO.fields[0], value=name),))
    return Page(sheet, acts=(act,))


def say_who(asked: Asked) -> Go:
    """Take another name in this browser."""
    assert asked.sent is not None
    name = asked.sent.text("who")
    if not name or not name.isprintable() or len(name) > 80:
        raise UsageError("that is no name", next_step="write a name of at most 80 letters")
    return Go("/", f"You work as {name}.", who=name)
