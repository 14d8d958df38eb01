"""Writing an image to the board, and putting the old flash back, as a page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.jobs import JOBS, Progress
from asflown.faces.web.page import Act, Asked, Delivered, Field, Go, Page, Sent, Way
from asflown.faces.web.pages.beside import others

if TYPE_CHECKING:
    from asflown.app.image_check import ReadFile
    from asflown.app.load.prepare import Ask
    from asflown.app.needs import Plugged
    from asflown.app.state import Job
    from asflown.core.load.journal import Load

_IMAGE, _BOARD = "image", "board"
_CAUTIONS = (
    "PROPELLERS OFF. PACK UNPLUGGED. People clear. The board on USB alone.",
    "While it writes: no other program at the port, the cable left alone. Cut off, it goes on from here.",
)


def look(asked: Asked) -> Page:
    """What loading needs, and the last load of this refit."""
    from asflown.app import kept, state
    from asflown.app.views.load_shown import ask_sheet, load_json, loaded_sheet
    from asflown.faces.report.printed import Printed
    from asflown.faces.wiring import ports

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    job = state.last_job(asked.work, aircraft)
    loads = kept.loads(asked.work.store, job.refit.id)
    plugged = ports().plugged()
    if not loads:
        return Page(
            ask_sheet(job, plugged),
            lambda: {"refit": job.refit.id, "loads": [], "plugged": [one.name for one in plugged]},
            acts=tuple(_acts(job, plugged, None)),
            others=others(aircraft),
            whose=aircraft,
        )
    last = loads[-1][0]
    return Page(
        loaded_sheet(job, last),
        lambda: load_json(job, last),
        printed=lambda: Printed(loaded_sheet(job, last), lambda: load_json(job, last), signs=("Loaded by",)),
        acts=tuple(_acts(job, plugged, last)),
        others=others(aircraft),
        whose=aircraft,
    )


def _acts(job: Job, plugged: tuple[Plugged, ...], last: Load | None) -> list[Act]:
    from asflown.core.load.journal import Stage, What

    is_half = last is not None and last.stage is Stage.HALF
    made = []
    if not job.refit.state.is_closed and not (is_half and last is not None and last.what is not What.IMAGE):
        hint = "none: the one that is half written" if is_half else "raw binary, Intel HEX, ELF or UF2"
        image = Field(_IMAGE, "Image", "file", needed=not is_half, hint=hint)
        label = "Go on writing" if is_half else "Write it"
        made.append(Act("load", label, (image, *_fields(plugged)), "Write the new image", cautions=_CAUTIONS))
    if job.refit.old_flash is not None and job.refit.state.value not in ("went back", "not now"):
        made.append(
            Act("back", "Put it back", _fields(plugged), "Put the old flash back", cautions=_CAUTIONS)
        )
        made.append(Act("flash", "Save the old flash (file)"))
    return made


def _fields(plugged: tuple[Plugged, ...]) -> tuple[Field, ...]:
    ways = (Way("", "the only one there is"), *(Way(one.name, f"{one.name}: {one.says}") for one in plugged))
    return (
        Field("off", "The propellers are off", "tick", needed=True),
        Field("unplugged", "The pack is unplugged", "tick", needed=True),
        Field("port", "Board at", "choice", "", ways),
        Field("other", "Or another port", hint="e.g. /dev/ttyUSB0, COM3", is_aside=True),
        Field(_BOARD, "The board's description, where it is not kept", "file", is_aside=True),
        Field("answers", "Differences answered", "area", hint="SUBJECT=WHY, one a line", is_aside=True),
        Field("same", "Why this is the same board, though its flash says otherwise", is_aside=True),
    )


def begin(asked: Asked) -> Go | Delivered:
    """Begin a load; it goes on by itself, and its page shows how far it is."""
    from asflown.app import kept
    from asflown.app.back import going_back
    from asflown.app.load.prepare import prepare_back, prepare_image
    from asflown.app.load.run import chosen_port, run
    from asflown.faces.wiring import ports

    sent, work = asked.sent, asked.work
    assert sent is not None
    aircraft = kept.aircraft(work.store, asked["aircraft"]).id
    if sent.act == "flash":
        return _flash(asked, aircraft)
    ask, read_file = _asked(sent)
    there = ports()
    if sent.act == "back":
        title, prepared = (
            "Putting the old flash back",
            prepare_back(work, going_back(work, aircraft), ask, read_file),
        )
    elif sent.act == "load":
        title, prepared = "Writing the image", prepare_image(work, aircraft, ask, read_file)
    else:
        raise UsageError("nothing was chosen")
    chosen_port(there, ask.port)

    def doing(progress: Progress) -> str:
        run(work, prepared, ask, there, lambda step: progress(step.says))
        return at("aircraft", aircraft, "load")

    return Go(at("work", JOBS.start(title, aircraft, doing).id))


def _flash(asked: Asked, aircraft: str) -> Delivered:
    from asflown.app import state

    kept_flash = state.last_job(asked.work, aircraft).refit.old_flash
    if kept_flash is None:
        raise UsageError("no flash was read back in this refit")
    return Delivered(asked.work.store.original(kept_flash.sha256), kept_flash.name)


def _asked(sent: Sent) -> tuple[Ask, ReadFile]:
    from asflown.app.load.prepare import Ask

    files: dict[str, tuple[bytes, str]] = {}
    for name in (_IMAGE, _BOARD):
        file = sent.file(name)
        if file is not None:
            files[_named(name, file[1])] = file

    def given(name: str) -> str | None:
        return next((word for word in files if word.startswith(f"{name}/")), None)

    read_file: Callable[[str], tuple[bytes, str]] = files.__getitem__
    ask = Ask(
        given(_IMAGE),
        given(_BOARD),
        None,
        _answers(sent.text("answers")),
        sent.ticked("off"),
        sent.ticked("unplugged"),
        sent.said("other") or sent.said("port"),
        sent.text("same"),
    )
    return ask, read_file


def _named(field: str, name: str) -> str:
    """The field and the file's own name: its suffix tells a description from a board's name."""
    return f"{field}/{name}"


def _answers(text: str) -> dict[str, str]:
    made = {}
    for line in text.splitlines():
        if line.strip():
            subject, sign, why = line.partition("=")
            if not sign or not why.strip():
                raise UsageError(
                    f"{line.strip()!r} gives no reason", next_step="write SUBJECT=WHY, one a line"
                )
            made[subject.strip()] = why.strip()
    return made
