"""Records: those of an aircraft, one, a new one from a listing, and two compared."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Way
from asflown.faces.web.pages import over_link
from asflown.faces.web.pages.beside import links, others


def look(asked: Asked) -> Page:
    """The records of an aircraft."""
    from asflown.app import kept
    from asflown.app.views.record_shown import records_json, records_sheet

    store = asked.work.store
    aircraft = kept.aircraft(store, asked["aircraft"]).id
    entries = kept.record_entries(store, aircraft)
    ids = [str(entry.body["id"]) for entry in entries]
    return Page(
        replace(
            records_sheet(aircraft, entries),
            next_act=(f"keep another: asflown found LISTING --aircraft {aircraft}",),
        ),
        lambda: records_json(aircraft, entries),
        names=links("record", ids),
        others=others(aircraft),
        whose=aircraft,
        acts=(_compare_act(ids),) if len(ids) > 1 else (),
    )


_BY = (Way("settings", "setting by setting"), Way("amounts", "what they amount to in flight"))


def _compare_act(ids: list[str]) -> Act:
    ways = tuple(Way(id, id) for id in ids)
    return Act(
        "compare",
        "Compare them",
        (
            Field("first", "One record", "choice", ids[-2], ways),
            Field("second", "Another", "choice", ids[-1], ways),
            Field("by", "By", "ways", "settings", _BY, needed=True),
        ),
        address="/compare",
        title="Compare two records",
    )


def one(asked: Asked) -> Page:
    """One record: its facts and its settings; and what may be said of its lines."""
    from asflown.app import kept
    from asflown.app.views.record_shown import record_json, record_sheet

    record = kept.record(asked.work.store, asked["record"])
    sheet = record_sheet(record)
    return Page(
        replace(
            sheet,
            next_act=(*sheet.next_act, f"what it amounts to in flight: asflown behaviour show {record.id}"),
        ),
        lambda: record_json(record),
        acts=tuple(_sayings(record)),
        others=others(record.aircraft),
        whose=record.aircraft,
    )


def _sayings(record: Any) -> list[Act]:
    from asflown.core.carry.notice import repeats

    made = []
    if record.open_lines:
        made.append(
            Act(
                "set-aside",
                "Set these lines aside",
                (
                    Field("lines", "Lines", needed=True, hint="e.g. 3,7-9 or all"),
                    Field("what", "What they are"),
                ),
                title="Say that lines are no settings",
            )
        )
    if repeats(record):
        made.append(
            Act(
                "repeated",
                "Say so",
                (
                    Field(
                        "which",
                        "Of a setting that stands more than once",
                        "ways",
                        "last",
                        (Way("last", "the last one counts"), Way("first", "the first one counts")),
                    ),
                ),
                title="Say which one counts",
            )
        )
    return made


def say(asked: Asked) -> Go:
    """Say of a record's lines what they are."""
    from asflown.app import take_record

    sent, id = asked.sent, asked["record"]
    assert sent is not None
    if sent.act == "set-aside":
        take_record.set_aside(asked.work, id, sent.text("lines"), sent.text("what"))
        return Go(at("record", id), "Kept: these lines are no settings.")
    if sent.act == "repeated":
        which = sent.text("which")
        if which not in ("last", "first"):
            raise UsageError("say the last or the first")
        take_record.say_repeated(asked.work, id, "last" if which == "last" else "first")
        return Go(at("record", id), f"Kept: the {which} one counts.")
    raise UsageError("nothing was said")


_LISTING = Field(
    "listing",
    "Settings listing",
    "file",
    hint="a text file with one setting a line, saved from the aircraft's own terminal or tool",
)
_PASTED = Field("pasted", "Or paste it here", "area")
_MORE = (
    Field("release", "Release it was read under", hint="the aircraft's own where left empty", is_aside=True),
    Field("at", "When it was read", hint="e.g. 2026-03-07T09:12; now where left empty", is_aside=True),
    Field(
        "moment",
        "What it is",
        "choice",
        "as-found",
        (Way("as-found", "as found on the aircraft"), Way("factory", "factory listing of the release")),
        is_aside=True,
    ),
    Field(
        "extent",
        "What it shows",
        "choice",
        "",
        (Way("", "found out"), Way("full", "every setting"), Way("changes-only", "only what was changed")),
        is_aside=True,
    ),
    Field("set_aside", "Lines that are no settings", hint="e.g. 3,7-9 or all", is_aside=True),
    Field(
        "shape",
        "Shape of a line",
        hint="only where it was read wrongly, e.g. set {name} = {value}",
        is_aside=True,
    ),
    Field("against", "A second reading to compare with", "file", is_aside=True),
)
_CAUTION = "Propellers off and people clear while the board is connected."


