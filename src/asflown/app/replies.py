"""Replies: what the firmware's terminal printed while a listing was written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from asflown.app import state
from asflown.app.in_shape import OwnShape, Written, read_like, shapes_of
from asflown.app.read_back import need_written
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.app.write_out import make_rest, rest_name
from asflown.core.carry.dispositions import Left
from asflown.core.catalog import Catalog
from asflown.core.explain import Explained, Grounds
from asflown.core.plan import Plan
from asflown.core.record import Original
from asflown.core.refit import State
from asflown.core.replies import Replies, WrittenLine, read_replies
from asflown.errors import InputError


@dataclass(frozen=True, slots=True)
class Sent:
    """A listing that may be the one that was sent.

    Attributes
    ----------
    what
        In words: ``the listing to write``, ``the go-back listing`` …
    release
        The release it is meant for.
    is_old
        Whether it goes back to the old release.
    is_wrong
        Whether it should never have been sent.
    """

    what: str
    original: Original
    release: str
    is_old: bool = False
    is_wrong: bool = False


@dataclass(frozen=True)
class RepliesRead:
    """A transcript laid beside the listing it belongs to.

    Attributes
    ----------
    sent
        Which of the kept listings it fits best.
    explained
        Every complaint with its explanation.
    rest
        The listing with what is still to write, where writing stopped.
    """

    job: Job
    plan: Plan
    sent: Sent
    replies: Replies
    explained: tuple[Explained, ...]
    transcript: Original
    sheet: int
    at: str
    rest: Written | None = None
    rest_original: Original | None = None
    remarks: tuple[str, ...] = ()

    @property
    def is_clean(self) -> bool:
        """Whether every written setting shows and none was complained about."""
        return not self.replies.stopped and not self.explained and not self.replies.still_to_write


def read_transcript(work: Workplace, aircraft: str, data: bytes, name: str) -> RepliesRead:
    """Keep a transcript and lay it beside what was written.

    A transcript that stopped half-way makes the refit *partly written: do not fly*.

    Raises
    ------
    NeedsPerson
        When nothing was written out, or the refit has ended.
    InputError
        When the transcript is empty.
    """
    job = state.open_job(work, aircraft)
    need_written(job)
    plan = state.written_plan(work.store, job.refit)
    text = decode(data)
    if not text.strip():
        raise InputError(
            "the transcript is empty", where=name, next_step="save what the terminal printed while writing"
        )
    sent, replies = _best(work, job, text)
    catalog = (job.old.catalog if job.old else None) if sent.is_old else job.new
    explained = explain(replies, plan, catalog, sent.release)
    rest, remarks = _rest(work, job, sent, replies, catalog)
    refit = job.refit
    if sent.is_wrong or replies.stopped or (replies.is_attributed and replies.still_to_write):
        refit = state.become(refit, State.PARTLY_WRITTEN)
    with work.store.transaction() as tx:
        sheet = tx.next_sheet(refit.aircraft)
        transcript = tx.keep(data, name=name, kind="replies")
        kept_rest = tx.keep(rest.data, name=rest_name(job), kind="rest") if rest else None
        job = state.put(tx, job, refit)
        body = {
            "refit": refit.id,
            "sheet": sheet,
            "transcript": transcript.sha256,
            "listing": sent.original.sha256,
            "what": sent.what,
            **entry(replies, explained),
            "state": refit.state.value,
            "rest": kept_rest.sha256 if kept_rest else None,
            "rest_settings": len(rest.lines) if rest else 0,
        }
        tx.log(refit.aircraft, "replies", body)
    at = work.clock.now()
    return RepliesRead(job, plan, sent, replies, explained, transcript, sheet, at, rest, kept_rest, remarks)


def decode(data: bytes) -> str:
    """A transcript's text; a byte that is no UTF-8 shows as a replacement character."""
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if data.startswith(mark):
            return data.decode(encoding, "replace")
    return data.decode("utf-8", "replace")


