"""Calibrations of an aircraft: the list, each sheet, and a form for meter readings."""

from __future__ import annotations

from dataclasses import replace

from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Way
from asflown.faces.web.pages.beside import links, others

_WHAT = (Way("voltage", "the shown voltage"), Way("current", "the shown current"))
_WHEN = (
    Way("as found", "as found: before anything is corrected"),
    Way("as left", "as left: after it was corrected"),
)
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
        acts=(_METER,),
        names=links("calibration", (one.id for one in found)),
        others=others(aircraft),
        whose=aircraft,
    )


def keep(asked: Asked) -> Go:
    """Fit a line through meter readings, and keep it."""
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
        others=others(made.aircraft),
        whose=made.aircraft,
        printed=lambda: calibration_printed(made, other, is_kept=True),
    )
