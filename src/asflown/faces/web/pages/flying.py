"""Flights and their evidence, prediction and retune, the test card and the verdict."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.jobs import JOBS, Progress
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Uploaded, Way
from asflown.faces.web.pages.beside import links, others
from asflown.faces.web.remember import remembered

if TYPE_CHECKING:
    from asflown.app.workplace import Workplace

_SIDES = (
    Way("before", "with the settings as found: before the refit"),
    Way("after", "with the settings as left: after the refit"),
    Way("", "neither: only keep its evidence"),
)
_ADD = Act(
    "add",
    "Measure it",
    (
        Field("log", "Flight log", "file", needed=True, hint="CSV, TSV, Parquet or Arrow"),
        Field("side", "Flown", "ways", "before", _SIDES, needed=True),
        Field(
            "accept",
            "take the likeliest where a column's name leaves a doubt; each stands among the findings",
            "tick",
            "yes",
        ),
        Field(
            "columns",
            "What columns are, one a line",
            "area",
            hint="e.g. gyro_x=rate.roll, or rate=deg/s for a unit",
            is_aside=True,
        ),
    ),
    title="Bring a flight",
    note="It takes some seconds to a minute; the page shows how far it is, and can be left.",
)


def flights(asked: Asked) -> Page:
    """Flights of an aircraft whose evidence is kept, and where one is brought."""
    from asflown.app import kept
    from asflown.app.flights.keep import flights_of
    from asflown.app.views.flight_kept import flights_json, flights_sheet

    store = asked.work.store
    aircraft = kept.aircraft(store, asked["aircraft"]).id
    found = flights_of(store, aircraft)
    return Page(
        replace(flights_sheet(aircraft, found), next_act=()),
        lambda: flights_json(aircraft, found),
        acts=(_ADD,),
        names=links("flight", (each.id for each in found)),
        others=others(aircraft),
        whose=aircraft,
    )


def add(asked: Asked) -> Go:
    """Begin to measure a flight."""
    from asflown.app import kept
    from asflown.app.judging.sides import record_of_side

    sent, work = asked.sent, asked.work
    assert sent is not None
    aircraft = kept.aircraft(work.store, asked["aircraft"]).id
    log = sent.upload("log")
    if log is None:
        raise UsageError("no log was brought", next_step="choose a flight log")
    side = sent.text("side")
    record = record_of_side(work.store, aircraft, after=side == "after") if side else None
    assume: dict[str, str] = {}
    for line in sent.text("columns").splitlines():
        if line.strip():
            key, sign, value = line.partition("=")
            if not sign:
                raise UsageError(
                    f"{line.strip()!r} says nothing", next_step="write COLUMN=SIGNAL, one a line"
                )
            assume[key.strip()] = value.strip()
    folder = Path(tempfile.mkdtemp(prefix="asflown-log-"))
    place = folder / _safe(log)
    with place.open("wb") as out:
        log.file.seek(0)
        shutil.copyfileobj(log.file, out, 2**20)
    accept = sent.ticked("accept")

    def doing(progress: Progress) -> str:
        try:
            return _measured(work, aircraft, place, record, assume, accept, progress)
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    job = JOBS.start(f"Measuring {log.name}", aircraft, doing)
    return Go(at("work", job.id))


def _safe(log: Uploaded) -> str:
    name = log.name.replace("\\", "/").rpartition("/")[2]
    kept = "".join(c for c in name if c.isprintable() and c not in '<>:"|?*')[-120:].strip(". ")
    return kept or "flight.csv"


def _measured(
    work: Workplace,
    aircraft: str,
    place: Path,
    record: str | None,
    assume: dict[str, str],
    accept: bool,
    progress: Progress,
) -> str:
    from asflown.app.flights import measure as job
    from asflown.app.flights import settle
    from asflown.app.flights.keep import keep
    from asflown.app.flights.known import declared_controllers
    from asflown.app.flights.open_log import Said, open_log
    from asflown.app.kept import aircraft as described
    from asflown.faces.wiring import log_source

    progress("reading")
    source = log_source(str(place))
    opened = open_log(source, Said(assume=assume), store=work.store)
    if accept:
        opened = settle.accept(opened, assume)
    elif opened.doubts:
        raise settle.needs_a_word(opened)
    declared = declared_controllers(work.store, aircraft, record=record)
    made = job.measure(
        opened,
        aircraft=described(work.store, aircraft),
        declared=declared,
        progress=progress,
    )
    if not made.study.measured:
        raise UsageError(
            "nothing could be measured of this log",
            next_step="see what is in it and what it lacks: asflown flight look FILE",
        )
    progress("keeping")
    flight = keep(work, aircraft, made, source)
    return at("flight", flight.id)


_WHY = Field("why", "Why", needed=True, hint="goes into the logbook and on the verdict")
_ASIDE = Act(
    "aside",
    "Set it aside",
    (_WHY,),
    title="Set this flight aside",
    note="Nothing is judged or predicted by it then; its evidence stays.",
)
_AGAIN = Act("again", "Let it count again", (_WHY,), title="This flight is set aside")


def one(asked: Asked) -> Page:
    """The evidence of one flight."""
    from asflown.app.flights.keep import flight_meant
    from asflown.app.views.flight_kept import flight_json, flight_sheet
    from asflown.faces import drawings

    kept, store = flight_meant(asked.work.store, asked["flight"]), asked.work.store
    return Page(
        replace(flight_sheet(kept), next_act=()),
        lambda: flight_json(kept),
        acts=(_AGAIN if kept.aside else _ASIDE,),
        figures=lambda: remembered(
            asked.work, ("flight drawn", kept.id), lambda: drawings.of_flight(store, kept)
        ),
        others=others(kept.aircraft),
        whose=kept.aircraft,
    )


def take(asked: Asked) -> Go:
    """Set a flight aside, or let it count again."""
    from asflown.app.flights.set_aside import count_again, set_aside

    sent = asked.sent
    assert sent is not None
    is_again = sent.act == "again"
    changed = (count_again if is_again else set_aside)(asked.work, asked["flight"], sent.text("why"))
    return Go(at("flight", changed.id), "It counts again." if is_again else "It is set aside.")


def predict(asked: Asked) -> Page:
    """How it would fly with the plan's settings."""
    from asflown.app import kept
    from asflown.app.predict import predict_aircraft
    from asflown.app.views.predict_shown import predicted_json, predicted_sheet
    from asflown.faces import drawings

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    made = remembered(asked.work, ("predict", aircraft), lambda: predict_aircraft(asked.work.store, aircraft))
    return Page(
        predicted_sheet(made),
        lambda: predicted_json(made),
        figures=lambda: drawings.of_prediction(made),
        names=links("flight", (made.flight.id,)),
        others=others(aircraft),
        whose=aircraft,
    )


