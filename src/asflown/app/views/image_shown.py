"""The image sheet: what agrees, what differs, what nobody stated, and what may be written."""

from __future__ import annotations

from typing import Any

from asflown.app.views.sheet import Sheet, Table, listed, short
from asflown.core.image.facts import Checked, Fact, Standing

_MARKS = {Standing.AGREES: "= agrees", Standing.DIFFERS: "! differs", Standing.NOT_STATED: "? not stated"}


def account(checked: Checked) -> str:
    """How many facts agree, differ and were not stated; they add up."""
    agree, differ, open_ = (len(checked.standing(standing)) for standing in Standing)
    return f"{len(checked.facts)} facts · = {agree} agree · ! {differ} differ · ? {open_} not stated"


def asked_sheet() -> Sheet:
    """What checking an image is for."""
    return Sheet(
        "Image",
        (),
        "Check an image before it is written: each fact agrees, differs, or is not stated.",
        notes=("Nothing is written to a board here.", "Why a board is seen or not: asflown host-check"),
    )


def image_sheet(checked: Checked) -> Sheet:
    """What was found about an image."""
    image = checked.image
    return Sheet(
        title="Image",
        head=(
            ("image", f"{image.name}, {image.container.value}, {image.size} bytes"),
            ("board", checked.to.board or "not stated"),
            ("processor", f"{checked.to.flash.processor} ({checked.to.flash.source})"),
        ),
        sentence=sentence(checked),
        account=account(checked),
        warnings=tuple(f"{fact.subject}: {fact.statement}" for fact in checked.standing(Standing.DIFFERS)),
        tables=(
            Table(("fact", "stands", "what was found"), tuple(_row(fact) for fact in checked.facts)),
            _sectors(checked),
            *_functions(checked),
        ),
        notes=(
            "Not stated is no agreement: look at those by eye, or bring in what states them.",
            *(text[:1].upper() + text[1:] + "." for text in image.remarks),
        ),
        next_act=_next(checked),
        foot=(f"image {short(image.sha256)}",),
    )


def _row(fact: Fact) -> tuple[str, str, str]:
    return fact.subject, _MARKS[fact.standing], fact.statement


def sentence(checked: Checked) -> str:
    """Where things stand."""
    if checked.refused:
        names = listed(fact.subject for fact in checked.refused)
        return f"This image must not go on this board ({names}); there is no way past it."
    if checked.to_answer:
        names = listed(fact.subject for fact in checked.to_answer)
        return f"Nothing says that this image would stop the board from starting; it differs in: {names}."
    return "Nothing that was stated differs."


def _sectors(checked: Checked) -> Table:
    changed = None if checked.changed is None else {sector.number for sector in checked.changed}
    rows = tuple(
        (
            str(sector.number),
            f"0x{sector.start:08X}",
            f"{sector.size // 1024} KiB",
            "not stated" if changed is None else ("differs" if sector.number in changed else "as it is"),
        )
        for sector in checked.touched
    )
    return Table(
        ("sector#", "start", "size#", "against the old image"),
        rows,
        title="Sectors the image lies in",
        empty="none of this processor",
        folded=() if changed is not None else ("the old image was not given: --old FILE",),
    )


def _functions(checked: Checked) -> tuple[Table, ...]:
    if not checked.functions:
        return ()
    words = {True: "fits", False: "does not fit", None: "not stated"}
    rows = tuple(
        (fit.name, "not stated" if fit.flash is None else str(fit.flash), words[fit.fits])
        for fit in checked.functions
    )
    title = f"Optional functions of the release, each alone, in the {checked.room_left} bytes left"
    return (Table(("function", "bytes#", "in the room left"), rows, title=title),)


def _next(checked: Checked) -> tuple[str, ...]:
    if checked.refused:
        return ("get the image for this board and release from its maker, and check that",)
    return (
        "keep the aircraft's settings first: asflown found LISTING",
        "then, with an open refit, write it: asflown load IMAGE AIRCRAFT",
    )


def image_json(checked: Checked) -> dict[str, Any]:
    """What was found about an image, as JSON."""
    image, to = checked.image, checked.to
    return {
        "image": image.name,
        "container": image.container.value,
        "size": image.size,
        "sha256": image.sha256,
        "board": to.board,
        "processor": to.flash.processor,
        "may_be_written": not checked.refused,
        "counts": {standing.value: len(checked.standing(standing)) for standing in Standing},
        "facts": [
            {
                "subject": fact.subject,
                "standing": fact.standing.value,
                "statement": fact.statement,
                "no_way_past": fact.refuses,
            }
            for fact in checked.facts
        ],
        "segments": [{"address": s.address, "size": len(s.data)} for s in image.segments],
        "sectors": [sector.number for sector in checked.touched],
        "sectors_changed": None if checked.changed is None else [s.number for s in checked.changed],
        "room_left": checked.room_left,
        "functions": [{"name": fit.name, "flash": fit.flash, "fits": fit.fits} for fit in checked.functions],
        "remarks": list(image.remarks),
    }
