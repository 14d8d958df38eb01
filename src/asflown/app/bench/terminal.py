"""Values of a card's settings as the firmware's terminal prints them: read twice, and only what agrees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from asflown.app import state
from asflown.app.bench.live import told_by
from asflown.app.bench.readings import Read, keep, meant_card
from asflown.app.link.session import Session
from asflown.app.link.words import words_for
from asflown.app.listing_lines import read_listing
from asflown.app.needs import Terminals
from asflown.app.workplace import Workplace
from asflown.core.link.words import Guard
from asflown.core.refit import Reading
from asflown.errors import NeedsPerson, UsageError


def read_terminal(
    work: Workplace, aircraft: str, said: str, names: Sequence[str], terminals: Terminals, port: str
) -> Read:
    """Read the settings of a card from the terminal, and keep what it printed.

    Parameters
    ----------
    names
        How the boxes begin; none: every box of the card that is a setting.

    Raises
    ------
    UsageError
        When no box of the card is a setting.
    NeedsPerson
        When two readings differ, a setting is not printed, or the firmware's words are not kept.
    DeviceError
        When the terminal is silent or goes away.
    """
    card = meant_card(work, aircraft, said)
    wanted = told_by(card, names, lambda one: bool(one.setting))
    if not wanted:
        raise UsageError(
            f"no box of card {card.id} is a setting: a terminal prints settings alone",
            next_step="read it yourself, or over MAVLink: --link ADDRESS",
        )
    job = state.open_job(work, aircraft)
    words = words_for(work, job.refit.to_release)
    with Session(terminals, port, words, Guard(words)) as session:
        session.wake()
        printed = [_values(session.capture(), job.found.shape) for _ in range(2)]
    readings = []
    for measure in wanted:
        one, two = (values.get(measure.setting) for values in printed)
        if one is None or one != two:
            why = "is not printed" if one is None else f"was printed as {one} and as {two}"
            raise NeedsPerson(f"{measure.setting} {why}", next_step="nothing is noted; read it again")
        readings.append(
            Reading(
                measure.what,
                one,
                measure.unit,
                True,
                work.clock.now(),
                work.who,
                says="printed twice by the terminal",
            )
        )
    return keep(work, aircraft, card.id, readings)


def _values(listing: bytes, shape: str | None) -> Mapping[str, str]:
    read = read_listing(listing, "terminal", shape=shape, repeated="last")
    return {str(one.key): one.value for one in read.settings}
