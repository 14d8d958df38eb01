"""What the calibrations from logs share: the log, whether it is kept, and how it is shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.errors import UsageError
from asflown.faces.cli.flight_measure import settled
from asflown.faces.cli.flight_options import Columns
from asflown.faces.cli.options import Common
from asflown.faces.cli.printed import NO_PRINT, Print
from asflown.faces.cli.printed import check as check_print

if TYPE_CHECKING:
    from collections.abc import Callable

    from asflown.app.calibrate.live import Recorded
    from asflown.app.flights.open_log import Opened, Said
    from asflown.core.calibrate.kept import Calibration
    from asflown.core.link.recording import Recorder


@Parameter(name="*")
@dataclass(frozen=True)
class Keep:
    """Whose calibration it is, and whether it is kept.

    Attributes
    ----------
    aircraft
        ``None``: the current one, where it is kept.
    """

    aircraft: Annotated[
        str | None, Parameter(help="Whose it is (default: the current one).", show_default=False)
    ] = None
    as_found: Annotated[
        bool,
        Parameter(negative=(), help="Keep it as it was before anything was corrected.", show_default=False),
    ] = False
    as_left: Annotated[bool, Parameter(negative=(), help="Keep it as it is after.", show_default=False)] = (
        False
    )
    accept_proposed: Annotated[
        bool,
        Parameter(
            negative=(),
            help="Take the likeliest where a question about the columns is open.",
            show_default=False,
        ),
    ] = False


NOT_KEPT = Keep()


@Parameter(name="*")
@dataclass(frozen=True)
class FromLink:
    """The aircraft itself instead of a log.

    Attributes
    ----------
    link
        ``None``: a log is given.
    """

    link: Annotated[
        str | None,
        Parameter(
            help="Record from the aircraft over MAVLink: serial:/dev/ttyACM0@115200, udp:HOST:PORT, …",
            show_default=False,
        ),
    ] = None
    system: Annotated[
        int | None, Parameter(help="With --link: which of several aircraft.", show_default=False)
    ] = None
    seconds: Annotated[
        float | None, Parameter(help="With --link: for how long, at most.", show_default=False)
    ] = None
    save: Annotated[
        str | None,
        Parameter(help="With --link: write what was recorded to a new file too.", show_default=False),
    ] = None


NO_LINK = FromLink()


def logs_given(logs: tuple[str, ...], from_link: FromLink, least: int = 1) -> None:
    """Refuse a call without any samples, or with options that mean nothing, before any work is done.

    Raises
    ------
    UsageError
        When neither a log nor a link is given, or an option belongs to a link that is not.
    """
    if from_link.link is None:
        if any(one is not None for one in (from_link.system, from_link.seconds, from_link.save)):
            raise UsageError(
                "--system, --seconds and --save belong to --link", next_step="add --link ADDRESS"
            )
        if len(logs) < least:
            raise UsageError(
                "no samples are given", next_step="name a log, or read them from the aircraft: --link ADDRESS"
            )
    elif logs:
        raise UsageError(
            "a log and a link are given", next_step="leave one out; --save keeps what is recorded as a log"
        )


def opened_live(
    from_link: FromLink,
    what: str,
    common: Common,
    *,
    watch: Callable[[Recorder], bool] | None = None,
) -> tuple[Opened, tuple[Recorded, ...]]:
    """A log that is recorded now, with nothing open, and its bytes; a person is told meanwhile what to do.

    Parameters
    ----------
    watch
        ``None``: the sensor's own guide.
    """
    from asflown.app.calibrate.guides import DO, guide_of
    from asflown.app.calibrate.live import Asked, recorded
    from asflown.app.calibrate.live_any import RECORDED
    from asflown.app.flights.open_log import Said, open_log
    from asflown.app.link.live import check_seconds
    from asflown.faces.cli.flight_measure import no_warnings
    from asflown.faces.wiring import links, log_of_bytes, write_new

    assert from_link.link is not None
    no_warnings()
    family, usual, rate = RECORDED[what]
    length = check_seconds(usual if from_link.seconds is None else from_link.seconds)
    if what in DO:
        say_now(f"{DO[what]}: {length:.0f} s", common)
    asked = Asked(from_link.link, from_link.system, family, length, rate)
    made = recorded(links(), asked, watch or guide_of(what, lambda line: say_now(line, common)))
    if from_link.save is not None:
        write_new(from_link.save, made.data)
    source = log_of_bytes(from_link.save or made.name, made.data)
    return open_log(source, Said(made.assume, is_at_rest=True)), (made,)


def say_now(line: str, common: Common) -> None:
    """A line to the person while it is recorded, beside what is printed in the end."""
    from asflown.faces.cli.console import say_meanwhile, shown

    if not common.as_json:
        say_meanwhile(shown(line), plain=common.plain)


def opened(file: str, columns: Columns, keep: Keep, common: Common) -> Opened:
    """A log with nothing open."""
    found, stated = _read(file, columns, common)
    return settled(found, stated, accept=keep.accept_proposed, common=common)


def opened_raw(file: str, columns: Columns, common: Common) -> Opened:
    """A log with all its columns, whatever is open about them."""
    return _read(file, columns, common)[0]


def _read(file: str, columns: Columns, common: Common) -> tuple[Opened, Said]:
    from asflown.app.calibrate.logs import whole
    from asflown.app.flights.open_log import open_log
    from asflown.faces.cli.flight_measure import no_warnings
    from asflown.faces.cli.flight_options import said
    from asflown.faces.cli.progress import waiting
    from asflown.faces.wiring import kept_store, log_source

    no_warnings()
    stated = replace(said(columns), is_at_rest=True)
    source = log_source(file)
    with waiting(f"reading {source.name}"):
        found = open_log(source, stated, store=kept_store(common.store))
        return whole(found, source), stated


def check(keep: Keep, print_to: Print = NO_PRINT) -> None:
    """Refuse what cannot both be, before any work is done.

    Raises
    ------
    UsageError
        When it is to be both as found and as left.
    """
    if keep.as_found and keep.as_left:
        raise UsageError("it is either as found or as left", next_step="give one of them, or none")
    check_print(print_to)


def finish(
    made: Calibration,
    keep: Keep,
    common: Common,
    print_to: Print = NO_PRINT,
    live: tuple[Recorded, ...] = (),
) -> int:
    """Keep it where that was asked for, show it, and say by the exit code whether it is fit for use."""
    from asflown.app import kept
    from asflown.app.calibrate.kept import pair_of, placed
    from asflown.app.views.calibrate_shown import calibration_json, calibration_sheet
    from asflown.core.calibrate.kept import When
    from asflown.faces.cli.printed import put, told
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show, work_in
    from asflown.faces.report.kinds import calibration_printed

    other = None
    is_kept = keep.as_found or keep.as_left
    if is_kept or keep.aircraft is not None:
        work = work_in(common)
        when = None if not is_kept else When.AS_FOUND if keep.as_found else When.AS_LEFT
        made = placed(work, made, kept.aircraft_meant(work.store, keep.aircraft), when, live)
        other = pair_of(work.store, made)
    paper = put(print_to, lambda: calibration_printed(made, other, is_kept=is_kept))
    show(
        common,
        lambda: told(paper, calibration_sheet(made, other, is_kept=is_kept)),
        lambda: told(paper, calibration_json(made, other, is_kept=is_kept)),
    )
    return DONE if made.is_fit else NOT_ENOUGH
