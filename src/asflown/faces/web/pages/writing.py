"""The writing sheet, the read-back, and going back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.errors import NeedsPerson, UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Delivered, Field, Go, Page, Way
from asflown.faces.web.pages import over_link
from asflown.faces.web.pages.beside import links, others

if TYPE_CHECKING:
    from asflown.app.read_back import Reading
    from asflown.core.refit import Refit

_OFF = "Propellers off, pack unplugged and people clear before the board is touched."
_EXTENT = Field(
    "extent",
    "What it shows",
    "choice",
    "",
    (Way("", "found out"), Way("full", "every setting"), Way("changes-only", "only what was changed")),
    is_aside=True,
)
_READING = (
    Field("listing", "Listing saved from the board", "file", needed=True),
    _EXTENT,
    Field("shape", "Shape of a line", is_aside=True),
    Field("set_aside", "Lines that are no settings", hint="e.g. 3,7-9 or all", is_aside=True),
)


def look(asked: Asked) -> Page:
    """What was written out, with its files; before that, where it is made."""
    from asflown.app import kept, write_out
    from asflown.app.views.sheet import Sheet
    from asflown.app.views.written_out import written_json, written_sheet

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    refit = kept.needed_refit(asked.work.store, aircraft).refit
    if refit.write_out is None:
        way = Field(
            "extent",
            "What to write",
            "choice",
            "",
            (
                Way("", "what differs from factory, where every factory value is stated"),
                Way("everything", "every planned setting"),
                Way("changes-only", "only what differs from factory"),
            ),
            is_aside=True,
        )
        sheet = Sheet(
            "Writing sheet",
            (("aircraft", aircraft), ("refit", f"{refit.id}, {refit.state.value}")),
            "The listing to write is made together with the way back, or not at all.",
        )
        act = Act("write-out", "Write the listing out", (way,))
        return Page(sheet, acts=(act,), others=others(aircraft), whose=aircraft)
    made = write_out.written_again(asked.work, aircraft)
    files = Act(
        "files", "Save all files (zip)", note="README.txt in it leads through the order of the steps."
    )
    acts = [files, over_link.write_act(asked, is_back=False)]
    if refit.state.value == "partly written":
        acts.append(Act("rest", "Save the listing with what is missing", cautions=(_OFF,)))
    return Page(
        written_sheet(made),
        lambda: written_json(made),
        acts=tuple(acts),
        others=others(aircraft),
        whose=aircraft,
    )


def act(asked: Asked) -> Page | Go | Delivered:
    """Write out, or give the files."""
    from asflown.app import write_out
    from asflown.faces.wiring import packed

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    if sent.act == "write-out":
        everything = {"everything": True, "changes-only": False}.get(sent.text("extent"))
        write_out.write_out(asked.work, aircraft, everything=everything)
        return Go(at("aircraft", aircraft, "write"), "Written out; the way back is kept with it.")
    if sent.act == "over":
        return over_link.write(asked, is_back=False)
    if sent.act == "files":
        made = write_out.written_again(asked.work, aircraft)
        name = write_out.folder_name(asked.work, aircraft)
        return Delivered(packed(made.files, name), f"{name}.zip", "application/zip")
    if sent.act == "rest":
        rest = write_out.rest_of(asked.work, aircraft)
        return Delivered(rest.data, rest.name, "text/plain")
    raise UsageError("nothing was chosen")


def _written_refit(asked: Asked) -> Refit:
    """The open refit, once it was written out: before that there is nothing to compare with."""
    from asflown.app import kept

    refit = kept.needed_refit(asked.work.store, asked["aircraft"]).refit
    if refit.write_out is None:
        raise NeedsPerson(
            "nothing was written out yet: there is nothing to compare with",
            next_step=f"write the listing out: asflown write-out {refit.aircraft}",
        )
    return refit


def replies(asked: Asked) -> Page:
    """Where the terminal's answers are brought."""
    from asflown.app.views.sheet import Sheet

    refit = _written_refit(asked)
    sheet = Sheet(
        "Replies",
        (("aircraft", refit.aircraft), ("refit", f"{refit.id}, {refit.state.value}")),
        "What the terminal printed while the lines were written is laid beside them: each reply is attributed"
        " to its setting, each complaint explained from the carry-over or marked unexplained.",
    )
    fields = (
        Field("transcript", "Saved terminal output, whole or cut", "file"),
        Field("pasted", "Or paste it here", "area"),
    )
    act = Act("lay", "Lay it beside what was written", fields, cautions=(_OFF,))
    return Page(sheet, acts=(act,), others=others(refit.aircraft), whose=refit.aircraft)


