"""Read an aircraft's settings over its terminal: twice, and kept only when both readings agree."""

from __future__ import annotations

from dataclasses import replace

from asflown.app import kept
from asflown.app.link.session import Session
from asflown.app.link.words import words_for
from asflown.app.needs import Terminals
from asflown.app.take_record import Request, Taken, take_record
from asflown.app.workplace import Workplace
from asflown.core.link.words import Guard
from asflown.core.record import Moment


def found_at(work: Workplace, request: Request, terminals: Terminals, port: str) -> Taken:
    """Capture the listing twice and keep a record of it.

    Parameters
    ----------
    request
        What is asked; its bytes and name are those of the capture.

    Raises
    ------
    NeedsPerson
        When the firmware's words are not kept, or the two readings differ.
    DeviceError
        When the terminal is silent or goes away.
    """
    aircraft = kept.aircraft(work.store, request.aircraft)
    release = request.release or aircraft.release
    if request.moment is Moment.FACTORY and request.release is None:
        opened = kept.open_refit(work.store, aircraft.id)
        release = opened.refit.to_release if opened else release
    words = words_for(work, release)
    with Session(terminals, port, words, Guard(words)) as session:
        session.wake()
        first, second = session.capture(), session.capture()
    name = f"listing-{aircraft.id}.txt"
    return take_record(work, replace(request, data=first, name=name, against=(second, name)))