def take(asked: Asked) -> Page:
    """Where a listing is brought."""
    from asflown.app import kept
    from asflown.app.views.sheet import Sheet

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"])
    sheet = Sheet(
        "Take a record",
        (("aircraft", aircraft.id), ("release", aircraft.release or "not stated")),
        "Bring the settings listing; you see what was learned of it before anything is kept.",
    )
    act = Act("look", "See what is learned", (_LISTING, _PASTED, *_MORE), cautions=(_CAUTION,))
    return Page(sheet, acts=(act, over_link.take_act(asked)), others=others(aircraft.id), whose=aircraft.id)


def keep(asked: Asked) -> Page | Go:
    """Show what was learned of a listing, then keep it."""
    from asflown.app import kept
    from asflown.app.listing_lines import look_at_listing
    from asflown.app.views.listing_sheet import listing_sheet
    from asflown.app.views.listing_shown import show_listing

    sent = asked.sent
    assert sent is not None
    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    if sent.act == "over":
        return over_link.take(asked)
    data, name = _listing(asked)
    if sent.act == "keep":
        return _kept(asked, aircraft, data, name)
    read = look_at_listing(data, name, shape=sent.said("shape"))
    shown = show_listing(read)
    # what is kept is what was looked at: the bytes go with the form
    carried = tuple(Field(one.name, "", "hidden", sent.text(one.name)) for one in _MORE if one.kind != "file")
    second = sent.file("against")
    again = (Field("against_hex", "", "hidden", second[0].hex()),) if second else ()
    fields = (
        Field("hex", "", "hidden", data.hex()),
        Field("name", "", "hidden", name),
        *(one for one in carried if one.name != "set_aside"),
        *again,
        Field(
            "set_aside", "Lines that are no settings", value=sent.text("set_aside"), hint="e.g. 3,7-9 or all"
        ),
        Field("keep_anyway", "Where a second reading differs: why it is kept all the same"),
    )
    act = Act("keep", "Keep this record", fields)
    return Page(
        replace(
            listing_sheet(shown, name),
            next_act=(f"bring another listing: asflown found --aircraft {aircraft}",),
        ),
        shown.to_json,
        acts=(act,),
        others=others(aircraft),
        whose=aircraft,
    )


def _listing(asked: Asked) -> tuple[bytes, str]:
    sent = asked.sent
    assert sent is not None
    if sent.text("hex"):
        try:
            return bytes.fromhex(sent.text("hex")), sent.text("name") or "listing"
        except ValueError as error:
            raise UsageError("the listing did not come back whole", next_step="bring it again") from error
    file = sent.file("listing")
    if file is not None:
        return file
    pasted = sent.texts.get("pasted", ("",))[0]
    if not pasted.strip():
        raise UsageError("no listing was brought", next_step="choose a file, or paste the listing")
    return pasted.encode(), "pasted listing"


def _kept(asked: Asked, aircraft: str, data: bytes, name: str) -> Go:
    from asflown.app import take_record
    from asflown.core.record import Extent, Moment

    sent = asked.sent
    assert sent is not None
    extent, second = sent.said("extent"), sent.text("against_hex")
    taken = take_record.take_record(
        asked.work,
        take_record.Request(
            data=data,
            name=name,
            aircraft=aircraft,
            moment=Moment.FACTORY if sent.text("moment") == "factory" else Moment.AS_FOUND,
            release=sent.said("release"),
            taken=sent.said("at"),
            extent=Extent(extent) if extent in ("full", "changes-only") else None,
            shape=sent.said("shape"),
            set_aside=sent.said("set_aside"),
            against=(bytes.fromhex(second), "second reading") if second else None,
            keep_anyway=sent.said("keep_anyway"),
        ),
    )
    return Go(at("record", taken.record.id), f"{taken.record.id} is kept.")


def compare(asked: Asked) -> Page:
    """Two records, setting by setting."""
    from asflown.app.compare import compare as compared_of
    from asflown.app.views.record_shown import compared_json, compared_sheet

    first, second = asked.query.get("first"), asked.query.get("second")
    if not first or not second:
        raise UsageError("two records are compared", next_step="choose them from an aircraft's records")
    compared = compared_of(asked.work.store, first, second)
    return Page(
        compared_sheet(compared), lambda: compared_json(compared), names=links("record", (first, second))
    )


def to_compare(asked: Asked) -> Go:
    """From the form to the page."""
    from urllib.parse import urlencode

    assert asked.sent is not None
    query = {name: asked.sent.text(name) for name in ("first", "second")}
    page = "/behaviour" if asked.sent.text("by") == "amounts" else "/compare"
    return Go(f"{page}?{urlencode(query)}")