def written_lines(data: bytes, shapes: Sequence[OwnShape]) -> tuple[WrittenLine, ...]:
    """Every line of a listing that was written, those that write a setting with its key and value.

    Parameters
    ----------
    shapes
        Shapes it may have been written in; the one that reads most settings counts.
    """
    readings = [read_like(shape, data) for shape in shapes]
    by_line = {setting.line: setting for setting in max(readings, key=len)}
    text = data.decode(shapes[0].listing.encoding, "replace")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    made = []
    for number, line in enumerate(lines, 1):
        setting = by_line.get(number)
        made.append(
            WrittenLine(number, line, setting.key, setting.value) if setting else WrittenLine(number, line)
        )
    return tuple(made)


def explain(replies: Replies, plan: Plan, catalog: Catalog | None, release: str) -> tuple[Explained, ...]:
    """Every complaint with its explanation."""
    complained = {
        line.key.name
        for line in (*(reply.after for reply in replies.complaints), *replies.not_found)
        if line is not None and line.key is not None
    }
    grounds = Grounds(plan, catalog, release, frozenset(complained))
    return tuple(grounds.explain(reply) for reply in replies.complaints)


def entry(replies: Replies, explained: Iterable[Explained]) -> dict[str, object]:
    """What the logbook keeps of a transcript."""
    stopped = replies.stopped_after
    return {
        "echo": replies.echo,
        "found": len(replies.found),
        "settings_found": sum(1 for line in replies.written if line.key and line.number in replies.found),
        "not_found": [line.number for line in replies.not_found if line.key],
        "stopped_after": stopped.number if stopped else None,
        "acknowledged": replies.acknowledged,
        "complaints": [
            [
                str(item.reply.after.key) if item.reply.after and item.reply.after.key else None,
                item.reply.text,
                item.says,
            ]
            for item in explained
        ],
    }


def candidates(work: Workplace, job: Job) -> Iterable[Sent]:
    """The listings of this refit that may have been sent, likeliest first."""
    made = job.refit.write_out
    assert made is not None
    new, old = job.refit.to_release, job.refit.from_release or "the old release"
    rests = [
        str(entry.body["rest"])
        for entry in reversed(work.store.book(job.refit.aircraft))
        if entry.kind in ("replies", "read-back")
        and entry.body.get("refit") == job.refit.id
        and entry.body.get("rest")
    ]
    by_hash = {original.sha256: original for original in work.store.originals()}
    yield Sent("the listing to write", made.listing, new)
    for sha256 in dict.fromkeys(rests):
        if sha256 in by_hash:
            yield Sent("the listing with the rest", by_hash[sha256], new)
    yield Sent("the go-back listing", made.back_listing, old, is_old=True)
    yield Sent("the as-found listing", made.back_original, new, is_wrong=True)


def _best(work: Workplace, job: Job, text: str) -> tuple[Sent, Replies]:
    """The listing whose lines show best in the transcript."""
    shapes = tuple(shapes_of(work.store, job.found, job.old))
    best: tuple[tuple[int, int], Sent, Replies] | None = None
    for sent in candidates(work, job):
        lines = written_lines(work.store.original(sent.original.sha256), shapes)
        replies = read_replies(lines, text)
        settings = [line for line in replies.written if line.key is not None]
        shown = sum(line.number in replies.found for line in settings) if replies.echo else 0
        rank = (shown, shown - len(settings) if replies.echo else -len(lines))
        if best is None or rank > best[0]:
            best = (rank, sent, replies)
        if shown and shown == len(settings):
            break  # every line of it shows; the listings after it are less likely
    assert best is not None
    return best[1], best[2]


def _rest(
    work: Workplace, job: Job, sent: Sent, replies: Replies, catalog: Catalog | None
) -> tuple[Written | None, tuple[str, ...]]:
    """The listing with what is still to write, and what should be said about what was sent."""
    if sent.is_wrong:
        return None, (
            "what was sent is the as-found listing itself, not the listing to write: its numbers may mean "
            f"other things in {sent.release}; erase and start again",
        )
    remarks: tuple[str, ...] = ()
    if sent.is_old:
        remarks = (f"the go-back listing was sent; it belongs on {sent.release} and on no other release",)
    items = tuple(Left(line.key, line.value) for line in replies.still_to_write if line.key is not None)
    try:
        return make_rest(work.store, job, items, catalog), remarks
    except InputError as error:
        return None, (*remarks, f"no listing with only the rest can be made: {error.what}")
