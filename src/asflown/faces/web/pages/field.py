"""One file for the phone at the field, and its entries taken in."""

from __future__ import annotations

from dataclasses import replace

from asflown.errors import UsageError
from asflown.faces.web.page import Act, Asked, Delivered, Field, Page
from asflown.faces.web.pages.beside import others

_SAVE = Act("save", "Save the field sheet (HTML)")
_TAKE = Act(
    "take",
    "Take the entries in",
    (Field("entries", "The file it saved", "file", needed=True),),
    title="Back from the field",
    note="What was taken before is known again; what cannot be noted is said, with the reason.",
)


def look(asked: Asked) -> Page:
    """What goes into the field sheet, and where its entries are brought."""
    from asflown.app.field import field_sheet
    from asflown.app.views.field_shown import field_json_made, field_sheet_made

    made = field_sheet(asked.work, asked["aircraft"])
    name = _name(made.refit.id)
    return Page(
        replace(field_sheet_made(made, name), next_act=()),
        lambda: field_json_made(made, name),
        acts=(_SAVE, _TAKE),
        others=others(made.cards.aircraft),
        whose=made.cards.aircraft,
    )


def act(asked: Asked) -> Page | Delivered:
    """Give the file, or take entries in."""
    from asflown.app.field import field_sheet, take_entries
    from asflown.app.views.field_shown import taken_sheet
    from asflown.faces.report.field import html_of_field

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    if sent.act == "save":
        made = field_sheet(asked.work, aircraft)
        return Delivered(html_of_field(made).encode(), _name(made.refit.id), "text/html; charset=utf-8")
    brought = sent.file("entries")
    if brought is None:
        raise UsageError("no entries were brought", next_step="choose the file that the field sheet saved")
    taken = take_entries(asked.work, *brought)
    whose = taken.entries.aircraft
    return Page(taken_sheet(taken), others=others(whose), whose=whose)


def _name(refit: str) -> str:
    return f"{refit}-field.html"
