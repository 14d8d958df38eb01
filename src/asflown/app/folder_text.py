"""The text that lies beside a written-out listing: what to do, in which order, and how to go back."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping

from asflown.app.state import Job
from asflown.core.plan import Plan
from asflown.core.refit import GateName
from asflown.core.wayback import WayBack

WIDTH = 76
_PROPS = "PROPELLERS OFF. Pack unplugged; power the board from USB alone. Look at every motor now."


def readme(job: Job, plan: Plan, way: WayBack, names: Mapping[str, str], *, everything: bool) -> str:
    """The README of a written-out folder.

    Parameters
    ----------
    names
        File names by what they hold (``to-write``, ``go-back``, ``as-found-original``).
    """
    to_write, back, original = names["to-write"], names["go-back"], names["as-found-original"]
    what = "every planned setting" if everything else "only what differs from the new factory values"
    lines = [
        f"{job.aircraft.title} ({job.aircraft.id})   refit {job.refit.id}",
        f"{plan.from_release or 'old release not stated'} -> {plan.to_release}",
        f"plan {plan.digest[:12]}, record {job.found.id} {job.found.digest[:12]}",
        "=" * WIDTH,
        *_filled(_PROPS),
        "",
        "FILES",
        *_item("-", f"{to_write}: the listing to write to {plan.to_release} ({what})"),
        *_item("-", f"{back}: the go-back listing, every as-found setting the board takes"),
        *_item("-", f"{original}: what was printed before the work, byte for byte"),
        "",
        "BEFORE LOADING",
        *_item("[ ]", _baseline(job)),
        *_item(
            "[ ]",
            "The old image is at hand as a file, or was read back from the flash. Without it "
            "there is no way back once the new one is loaded.",
        ),
        *(row for text in way.says for row in _item("-", text[:1].upper() + text[1:] + ".")),
        "",
        "WRITE",
        *_numbered(
            f"Erase the stored settings and write the {plan.to_release} image.",
            f"Send {to_write} line by line in the firmware's own terminal. Save what it prints:",
            "   asflown replies TRANSCRIPT",
            "Store the settings the way the firmware wants it, and restart the board.",
            "Save a new listing and read it back:",
            "   asflown readback LISTING",
        ),
        *_filled(
            "If writing stops half-way the aircraft is PARTLY WRITTEN: DO NOT FLY. Write the rest "
            "(asflown write-out --rest FILE), or erase and start again at 1, or go back."
        ),
        "",
        *_go_back(job, way, back),
        "",
        "end of sheet",
    ]
    return "\n".join(lines) + "\n"


def go_back_text(job: Job, way: WayBack, names: Mapping[str, str]) -> str:
    """The README of a folder that holds only the way back."""
    flash = job.refit.old_flash
    lines = [
        f"{job.aircraft.title} ({job.aircraft.id})   refit {job.refit.id}",
        f"back to {job.found.release or 'the old release (not stated)'}",
        f"record {job.found.id} {job.found.digest[:12]}, found {job.found.taken}",
        "=" * WIDTH,
        "FILES",
        *_item("-", f"{names['go-back']}: the go-back listing, every as-found setting the board takes"),
        *_item("-", f"{names['as-found-original']}: what was printed before the work, byte for byte"),
        *(_item("-", f"{flash.name}: the whole flash as it was, SHA-256 {flash.sha256}") if flash else ()),
        "",
        *_go_back(job, way, names["go-back"]),
        "",
        "end of sheet",
    ]
    return "\n".join(lines) + "\n"


def _go_back(job: Job, way: WayBack, back: str) -> list[str]:
    flash = job.refit.old_flash
    by_load = (
        f"asflown kept the whole old flash: asflown back {job.aircraft.id} --load does steps 1 and 2, and"
        " brings the settings back with it."
    )
    return [
        "GO BACK (in this order)",
        *_filled(_PROPS),
        *(_filled(by_load) if flash else ()),
        *_numbered(
            "Erase the board's stored settings.",
            f"Write the old image ({job.found.release or 'release not stated'}).",
            f"Send {back} line by line, store, restart.",
            "Save a new listing and prove it:",
            "   asflown back --readback LISTING",
        ),
        "",
        "WHAT NO LISTING BRINGS BACK",
        *(row for item in way.cannot_restore for row in _item("-", f"{item.subject}: {item.why}")),
    ]


def _baseline(job: Job) -> str:
    gate = job.refit.gates.get(GateName.BASELINE_FLIGHT.value)
    if gate is None:
        return (
            "Baseline flight on the old release: not stated. Is there a usable log? It cannot be flown "
            "after loading; without it nobody can say later that it flies as before."
        )
    return f"Baseline flight on the old release: {gate.answer}, {gate.statement}. Open the log once more."


def _filled(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, break_on_hyphens=False, break_long_words=False)


def _item(mark: str, text: str) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"{mark} ",
        subsequent_indent=" " * (len(mark) + 1),
        break_on_hyphens=False,
        break_long_words=False,
    )


def _numbered(*steps: str) -> Iterable[str]:
    number = 0
    for step in steps:
        if step.startswith("   "):
            yield step
            continue
        number += 1
        yield from _item(f"{number}.", step)
