"""What pages do over a cable: read a record, write a plan, go back, read a card's values, calibrate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.jobs import JOBS, Progress
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Sent, Way
from asflown.faces.web.pages.beside import links, others

if TYPE_CHECKING:
    from asflown.core.cards import CardState

_OVER = (Way("link", "MAVLink"), Way("terminal", "the firmware's own text terminal"))
SYSTEM = Field("system", "Which of several aircraft", hint="its system number", is_aside=True)
SAID = (
    Field("off", "The propellers are off", "tick", needed=True),
    Field("unplugged", "The pack is unplugged", "tick", needed=True),
)
_CAUTION = "PROPELLERS OFF. PACK UNPLUGGED. People clear. The board on USB alone."
_MOMENTS = (Way("as-found", "as found on the aircraft"), Way("factory", "factory listing of the release"))


@dataclass(frozen=True, slots=True)
class Line:
    """Where the aircraft is."""

    is_terminal: bool
    address: str
    system: int | None


def address(asked: Asked, aircraft: str = "") -> Field:
    """Where the aircraft is: the last one that was typed for it stands there."""
    return Field(
        "address",
        "Address or port",
        value=asked.work.store.memory(f"link_{aircraft or asked['aircraft']}") or "",
        needed=True,
        hint="MAVLink: serial:/dev/ttyACM0@115200, udp:127.0.0.1:14550 …; a terminal: /dev/ttyACM0, COM3",
    )


def _way(asked: Asked) -> tuple[Field, ...]:
    return (Field("over", "Over", "ways", "link", _OVER, needed=True), address(asked), SYSTEM)


def line_of(asked: Asked, sent: Sent, aircraft: str = "") -> Line:
    """What the form says of it; the address is remembered.

    Raises
    ------
    UsageError
        When no address is given, or the system is no number.
    """
    where, system = sent.text("address"), sent.said("system")
    if not where:
        raise UsageError("no address was given", next_step="e.g. serial:/dev/ttyACM0@115200")
    if system is not None and not system.isdecimal():
        raise UsageError(f"{system!r} is no system number", next_step="1 to 255, or empty")
    asked.work.store.remember(f"link_{aircraft or asked['aircraft']}", where)
    return Line(sent.text("over") == "terminal", where, None if system is None else int(system))


def take_act(asked: Asked) -> Act:
    """Read the settings of an aircraft."""
    return Act(
        "over",
        "Read it twice, and keep it",
        (
            *_way(asked),
            Field("release", "Release", hint="the aircraft's own where left empty", is_aside=True),
            Field("moment", "What it is", "choice", "as-found", _MOMENTS, is_aside=True),
        ),
        title="From the aircraft itself",
        note="Nothing is written to it. Both readings must agree.",
        cautions=("Propellers off and people clear while the board is connected.",),
    )


def take(asked: Asked) -> Go:
    """Read the settings of an aircraft, and keep a record of them."""
    from asflown.app import kept
    from asflown.app.link.over_mavlink import found_over
    from asflown.app.link.read import found_at
    from asflown.app.take_record import Request
    from asflown.core.record import Moment
    from asflown.faces.wiring import links as mavlink
    from asflown.faces.wiring import terminals

    sent, work = asked.sent, asked.work
    assert sent is not None
    aircraft, line = kept.aircraft(work.store, asked["aircraft"]).id, line_of(asked, sent)
    moment = Moment.FACTORY if sent.text("moment") == "factory" else Moment.AS_FOUND
    request = Request(data=b"", name="", aircraft=aircraft, moment=moment, release=sent.said("release"))

    def doing(progress: Progress) -> str:
        progress("reading every setting, twice")
        if line.is_terminal:
            taken = found_at(work, request, terminals(None), line.address)
        else:
            taken = found_over(work, request, mavlink(), line.address, line.system).taken
        return at("record", taken.record.id)

    return Go(at("work", JOBS.start("Reading the aircraft", aircraft, doing).id))


def write_act(asked: Asked, *, is_back: bool) -> Act:
    """Write over the link what was written out, or what was found."""
    return Act(
        "over",
        "Write what was found, and prove it" if is_back else "Write it, and prove it",
        (*_way(asked), *SAID),
        title="Go back over a cable" if is_back else "Write over a cable",
        note="Only what is read afterwards counts. Cut off, the same again: it reads first and writes what is"
        " missing.",
        cautions=(_CAUTION,),
    )


def write(asked: Asked, *, is_back: bool) -> Go:
    """Write, store, restart, read again; the page shows what it came to."""
    from asflown.app import kept
    from asflown.app.link import over_mavlink
    from asflown.app.link import write as over_terminal
    from asflown.app.load.prepare import Ask, confirmed
    from asflown.app.views import mavlink_shown, terminal_shown
    from asflown.faces.wiring import links as mavlink
    from asflown.faces.wiring import terminals

    sent, work = asked.sent, asked.work
    assert sent is not None
    aircraft, line = kept.aircraft(work.store, asked["aircraft"]).id, line_of(asked, sent)
    ask = Ask(propellers_off=sent.ticked("off"), pack_unplugged=sent.ticked("unplugged"))
    confirmed(work, ask)

    def doing(progress: Progress) -> Page:
        if not line.is_terminal:
            progress("reading, writing what differs, reading again")
            job = over_mavlink.write_back_over if is_back else over_mavlink.write_over
            over = job(work, aircraft, ask, mavlink(), line.address, line.system)
            sheet, body = mavlink_shown.written_mav_sheet(over), mavlink_shown.written_mav_json(over)
        else:
            typed = over_terminal.write_back_at if is_back else over_terminal.write_at
            at_port = typed(
                work,
                aircraft,
                ask,
                terminals(None),
                line.address,
                lambda done, total: progress(f"line: {done} of {total}"),
            )
            sheet = terminal_shown.written_over_sheet(at_port)
            body = terminal_shown.written_over_json(at_port)
        ids = kept.record_entries(work.store, aircraft)
        names = links("record", (str(one.body["id"]) for one in ids))
        return Page(sheet, lambda: body, names=names, others=others(aircraft), whose=aircraft)

    title = "Going back over a cable" if is_back else "Writing over a cable"
    return Go(at("work", JOBS.start(title, aircraft, doing).id))


def card_acts(asked: Asked, found: CardState) -> tuple[Act, ...]:
    """Read boxes of a card from the aircraft."""
    told = [one for one in found.card.all_measures if one.live or one.setting]
    if not told:
        return ()
    ways = (Way("", "every box that needs no other pose"), *(Way(one.what, one.what) for one in told))
    return (
        Act(
            "live",
            "Read it from the aircraft",
            (
                *_way(asked),
                Field("box", "Which box", "choice", "", ways),
                Field(
                    "seconds", "For how long, s", hint="3 s what is held, 8 s what is moved", is_aside=True
                ),
            ),
            title="From the aircraft itself",
            note="Hold the aircraft as the box wants it before you press. A terminal tells settings alone.",
            cautions=(found.card.propellers.value.upper() + ".",),
        ),
    )


def read_card(asked: Asked, sent: Sent) -> Go:
    """Read boxes of a card, and keep what the aircraft said."""
    from asflown.app.bench.live import LiveAsk, read_live
    from asflown.app.bench.terminal import read_terminal
    from asflown.app.link.live import check_seconds
    from asflown.faces.wiring import links as mavlink
    from asflown.faces.wiring import terminals

    work, aircraft, card, line = asked.work, asked["aircraft"], asked["card"], line_of(asked, sent)
    box = sent.said("box")
    names = () if box is None else (box,)
    said = sent.said("seconds")
    seconds = None if said is None else check_seconds(number(said, "a number of seconds"))

    def doing(progress: Progress) -> str:
        progress(f"reading {box or 'the boxes'}")
        if line.is_terminal:
            read_terminal(work, aircraft, card, names, terminals(None), line.address)
        else:
            ask = LiveAsk(line.address, line.system, names, seconds)
            read_live(work, aircraft, card, ask, mavlink())
        return at("aircraft", aircraft, "card", card)

    return Go(at("work", JOBS.start(f"Card {card}", aircraft, doing).id))


def number(text: str, what: str) -> float:
    """A number that was typed.

    Raises
    ------
    UsageError
        When it is none.
    """
    try:
        return float(text)
    except ValueError:
        raise UsageError(f"{text!r} is not {what}", next_step="write it like 12.5") from None
