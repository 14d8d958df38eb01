"""What must hold before a board is touched: the record, the way back, the image, a person's word."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from asflown.app import gates, kept, state
from asflown.app.boards import board_file
from asflown.app.image_check import ReadFile, Wanted, check_against, flash_map
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.app.write_out import check_way
from asflown.core.image.facts import Checked
from asflown.core.image.flash import FlashMap
from asflown.core.load.journal import Answered, Load, Stage, What
from asflown.core.load.target import Held, Target, Want, flash_target, image_target
from asflown.core.record import Original
from asflown.core.refit import State
from asflown.core.wayback import way_back
from asflown.errors import DoesNotFit, Fault, NeedsPerson, UsageError

#: What a person says before anything is written.
PROPELLERS, PACK = "propellers off", "pack unplugged"


@dataclass(frozen=True, slots=True)
class Ask:
    """What a person asks to be loaded.

    Attributes
    ----------
    image
        Name of the image's file; ``None``: the one that is half written, or the old flash in going back.
    board
        A board's description, where the aircraft's is not kept.
    at
        Where a raw binary belongs, where the board does not state it.
    answers
        Reason by subject, for each difference of the image that does not brick.
    propellers_off, pack_unplugged
        Whether a person says so.
    port
        Where the board is plugged in; ``None``: the only one there is.
    same_board
        Why this is the aircraft's board though its flash says otherwise.
    """

    image: str | None = None
    board: str | None = None
    at: int | None = None
    answers: Mapping[str, str] | None = None
    propellers_off: bool = False
    pack_unplugged: bool = False
    port: str | None = None
    same_board: str = ""


@dataclass(frozen=True)
class Prepared:
    """A load that may begin.

    Attributes
    ----------
    data, name
        What is written: the image's file, or the old flash.
    checked
        The facts about the image, ``None`` where the old flash is put back.
    half
        The load that was cut off, ``None`` where the flash is whole.
    described
        The board's description, where it is not kept by itself.
    """

    job: Job
    what: What
    to: FlashMap
    target: Target
    data: bytes
    name: str
    at: int
    checked: Checked | None
    answered: tuple[Answered, ...]
    confirmed: str
    half: Load | None
    described: tuple[bytes, str] | None = None


def prepare_image(work: Workplace, aircraft: str, ask: Ask, read_file: ReadFile) -> Prepared:
    """Everything that must hold before the new image may be written.

    Raises
    ------
    NeedsPerson
        Without an open refit (it has the as-found record), with an incomplete way back, an open difference,
        or before a person said that propellers are off and the pack is unplugged.
    DoesNotFit
        When the image must not go on this board.
    """
    job = state.open_job(work, aircraft)
    half = half_load(work, job)
    if half is not None and half.what is not What.IMAGE:
        raise NeedsPerson(
            f"the old flash is half put back on {aircraft}'s board: nothing else comes before that",
            next_step=gates.next_act(job.refit),
        )
    if job.refit.state is State.PARTLY_WRITTEN and half is None:
        raise NeedsPerson(
            f"{aircraft} is partly written: the settings come first", next_step=gates.next_act(job.refit)
        )
    check_way(way_back(job.found, job.old, job.aircraft))
    to, described = board_of(work, job, ask, read_file, job.refit.to_board)
    name, data = _image(work, ask, read_file, half)
    checked = _checked(work, (name, data), to, ask, job.refit.to_release, read_file)
    answered = _answered(checked, ask, half)
    return Prepared(
        job,
        What.IMAGE,
        to,
        image_target(checked.image, to),
        data,
        checked.image.name,
        to.raw_at if ask.at is None else ask.at,
        checked,
        answered,
        confirmed(work, ask),
        half,
        described,
    )


def prepare_back(work: Workplace, job: Job, ask: Ask, read_file: ReadFile) -> Prepared:
    """The same for going back: the flash as it was read back before the first load, else the old image.

    Raises
    ------
    NeedsPerson
        When no flash was read back in this refit, and no old image is given.
    """
    half = half_load(work, job)
    to, described = board_of(work, job, ask, read_file, job.found.board)
    on_board = job.refit.on_board
    if ask.image is None:
        if on_board is None:
            raise NeedsPerson(
                f"no flash was read back in refit {job.refit.id}: asflown loaded nothing in it",
                next_step=f"give the old image: asflown back {job.refit.aircraft} --load --image FILE",
            )
        data = work.store.original(on_board.before.sha256)
        held = Held(to.flash.start, data)
        if len(data) != to.flash.size:
            raise DoesNotFit(
                f"the flash that was kept has {len(data)} bytes, {to.flash.processor} has {to.flash.size}",
                next_step="give the description of the board it was read from: --board FILE",
            )
        return Prepared(
            job,
            What.OLD_FLASH,
            to,
            flash_target(held, to),
            data,
            on_board.before.name,
            to.flash.start,
            None,
            (),
            confirmed(work, ask),
            half,
            described,
        )
    name, data = _image(work, ask, read_file, None)
    checked = _checked(work, (name, data), to, ask, job.found.release, read_file)
    return Prepared(
        job,
        What.OLD_IMAGE,
        to,
        _with_settings_erased(image_target(checked.image, to), to),
        data,
        checked.image.name,
        to.raw_at if ask.at is None else ask.at,
        checked,
        _answered(checked, ask, half),
        confirmed(work, ask),
        half,
        described,
    )


def _with_settings_erased(target: Target, to: FlashMap) -> Target:
    """The old image and erased settings: the order of going back is erase, image, listing."""
    mine = {want.sector for want in target.wants}
    stored = {s for region in to.settings or () for s in to.flash.touched(region.start, region.end)}
    erased = (Want(sector, b"\xff" * sector.size, ((sector.start, sector.end),)) for sector in stored - mine)
    wants = sorted((*target.wants, *erased), key=lambda want: want.sector.start)
    return Target(tuple(wants), target.vectors)


def half_load(work: Workplace, job: Job) -> Load | None:
    """The load that was cut off, ``None`` where the flash is whole."""
    if not job.refit.is_half_loaded:
        return None
    return next(
        (load for load, _ in reversed(kept.loads(work.store, job.refit.id)) if load.stage is Stage.HALF), None
    )


def board_of(
    work: Workplace, job: Job, ask: Ask, read_file: ReadFile, board: str | None
) -> tuple[FlashMap, tuple[bytes, str] | None]:
    """The board's flash, and its description where that is not kept by itself.

    The description given comes first, then the one that is kept for the aircraft's board, then the one an
    earlier load of this refit was given.

    Raises
    ------
    NeedsPerson
        When none is there.
    """
    if ask.board is not None:
        to = flash_map(ask.board, read_file, lambda: work.store)
        return to, read_file(ask.board) if ask.board.endswith(".toml") else None
    word = board or job.aircraft.board
    if word is not None and board_file(work.store, word) is not None:
        return flash_map(word, read_file, lambda: work.store), None
    for load, _ in reversed(kept.loads(work.store, job.refit.id)):
        if load.described is not None:
            return _described(work, load.described)
    raise NeedsPerson(
        f"the board {word!r} of {job.refit.aircraft} is not described: where an image belongs is unknown"
        if word
        else f"nothing says which board {job.refit.aircraft} has",
        next_step="describe it: asflown board new, asflown board add FILE; or give it: --board FILE",
    )


def _described(work: Workplace, kept_file: Original) -> tuple[FlashMap, tuple[bytes, str]]:
    file = work.store.original(kept_file.sha256), kept_file.name
    return flash_map(kept_file.name, lambda _: file, lambda: work.store), file


def _image(work: Workplace, ask: Ask, read_file: ReadFile, half: Load | None) -> tuple[str, bytes]:
    if ask.image is not None:
        data, name = read_file(ask.image)
        return name, data
    if half is None:
        raise UsageError("which image?", next_step="name its file: asflown load IMAGE")
    return half.wanted.name, work.store.original(half.wanted.sha256)


def _checked(
    work: Workplace,
    image: tuple[str, bytes],
    to: FlashMap,
    ask: Ask,
    release: str | None,
    read_file: ReadFile,
) -> Checked:
    name, data = image

    def read(word: str) -> tuple[bytes, str]:
        return (data, name) if word == name else read_file(word)

    known = release if release and kept.release_with_document(work.store, release) else None
    wanted = Wanted(name, to.board or to.flash.processor, known, ask.at)
    checked = check_against(wanted, to, read, lambda: work.store)
    if checked.refused:
        raise DoesNotFit(
            f"{name} must not go on this board; there is no way past it",
            faults=tuple(Fault(fact.statement, fact.subject) for fact in checked.refused),
            next_step="get the image for this board and release from its maker",
        )
    return checked


def _answered(checked: Checked, ask: Ask, half: Load | None) -> tuple[Answered, ...]:
    """Every difference with the reason a person gave.

    Raises
    ------
    NeedsPerson
        Naming each difference without a reason.
    UsageError
        When a reason is given for something that does not differ.
    """
    given = dict(ask.answers or {})
    before = {item.subject: item.why for item in half.answered} if half else {}
    unknown = sorted(set(given) - {fact.subject for fact in checked.to_answer})
    if unknown:
        raise UsageError(
            f"{checked.image.name} does not differ in {', '.join(unknown)}",
            next_step="look at it: asflown image check",
        )
    reasons = {**before, **given}
    open_ = [fact for fact in checked.to_answer if not reasons.get(fact.subject, "").strip()]
    if open_:
        subject = open_[0].subject
        raise NeedsPerson(
            f"{checked.image.name} differs in what a person must answer",
            faults=tuple(Fault(fact.statement, fact.subject) for fact in open_),
            next_step=f'answer each with the reason: --accept "{subject}=WHY"; or get the right image',
        )
    return tuple(Answered(fact.subject, fact.statement, reasons[fact.subject]) for fact in checked.to_answer)


def confirmed(work: Workplace, ask: Ask) -> str:
    """What a person said about propellers and pack.

    Raises
    ------
    NeedsPerson
        When it was not said.
    """
    said = (
        (ask.propellers_off, PROPELLERS, "--propellers-off"),
        (ask.pack_unplugged, PACK, "--pack-unplugged"),
    )
    missing = [(words, flag) for is_so, words, flag in said if not is_so]
    if missing:
        raise NeedsPerson(
            f"say first that it is so: {', '.join(words for words, _ in missing)}. A board that restarts with"
            " other firmware can start motors: take the propellers off, unplug the pack, power the board from"
            " USB alone",
            next_step=f"when it is so, add {' '.join(flag for _, flag in missing)}",
        )
    return f"{PROPELLERS}, {PACK}: said by {work.who}"
