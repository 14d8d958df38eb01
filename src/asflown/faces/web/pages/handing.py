"""Hand-overs: one aircraft into a zip, and one taken in."""

from __future__ import annotations

from asflown.errors import UsageError
from asflown.faces.web.page import Act, Asked, Delivered, Field, Page, Way
from asflown.faces.web.pages.beside import links


def look(asked: Asked) -> Page:
    """Where an aircraft is handed over or taken in."""
    from asflown.app import kept
    from asflown.app.views.sheet import Sheet

    fleet = kept.all_aircraft(asked.work.store)
    ways = tuple(Way(one.id, f"{one.id}, {one.title}") for one in fleet)
    give = Act(
        "give",
        "Save the hand-over (zip)",
        (
            Field("aircraft", "Aircraft", "choice", "", ways),
            Field("private", "with home position, binding keys and names of people", "tick"),
        ),
        title="Hand an aircraft over",
        note="Everything about it in a zip that checks itself; what is left out is listed in it.",
    )
    take = Act(
        "take",
        "Check it and take it in",
        (Field("bag", "Hand-over (zip)", "file", needed=True),),
        title="Take one in",
        note="All of it or nothing; every file is held against its hash first.",
    )
    sheet = Sheet("Hand-over", (), "One aircraft goes with its whole logbook, or comes.")
    return Page(sheet, acts=(give, take) if ways else (take,))


def act(asked: Asked) -> Page | Delivered:
    """Give, or take in."""
    from asflown.app import handover, receive
    from asflown.app.views.handover_shown import received_json, received_sheet
    from asflown.faces.wiring import packed, unpacked

    sent, work = asked.sent, asked.work
    assert sent is not None
    if sent.act == "give":
        aircraft = sent.text("aircraft")
        handed = handover.hand_over(work, aircraft, with_private=sent.ticked("private"))
        return Delivered(packed(handed.files, aircraft), f"{aircraft}.zip", "application/zip")
    bag = sent.file("bag")
    if bag is None:
        raise UsageError("no hand-over was brought", next_step="choose the zip")
    received = receive.receive(work, unpacked(*bag), bag[1])
    return Page(
        received_sheet(received, work.clock.now()),
        lambda: received_json(received),
        names=links("aircraft", (received.aircraft,)),
    )
