"""The writing sheet of a load: what was on the board, what is on it now, and how that is known."""

from __future__ import annotations

from typing import Any

from asflown.app import gates
from asflown.app.load.prepare import Prepared
from asflown.app.load.run import Loaded
from asflown.app.views.image_shown import account
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.image.facts import Standing
from asflown.core.load.journal import Load, What
from asflown.core.load.target import Target

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


def loaded_sheet(loaded: Loaded) -> Sheet:
    """A board that holds what it should."""
    load, prepared, refit = loaded.load, loaded.prepared, loaded.job.refit
    return Sheet(
        title="Image written" if load.what is What.IMAGE else "Old flash put back",
        head=(
            ("aircraft", f"{loaded.job.aircraft.title} ({refit.aircraft})"),
            ("date", load.ended or load.begun),
            ("refit", f"{refit.id}, {refit.state.value}"),
            ("board", f"{load.board or 'not stated'} ({load.processor}), at {loaded.port}"),
            ("loader", load.loader),
            ("confirmed", load.confirmed),
        ),
        sentence=_sentence(loaded),
        account="" if prepared.checked is None else account(prepared.checked),
        warnings=tuple(_warnings(loaded)),
        tables=(
            Table(("step", "what was done"), _steps(loaded)),
            _sectors(prepared.target, load),
            *_answered(load),
        ),
        notes=(*(text[:1].upper() + text[1:] + "." for text in load.remarks), ONLY_SIMULATED),
        next_act=_next(loaded),
        foot=(f"image {short(load.wanted.sha256)}", f"old flash {short(load.before.sha256)}"),
    )


def _sentence(loaded: Loaded) -> str:
    load = loaded.load
    if loaded.was_there:
        return f"The board held {load.wanted.name} already: every byte was read, and nothing was written."
    sectors = counted(len(load.sectors), "sector")
    return (
        f"The board holds {load.wanted.name}: {sectors} erased and written, all of its flash read back and"
        f" compared byte for byte, in {load.seconds:.1f} s."
    )


def _warnings(loaded: Loaded) -> tuple[str, ...]:
    made = ["propellers stay off, the pack stays unplugged: the settings are not proven yet"]
    if not loaded.left:
        made.append("the board did not leave its boot loader by itself: unplug it and plug it in again")
    return tuple(made)


def _steps(loaded: Loaded) -> tuple[tuple[str, str], ...]:
    load, job = loaded.load, loaded.job
    written = f"{load.written} bytes written"
    return (
        ("as-found record", f"{job.found.id}, {len(job.found.settings)} settings, kept"),
        ("image", _image_says(loaded.prepared)),
        ("before", load.confirmed),
        ("old flash", f"read twice and kept: {load.before.size} bytes, SHA-256 {load.before.sha256}"),
        ("written", "nothing: it was there already" if loaded.was_there else written),
        ("read back", "every byte of the flash is as it should be; what was not to be touched is as before"),
        ("board", "started" if loaded.left else "still in its boot loader"),
    )


def _image_says(prepared: Prepared) -> str:
    checked = prepared.checked
    if checked is None:
        return f"{prepared.name}: the flash as it was before the first load of this refit"
    open_ = len(checked.standing(Standing.NOT_STATED))
    return f"{prepared.name}: nothing forbids it; {counted(open_, 'fact')} not stated"


def _sectors(target: Target, load: Load) -> Table:
    written = set(load.sectors)
    rows = tuple(
        (
            str(want.sector.number),
            f"0x{want.sector.start:08X}",
            f"{want.sector.size // 1024} KiB",
            "erased, written, read back" if want.sector.number in written else "as wanted already",
        )
        for want in target.wants
    )
    return Table(("sector#", "start", "size#", "what was done"), rows, title="Sectors of it")


def _answered(load: Load) -> tuple[Table, ...]:
    if not load.answered:
        return ()
    rows = tuple((item.subject, item.statement, item.why) for item in load.answered)
    return (Table(("differs in", "what was found", "why it may be"), rows, title="Differences answered"),)


def _next(loaded: Loaded) -> tuple[str, ...]:
    refit = loaded.job.refit
    if loaded.load.what is not What.IMAGE:
        acts = [gates.next_act(refit)]
        if loaded.load.what is What.OLD_IMAGE:
            acts.insert(0, f"write the go-back listing: asflown back {refit.aircraft} --out FOLDER")
        return tuple(acts)
    return (
        "save the new release's fresh factory listing from the board: asflown found LISTING --factory"
        f" --release {refit.to_release}",
        gates.next_act(refit),
        f"put the old flash back: asflown back {refit.aircraft} --load",
    )


def loaded_json(loaded: Loaded) -> dict[str, Any]:
    """The same as JSON."""
    load, refit = loaded.load, loaded.job.refit
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
        "port": loaded.port,
        "loader": load.loader,
        "confirmed": load.confirmed,
        "sectors": list(load.sectors),
        "written": load.written,
        "seconds": load.seconds,
        "was_there": loaded.was_there,
        "started": loaded.left,
        "runs": load.runs,
        "done_again": loaded.again,
        "answered": [
            {"subject": item.subject, "statement": item.statement, "why": item.why} for item in load.answered
        ],
        "remarks": list(load.remarks),
        "next": list(_next(loaded)),
    }