def lay_beside(asked: Asked) -> Page:
    """The terminal's answers beside the lines."""
    from asflown.app.replies import read_transcript
    from asflown.app.views.replies_shown import replies_json, replies_sheet

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    pasted = sent.texts.get("pasted", ("",))[0]
    data, name = sent.file("transcript") or (pasted.encode(), "pasted")
    if not data.strip():
        raise UsageError("no terminal output was brought", next_step="choose the file, or paste it")
    read = read_transcript(asked.work, aircraft, data, name)
    rest = Act("rest", "Save the listing with what is missing", address=at("aircraft", aircraft, "write"))
    return Page(
        replies_sheet(read, ""),
        lambda: replies_json(read, ""),
        acts=(rest,) if read.rest else (),
        others=others(aircraft),
        whose=aircraft,
    )


def read_back(asked: Asked) -> Page:
    """Where a listing saved after writing is brought."""
    from asflown.app.views.sheet import Sheet

    refit = _written_refit(asked)
    sheet = Sheet(
        "Read-back",
        (("aircraft", refit.aircraft), ("refit", f"{refit.id}, {refit.state.value}")),
        "After storing and restarting, save a new listing from the board and bring it: every setting is"
        " compared with the plan.",
    )
    return Page(
        sheet,
        acts=(Act("compare", "Compare with the plan", _READING, cautions=(_OFF,)),),
        others=others(refit.aircraft),
        whose=refit.aircraft,
    )


def compare(asked: Asked) -> Page:
    """As left against as planned."""
    from asflown.app import read_back as job
    from asflown.app.views.read_back_shown import read_back_json, read_back_sheet

    aircraft = asked["aircraft"]
    done = job.read_back(asked.work, aircraft, _reading(asked))
    rest = Act("rest", "Save the listing with what is missing", address=at("aircraft", aircraft, "write"))
    return Page(
        read_back_sheet(done, ""),
        lambda: read_back_json(done, ""),
        acts=(rest,) if done.rest else (),
        names=links("record", (done.record.id,)),
        others=others(aircraft),
        whose=aircraft,
    )


def _reading(asked: Asked) -> Reading:
    from asflown.app.read_back import Reading
    from asflown.core.record import Extent

    sent = asked.sent
    assert sent is not None
    file = sent.file("listing")
    if file is None:
        raise UsageError("no listing was brought", next_step="choose the listing saved from the board")
    extent = sent.text("extent")
    return Reading(
        *file,
        Extent(extent) if extent in ("full", "changes-only") else None,
        sent.said("shape"),
        sent.said("set_aside"),
    )


def back(asked: Asked) -> Page:
    """The way back, and its proof."""
    from asflown.app import kept
    from asflown.app.back import shown_back
    from asflown.app.views.wayback_shown import back_json, back_sheet
    from asflown.faces.report.printed import Printed

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    ready = shown_back(asked.work, aircraft)
    files = Act("files", "Save the way back (zip)", cautions=(_OFF,))
    prove = Act("prove", "Prove it", _READING, title="After going back: bring a listing", cautions=(_OFF,))
    return Page(
        replace(back_sheet(ready), next_act=()),
        lambda: back_json(ready),
        printed=lambda: Printed(back_sheet(ready), lambda: back_json(ready), signs=("Went back by",)),
        acts=(files, over_link.write_act(asked, is_back=True), prove),
        others=others(aircraft),
        whose=aircraft,
    )


def go_back(asked: Asked) -> Page | Go | Delivered:
    """Give the files of the way back, or prove that it was gone."""
    from asflown.app.back import prepare_back, prove_back
    from asflown.app.views.wayback_shown import back_done_json, back_done_sheet
    from asflown.faces.wiring import packed

    sent, aircraft = asked.sent, asked["aircraft"]
    assert sent is not None
    if sent.act == "files":
        ready = prepare_back(asked.work, aircraft)
        name = f"{ready.job.refit.id}-back"
        return Delivered(packed(ready.files, name), f"{name}.zip", "application/zip")
    if sent.act == "over":
        return over_link.write(asked, is_back=True)
    if sent.act != "prove":
        raise UsageError("nothing was chosen")
    done = prove_back(asked.work, aircraft, _reading(asked))
    return Page(
        back_done_sheet(done, ""),
        lambda: back_done_json(done, ""),
        names=links("record", (done.record.id,)),
        others=others(aircraft),
        whose=aircraft,
    )
