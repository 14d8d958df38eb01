"""The logbook of an aircraft, and the check of everything kept."""

from __future__ import annotations

from dataclasses import replace

from asflown.faces.web.page import Act, Asked, Go, Page
from asflown.faces.web.pages.beside import others


def logbook(asked: Asked) -> Page:
    """An aircraft's logbook, and what comes next for it."""
    from asflown.app import kept
    from asflown.app import logbook as job
    from asflown.app.next_steps import next_steps
    from asflown.app.views.logbook_shown import logbook_json, logbook_sheet
    from asflown.faces import drawings

    store = asked.work.store
    aircraft = kept.aircraft(store, asked["aircraft"])
    read = job.read_book(store, aircraft.id)
    sheet = logbook_sheet(read)
    nexts = (*next_steps(store, aircraft.id), *sheet.next_act)
    return Page(
        replace(sheet, next_act=nexts),
        lambda: logbook_json(read),
        figures=lambda: drawings.of_logbook(read),
        others=others(aircraft.id),
        whose=aircraft.id,
    )


CHECK = Act("check", "Check everything now")


def verify(asked: Asked) -> Page:
    """Where everything kept is checked."""
    from asflown.app.views.sheet import Sheet

    says = "Every logbook, document and original is held against its hash, and every way back rebuilt."
    return Page(Sheet("Verify", (("date", asked.work.clock.now()),), says), acts=(CHECK,))


def check(asked: Asked) -> Page | Go:
    """Check it."""
    from asflown.app import logbook as job
    from asflown.app.views.logbook_shown import verified_json, verified_sheet

    found = job.verify(asked.work.store)
    sheet = verified_sheet(found, asked.work.clock.now())
    return Page(sheet, lambda: verified_json(found), acts=(CHECK,), status=200 if found.holds else 500)