def retune(asked: Asked) -> Page:
    """The new release's settings that keep the old answer."""
    from asflown.app import kept
    from asflown.app.retune import retune_aircraft
    from asflown.app.views.retune_shown import retuned_json, retuned_sheet

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    made = remembered(asked.work, ("retune", aircraft), lambda: retune_aircraft(asked.work.store, aircraft))
    return Page(
        retuned_sheet(made),
        lambda: retuned_json(made),
        others=others(aircraft),
        whose=aircraft,
    )


def test_card(asked: Asked) -> Page:
    """What to fly; the margins are sealed when a person asks for it."""
    from asflown.app import kept
    from asflown.app.judging.margins import sealed
    from asflown.app.judging.sides import refit_meant
    from asflown.app.judging.testcard import make_card
    from asflown.app.views.sheet import Sheet
    from asflown.app.views.testcard_shown import card_json, card_sheet
    from asflown.faces.report.kinds import test_card_printed

    store = asked.work.store
    aircraft = kept.aircraft(store, asked["aircraft"]).id
    refit = refit_meant(store, aircraft)
    _, seal = sealed(store, refit)
    if seal is None:
        sheet = Sheet(
            "Test card",
            (("aircraft", aircraft), ("refit", refit.id)),
            "The margins of the verdict are sealed now, before the flight that is judged by them.",
            notes=("The usual margins, with their reasons, stand under rules and sources.",),
        )
        field = Field(
            "margins",
            "Margins of your own, one a line",
            "area",
            hint="e.g. axes.roll.bandwidth=0.10 for 10 %; the usual ones apply to the rest",
            is_aside=True,
        )
        act = Act("seal", "Seal the margins and plan the flying", (field,), aside="other margins")
        return Page(sheet, acts=(act,), others=others(aircraft), whose=aircraft)
    made = make_card(asked.work, aircraft, stated=seal.stated)
    sheet = card_sheet(made)
    return Page(
        sheet,
        lambda: card_json(made),
        printed=lambda: test_card_printed(sheet, lambda: card_json(made), made.plan.flights or 0),
        others=others(aircraft),
        whose=aircraft,
    )


def seal(asked: Asked) -> Go:
    """Seal the margins."""
    from asflown.app.judging.testcard import make_card

    sent = asked.sent
    assert sent is not None
    stated: dict[str, float] = {}
    for line in sent.text("margins").splitlines():
        if not line.strip():
            continue
        name, sign, number = line.partition("=")
        try:
            stated[name.strip()] = float(number)
        except ValueError as error:
            raise UsageError(
                f"{line.strip()!r} is no margin", next_step="write QUANTITY=SIZE, one a line"
            ) from error
        if not sign:
            raise UsageError(f"{line.strip()!r} is no margin", next_step="write QUANTITY=SIZE, one a line")
    make_card(asked.work, asked["aircraft"], stated=stated)
    return Go(at("aircraft", asked["aircraft"], "test-card"), "The margins are sealed.")


def verdict(asked: Asked) -> Page:
    """The verdict as the flights stand now; it is entered when a person accepts it."""
    from asflown.app import kept
    from asflown.app.judging.verdict import give
    from asflown.app.views.verdict_shown import verdict_json, verdict_sheet
    from asflown.faces import drawings
    from asflown.faces.report.kinds import STAMPS, verdict_printed

    aircraft = kept.aircraft(asked.work.store, asked["aircraft"]).id
    made = remembered(asked.work, ("verdict", aircraft), lambda: give(asked.work, aircraft, is_noted=False))

    def drawn() -> drawings.Drawings:
        return remembered(
            asked.work, ("verdict drawn", aircraft), lambda: drawings.of_verdict(asked.work.store, made)
        )

    return Page(
        verdict_sheet(made),
        lambda: verdict_json(made),
        acts=(Act("accept", "Enter this verdict in the logbook"),),
        figures=drawn,
        printed=lambda: verdict_printed(made, drawn()),
        names=links("flight", (*made.verdict.before, *made.verdict.after)),
        others=others(aircraft),
        whose=aircraft,
        stamp=STAMPS[str(made.verdict.outcome)],
    )


def accept(asked: Asked) -> Go:
    """Enter the verdict."""
    from asflown.app.judging.verdict import give

    made = give(asked.work, asked["aircraft"])
    return Go(at("aircraft", asked["aircraft"]), f"Entered: {made.verdict.outcome}.")
