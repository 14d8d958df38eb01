"""Calibrations of an aircraft: the list, each sheet, and a form for meter readings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from asflown.app.calibrate.from_log import SENSORS
from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.jobs import JOBS, Progress
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Way
from asflown.faces.web.pages import over_link
from asflown.faces.web.pages.beside import links, others

if TYPE_CHECKING:
    from asflown.core.calibrate.kept import Calibration

_WHAT = (Way("voltage", "the shown voltage"), Way("current", "the shown current"))
_WHEN = (
    Way("as found", "as found: before anything is corrected"),
    Way("as left", "as left: after it was corrected"),
)
_SAMPLES = (
    Way("", "it holds none yet"),
    Way("corrected", "taken through it: readings over MAVLink are"),
    Way("raw", "raw"),
)
_SENSOR_WAYS = tuple(Way(word, f"{word}: {says}") for word, says in SENSORS.items())
_METER = Act(
    "meter",
    "Compute and keep it",
    (
        Field("what", "Held against the meter", "ways", "voltage", _WHAT, needed=True),
        Field(
            "readings",
            "Readings",
            "area",
            needed=True,
            hint="what the aircraft shows = what the meter says, one a line: 15.92=16.05",
        ),
        Field("when", "When", "ways", "as found", _WHEN, needed=True),
        Field("error", "Error of the meter, V or A", hint="e.g. 0.02; needed for two readings alone"),
    ),
    title="Meter readings",
    note="Two readings or more, far apart: with a nearly empty and with a full pack.",
    cautions=(
        "PROPELLERS OFF. With the pack plugged in a motor can start: hands and hair away, one person at the"
        " pack's plug.",
    ),
)

_LOG = Act(
    "log",
    "Compute and keep it",
    (
        Field("log", "Log", "file", needed=True, hint="CSV, TSV, Parquet or Arrow"),
        Field("sensor", "Of", "ways", "accelerometer", _SENSOR_WAYS, needed=True),
        Field("when", "When", "ways", "as found", _WHEN, needed=True),
        Field("latitude", "Latitude, degrees", hint="for the accelerometer: gives gravity"),
        Field("accept", "take the likeliest where a column's name leaves a doubt", "tick", "yes"),
    ),
    title="From a log",
    note="The log shows the aircraft on the ground, moved by hand as said below.",
    cautions=("PROPELLERS OFF, pack unplugged where the log can be taken on USB alone.",),
)


def _live_act(asked: Asked) -> Act:
    return Act(
        "live",
        "Record, compute and keep it",
        (
            over_link.address(asked),
            Field("sensor", "Of", "ways", "accelerometer", _SENSOR_WAYS, needed=True),
            Field("when", "When", "ways", "as found", _WHEN, needed=True),
            Field("latitude", "Latitude, degrees", hint="for the accelerometer: gives gravity"),
            Field("seconds", "For how long at most, s", is_aside=True),
            over_link.SYSTEM,
        ),
        title="From the aircraft itself, over MAVLink",
        note="The page says what to do next while it records.",
        cautions=("PROPELLERS OFF, pack unplugged, the board on USB alone.",),
    )


def look(asked: Asked) -> Page:
    """Every calibration of an aircraft."""
    from asflown.app import kept
    from asflown.app.calibrate.kept import calibrations
    from asflown.app.views.calibrate_shown import list_json, list_sheet

    store = asked.work.store
    aircraft = kept.aircraft(store, asked["aircraft"]).id
    found = calibrations(store, aircraft)
    return Page(
        replace(list_sheet(aircraft, found), next_act=()),
        lambda: list_json(aircraft, found),
        acts=(_live_act(asked), _LOG, _METER),
        names=links("calibration", (one.id for one in found)),
        others=others(aircraft),
        whose=aircraft,
    )


def keep(asked: Asked) -> Go:
    """Compute a calibration, and keep it: from a log, or from meter readings."""
    sent = asked.sent
    assert sent is not None
    return {"log": _keep_log, "live": _keep_live}.get(sent.act, _keep_meter)(asked)


def _keep_live(asked: Asked) -> Go:
    from asflown.app.calibrate.kept import placed
    from asflown.app.calibrate.live_any import live_calibration
    from asflown.app.link.live import check_seconds
    from asflown.core.calibrate.kept import When
    from asflown.faces.wiring import links as mavlink
    from asflown.faces.wiring import log_of_bytes

    sent, work, aircraft = asked.sent, asked.work, asked["aircraft"]
    assert sent is not None
    line, what, when = over_link.line_of(asked, sent), sent.text("sensor"), sent.text("when")
    if when not in set(When):
        raise UsageError("it was not said when", next_step="as found, or as left")
    latitude, said = _latitude(sent.said("latitude")), sent.said("seconds")
    seconds = None if said is None else check_seconds(over_link.number(said, "a number of seconds"))

    def doing(progress: Progress) -> str:
        made, samples = live_calibration(
            what,
            mavlink(),
            (line.address, line.system),
            progress,
            log_of=log_of_bytes,
            seconds=seconds,
            latitude=latitude,
        )
        return at("calibration", placed(work, made, aircraft, When(when), (samples,)).id)

    return Go(at("work", JOBS.start(f"Calibration of the {what}", aircraft, doing).id))


def _keep_log(asked: Asked) -> Go:
    from asflown.app.calibrate.from_log import from_log
    from asflown.app.calibrate.kept import placed
    from asflown.core.calibrate.kept import When
    from asflown.faces.wiring import log_of_bytes

    sent, work = asked.sent, asked.work
    assert sent is not None
    aircraft = asked["aircraft"]
    log = sent.upload("log")
    what, when = sent.text("sensor"), sent.text("when")
    if log is None or when not in set(When):
        raise UsageError(
            "no log was brought, or it was not said when", next_step="choose a log, and one of each"
        )
    latitude, accept = _latitude(sent.said("latitude")), sent.ticked("accept")
    log.file.seek(0)
    source = log_of_bytes(log.name, log.file.read())

    def doing(progress: Progress) -> str:
        progress("computing")
        made = from_log(what, source, {}, accept=accept, latitude=latitude, store=work.store)
        return at("calibration", placed(work, made, aircraft, When(when)).id)

    return Go(at("work", JOBS.start(f"Calibration of the {what}", aircraft, doing).id))


def _latitude(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        raise UsageError(f"{text!r} is no latitude", next_step="degrees north, e.g. 54") from None


def _keep_meter(asked: Asked) -> Go:
    from asflown.app.calibrate.meter import UNITS, calibrate_meter, read_pairs
    from asflown.core.calibrate.kept import When

    sent = asked.sent
    assert sent is not None
    what = sent.text("what")
    if what not in UNITS or sent.text("when") not in set(When):
        raise UsageError("what was measured, or when, was not said", next_step="choose one of each")
    made = calibrate_meter(
        asked.work,
        asked["aircraft"],
        what,
        read_pairs(sent.text("readings").split()),
        error=_error(sent.said("error")),
        when=When(sent.text("when")),
    )
    return Go(at("calibration", made.id), f"{made.id} is kept.")


def _error(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        error = float(text)
    except ValueError:
        error = 0.0
    if not 0 < error < 1000:
        raise UsageError(f"{text!r} is no error of a meter", next_step="look into its manual, e.g. 0.02")
    return error


def one(asked: Asked) -> Page:
    """One calibration, beside the one at the other moment."""
    from asflown.app.calibrate.kept import calibration_meant, pair_of
    from asflown.app.views.calibrate_shown import calibration_json, calibration_sheet
    from asflown.faces.report.kinds import calibration_printed

    store = asked.work.store
    made = calibration_meant(store, asked["calibration"])
    other = pair_of(store, made)
    return Page(
        calibration_sheet(made, other, is_kept=True),
        lambda: calibration_json(made, other, is_kept=True),
        acts=_store_acts(asked, made),
        others=others(made.aircraft),
        whose=made.aircraft,
        printed=lambda: calibration_printed(made, other, is_kept=True),
    )


def _store_acts(asked: Asked, made: Calibration) -> tuple[Act, ...]:
    from asflown.core.calibrate.stored import roles_of

    if not made.is_fit or not roles_of(made):
        return ()
    fields = (
        over_link.address(asked, made.aircraft),
        *over_link.SAID,
        Field("samples", "Where it holds a calibration already, the samples were", "choice", "", _SAMPLES),
        over_link.SYSTEM,
    )
    return (
        Act(
            "store",
            "Write it, and prove it",
            fields,
            title="Write it into the aircraft, over MAVLink",
            note="Into the settings that the release's overlay names for it; stored, restarted, read again.",
            cautions=("PROPELLERS OFF. PACK UNPLUGGED. People clear. The board on USB alone.",),
        ),
    )


def store(asked: Asked) -> Go:
    """Write a calibration into the aircraft's settings; the page shows what it holds now."""
    from asflown.app.calibrate.kept import calibration_meant
    from asflown.app.calibrate.write import StoreAsk, store_calibration
    from asflown.app.load.prepare import Ask, confirmed
    from asflown.app.views.calibrate_stored import stored_json, stored_sheet
    from asflown.faces.wiring import links as mavlink

    sent, work = asked.sent, asked.work
    assert sent is not None
    made = calibration_meant(work.store, asked["calibration"])
    line = over_link.line_of(asked, sent, made.aircraft)
    said = Ask(propellers_off=sent.ticked("off"), pack_unplugged=sent.ticked("unplugged"))
    confirmed(work, said)
    was_corrected = {"corrected": True, "raw": False}.get(sent.text("samples"))
    ask = StoreAsk(made.id, line.address, line.system, was_corrected, said)

    def doing(progress: Progress) -> Page:
        progress("writing, restarting, reading again")
        done = store_calibration(work, ask, mavlink())
        return Page(
            stored_sheet(done),
            lambda: stored_json(done),
            names=links("calibration", (made.id,)),
            others=others(made.aircraft),
            whose=made.aircraft,
        )

    return Go(at("work", JOBS.start(f"Writing {made.id}", made.aircraft, doing).id))
