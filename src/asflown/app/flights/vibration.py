"""Measure the vibration of a flight."""

from __future__ import annotations

from asflown.app.flights.arrays import members, stacked
from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured
from asflown.core.study.of_vibration import vibration_evidence
from asflown.errors import InputError

_NOTHING = "neither rates nor specific force are known in this log; log them at 500 Hz or more"
_TOO_SLOW = "logged at {rate:.4g} rows a second: no rotor shows in that; log at 1000 Hz or more"
#: Rows a second below which a log shows nothing of what shakes. Common practice, no source.
LEAST_RATE = 100.0
SIGNALS = ("rate", "accel", "rotor_speed", "motor")


def vibration(bench: Bench) -> Part:
    """Spectra, rotor lines, floor, clipping of the longest stretch in the air."""
    from asflown.core.vibration.measure import measure_vibration

    names = bench.names(*SIGNALS)
    if not bench.names("rate", "accel"):
        return not_measured("vibration", _NOTHING, bench)
    part = bench.longest(names, bench.flying)
    if part is None:
        return not_measured("vibration", bench.why_none(names), bench)
    if part.rate < LEAST_RATE:
        return not_measured("vibration", _TOO_SLOW.format(rate=part.rate), bench)
    try:
        found = measure_vibration(
            members(part, "rate"),
            members(part, "accel"),
            stacked(part, "rotor_speed"),
            part.rate,
            motors=stacked(part, "motor"),
            blades=None if bench.aircraft is None else bench.aircraft.propellers.blades,
        )
    except InputError as error:
        return not_measured("vibration", _reason(error), bench)
    evidence = tuple(vibration_evidence(found, source=bench.flight.source, span=part.span))
    return Part("vibration", evidence, (*found.notes, *(fact.statement for fact in found.aliases)), found)


def _reason(error: InputError) -> str:
    return f"{error.what}; {error.next_step}" if error.next_step else error.what
