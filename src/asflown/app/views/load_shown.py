"""The writing sheet of a load: what was on the board, what is on it now, and how that is known."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asflown.app import gates
from asflown.app.load.run import Loaded
from asflown.app.needs import Plugged
from asflown.app.state import Job
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.image.processors import processor
from asflown.core.load.journal import Load, Stage, What

#: How a board gets into its boot loader, in the order people try (common practice, no source).
WAYS_IN = (
    "propellers off, pack unplugged, USB unplugged",
    "hold the board's boot button, plug USB in, let go after two seconds",
    "no button: bridge the two boot pads with tweezers while plugging in, then take them away",
    "by a serial adapter (3.3 V): boot pads bridged, its TX to the board's RX, its RX to TX, ground to"
    " ground; power the board from USB alone; then --port and the adapter's name",
    "nothing shows up: asflown host-check",
)
ONLY_SIMULATED = (
    "This way of writing was tried on simulated boards alone; no person has confirmed a real one yet. Keep"
    " the maker's own way at hand, and say how it went."
)


def loaded_sheet(job: Job, load: Load) -> Sheet:
    """A load as it is kept: done, or cut off."""
    refit = job.refit
    return Sheet(
        title="Image written" if load.what is What.IMAGE else "Old flash put back",
        head=(
            ("aircraft", f"{job.aircraft.title} ({refit.aircraft})"),
            ("date", load.ended or load.begun),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("board", f"{load.board or 'not stated'} ({load.processor}), at {load.port}"),
            ("loader", load.loader),
            ("confirmed", load.confirmed),
        ),
        sentence=_sentence(load),
        warnings=tuple(_warnings(load)),
        tables=(Table(("step", "what was done"), _steps(job, load)), _sectors(load), *_answered(load)),
        notes=(*(text[:1].upper() + text[1:] + "." for text in load.remarks), ONLY_SIMULATED),
        next_act=_next(job, load),
        foot=(f"image {short(load.wanted.sha256)}", f"old flash {short(load.before.sha256)}"),
    )


def _sentence(load: Load) -> str:
    if load.stage is not Stage.PROVEN:
        return f"{load.wanted.name}: {load.stage.value}."
    if load.was_there:
        return f"The board held {load.wanted.name} already: every byte was read, and nothing was written."
    sectors = counted(len(load.sectors), "sector")
    return (
        f"The board holds {load.wanted.name}: {sectors} erased and written, all of its flash read back and"
        f" compared byte for byte, in {load.seconds:.1f} s."
    )


def _warnings(load: Load) -> Iterator[str]:
    if load.stage is Stage.HALF:
        yield "do not fly: the board starts neither the old firmware nor the new one"
    yield "propellers stay off, the pack stays unplugged: the settings are not proven yet"
    if load.started is False:
        yield "the board did not leave its boot loader by itself: unplug it and plug it in again"


def _steps(job: Job, load: Load) -> tuple[tuple[str, str], ...]:
    is_proven = load.stage is Stage.PROVEN
    written = "nothing: it was there already" if load.was_there else f"{load.written} bytes"
    whole = "every byte of the flash is as it should be; what was not to be touched is as before"
    started = {True: "started", False: "still in its boot loader", None: "not yet"}[load.started]
    return (
        ("as-found record", f"{job.found.id}, {counted(len(job.found.settings), 'setting')}, kept"),
        ("image", f"{load.wanted.name}: {load.says}"),
        ("before", load.confirmed),
        ("old flash", f"read twice and kept: {load.before.size} bytes, SHA-256 {load.before.sha256}"),
        ("written", written if is_proven else "not all"),
        ("read back", whole if is_proven else "not yet"),
        ("board", started),
    )


def _sectors(load: Load) -> Table:
    flash = processor(load.processor)
    sectors = () if flash is None else tuple(s for s in flash.sectors if s.number in load.sectors)
    rows = tuple((str(s.number), f"0x{s.start:08X}", f"{s.size // 1024} KiB") for s in sectors)
    title = "Sectors erased, written and read back"
    return Table(("sector#", "start", "size#"), rows, title=title, empty="none")


def _answered(load: Load) -> tuple[Table, ...]:
    if not load.answered:
        return ()
    rows = tuple((item.subject, item.statement, item.why) for item in load.answered)
    return (Table(("differs in", "what was found", "why it may be"), rows, title="Differences answered"),)


def _next(job: Job, load: Load) -> tuple[str, ...]:
    refit = job.refit
    if load.what is not What.IMAGE or load.stage is not Stage.PROVEN:
        acts = [gates.next_act(refit)]
        if load.what is What.OLD_IMAGE:
            acts.insert(0, f"write the go-back listing: asflown back {refit.aircraft} --out FOLDER")
        return tuple(acts)
    return (
        "save the new release's fresh factory listing from the board: asflown found LISTING --factory"
        f" --release {refit.to_release}",
        gates.next_act(refit),
        f"put the old flash back: asflown back {refit.aircraft} --load",
    )


def ask_sheet(job: Job, plugged: tuple[Plugged, ...]) -> Sheet:
    """What loading needs, before anything is done."""
    refit = job.refit
    return Sheet(
        title="Load",
        head=(
            ("aircraft", f"{job.aircraft.title} ({refit.aircraft})"),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("release", f"{refit.from_release or 'not stated'} → {refit.to_release}"),
        ),
        sentence=(
            "The old flash is read and kept, what differs is written sector by sector, and every byte is read"
            " back. Cut off anywhere, the same act goes on where it was."
        ),
        warnings=(
            "PROPELLERS OFF. PACK UNPLUGGED. The board on USB alone: a board that restarts with other"
            " firmware can start motors",
        ),
        tables=(
            Table(
                ("no.#", "step"),
                tuple((str(n), step) for n, step in enumerate(WAYS_IN, 1)),
                title="Into the boot loader",
            ),
            Table(
                ("port", "what is there"),
                tuple((one.name, one.says) for one in plugged),
                title="Plugged in now",
                empty="no board in its boot loader, and no serial port: look again when it is plugged in",
            ),
        ),
        notes=(ONLY_SIMULATED,),
    )


def loaded_json(done: Loaded) -> dict[str, Any]:
    """A load as JSON."""
    return {**load_json(done.job, done.load), "done_again": done.again}


def load_json(job: Job, load: Load) -> dict[str, Any]:
    """A load as it is kept, as JSON."""
    refit = job.refit
    return {
        "aircraft": refit.aircraft,
        "refit": refit.id,
        "state": refit.state.value,
        "load": load.id,
        "what": load.what.value,
        "stage": load.stage.value,
        "image": load.wanted.name,
        "sha256": load.wanted.sha256,
        "old_flash": {"sha256": load.before.sha256, "size": load.before.size, "name": load.before.name},
        "board": load.board,
        "processor": load.processor,
        "port": load.port,
        "loader": load.loader,
        "confirmed": load.confirmed,
        "sectors": list(load.sectors),
        "written": load.written,
        "seconds": load.seconds,
        "was_there": load.was_there,
        "started": load.started,
        "runs": load.runs,
        "answered": [
            {"subject": item.subject, "statement": item.statement, "why": item.why} for item in load.answered
        ],
        "remarks": list(load.remarks),
        "next": list(_next(job, load)),
    }
