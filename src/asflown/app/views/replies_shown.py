"""The replies sheet: what the terminal printed, laid beside what was written."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asflown.app.replies import RepliesRead
from asflown.app.views.read_back_shown import do_not_fly, rest_json, ways_on
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.explain import Explained
from asflown.core.refit import State


def replies_sheet(read: RepliesRead, place: str = "") -> Sheet:
    """The sheet of a transcript.

    Parameters
    ----------
    place
        Where the listing with the rest was put, where it was.
    """
    refit = read.job.refit
    partly = refit.state is State.PARTLY_WRITTEN
    return Sheet(
        title="Replies",
        head=(
            ("aircraft", refit.aircraft),
            ("sheet", f"{read.sheet:03d}"),
            ("date", read.at),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("laid beside", f"{read.sent.what}, {short(read.sent.original.sha256)}"),
        ),
        sentence=sentence(read),
        warnings=(*(do_not_fly(refit) if partly else ()), *read.remarks),
        tables=tuple(_tables(read)),
        notes=tuple(_notes(read)),
        next_act=tuple(_next(read, place)),
        foot=(f"transcript {short(read.transcript.sha256)}",),
    )


def sentence(read: RepliesRead) -> str:
    """Where things stand, made from the rows."""
    replies = read.replies
    settings = [line for line in replies.written if line.key is not None]
    shown = sum(line.number in replies.found for line in settings)
    if not replies.is_attributed:
        look = counted(len(read.explained), "reply", "replies")
        return (
            f"The transcript shows none of the {len(settings)} settings written, so nobody can tell from it "
            f"what arrived; {look} to look at. The read-back decides."
        )
    parts = [f"{shown} of {counted(len(settings), 'setting')} show"]
    if replies.stopped_after is not None:
        parts.append(f"writing stopped after line {replies.stopped_after.number}")
    elif shown < len(settings):
        parts.append(f"{len(settings) - shown} in between do not show")
    explained = sum(item.is_explained for item in read.explained)
    if read.explained:
        parts.append(
            f"{counted(len(read.explained), 'complaint')}, {explained} explained, "
            f"{len(read.explained) - explained} unexplained"
        )
    else:
        parts.append("no complaint")
    refit = read.job.refit
    return f"{'; '.join(parts)}. Refit {refit.id}: {refit.state.value}."


def _tables(read: RepliesRead) -> Iterable[Table]:
    if read.explained:
        rows = tuple(_row(item) for item in _by_consequence(read.explained))
        yield Table(
            ("line", "setting", "what it printed", "explained", "consequence"), rows, title="Complaints"
        )
    missing = [line for line in read.replies.not_found if line.key is not None]
    if missing and read.replies.is_attributed:
        shown = tuple((str(line.number), str(line.key), line.text.strip()) for line in missing[:30])
        folded = (f"folded: {len(missing) - 30} more lines",) if len(missing) > 30 else ()
        yield Table(("line#", "setting", "as written"), shown, title="Does not show", folded=folded)


def _by_consequence(explained: tuple[Explained, ...]) -> list[Explained]:
    return sorted(explained, key=lambda item: item.consequence.rank)


def _row(item: Explained) -> tuple[str, ...]:
    after = item.reply.after
    return (
        str(after.number) if after else "–",
        str(after.key) if after and after.key else (after.text.strip() if after else "–"),
        item.reply.text,
        item.says,
        str(item.consequence),
    )


def _notes(read: RepliesRead) -> Iterable[str]:
    replies = read.replies
    for text, number in replies.believed[:3]:
        yield (
            f"Taken as acknowledgement for its words: “{text}” ({counted(number, 'time')})."
            " Too few lines were written to compare it with others; the read-back decides."
        )
    for text, number in [one for one in replies.usual if one not in replies.believed][:3]:
        yield (
            f"Taken as acknowledgement, because most lines got it: “{text}” ({counted(number, 'time')})."
            " If these words refuse, nothing arrived."
        )
    if replies.is_assumed:
        yield "The transcript has no echo: the n-th reply was taken to answer the n-th line."
    if not replies.is_attributed and replies.stopped is False:
        yield "With echo switched on in the terminal, each reply could be laid beside its line."


def _next(read: RepliesRead, place: str) -> Iterable[str]:
    if read.job.refit.state is State.PARTLY_WRITTEN and not read.is_clean:
        yield from ways_on(read.job.refit, len(read.rest.lines) if read.rest else 0, place)
        return
    if read.explained:
        yield "look at each complaint; then store, restart, save a new listing: asflown readback LISTING"
    else:
        yield "store, restart, save a new listing: asflown readback LISTING"


def replies_json(read: RepliesRead, place: str = "") -> dict[str, Any]:
    """A transcript as JSON."""
    replies, refit = read.replies, read.job.refit
    stopped = replies.stopped_after
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "sheet": read.sheet,
        "listing": {
            "what": read.sent.what,
            "sha256": read.sent.original.sha256,
            "release": read.sent.release,
        },
        "echo": replies.echo,
        "attributed": replies.is_attributed,
        "assumed": replies.is_assumed,
        "settings": sum(line.key is not None for line in replies.written),
        "found": sum(line.key is not None and line.number in replies.found for line in replies.written),
        "stopped_after": None if stopped is None else {"line": stopped.number, "text": stopped.text},
        "not_found": [
            {"line": line.number, "setting": str(line.key)} for line in replies.not_found if line.key
        ],
        "acknowledged": replies.acknowledged,
        "usual": [{"text": text, "times": number} for text, number in replies.usual],
        "believed": [{"text": text, "times": number} for text, number in replies.believed],
        "complaints": [_complaint_json(item) for item in read.explained],
        "clean": read.is_clean,
        "rest": rest_json(read.rest_original.sha256 if read.rest_original else None, read.rest, place),
        "remarks": list(read.remarks),
        "next": list(_next(read, place)),
    }


def _complaint_json(item: Explained) -> dict[str, Any]:
    after = item.reply.after
    return {
        "transcript_line": item.reply.line,
        "text": item.reply.text,
        "line": after.number if after else None,
        "setting": str(after.key) if after and after.key else None,
        "explanation": item.says,
        "explained": item.is_explained,
        "consequence": item.consequence.value,
    }
