"""Measure the vibration of a flight, and look for oscillation that grows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured
from asflown.core.study.of_vibration import vibration_evidence
from asflown.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.core.flight import EvenPart

_NOTHING = "neither rates nor specific force are known in this log; log them at 500 Hz or more"
SIGNALS = ("rate", "accel", "rotor_speed", "motor")


def vibration(bench: Bench) -> Part:
    """Spectra, rotor lines, floor, clipping of the longest stretch in the air."""
    from asflown.core.vibration.measure import measure_vibration

    names = bench.names(*SIGNALS)
    if not bench.names("rate", "accel"):
        return not_measured("vibration", _NOTHING, bench)
    part = bench.longest(names, bench.flying)
    if part is None:
        why = "; ".join(bench.even(names, bench.flying).statements)
        return not_measured("vibration", why, bench)
    try:
        found = measure_vibration(
            _members(part, "rate"),
            _members(part, "accel"),
            _stacked(part, "rotor_speed"),
            part.rate,
            motors=_stacked(part, "motor"),
            blades=bench.blades,
        )
    except InputError as error:
        return not_measured("vibration", _reason(error), bench)
    evidence = tuple(vibration_evidence(found, source=bench.flight.source, span=part.span))
    return Part("vibration", evidence, (*found.notes, *(fact.statement for fact in found.aliases)), found)


def _members(part: EvenPart, family: str) -> dict[str, npt.NDArray[np.float64]]:
    return {
        name.partition(".")[2]: values
        for name, values in part.values.items()
        if name.partition(".")[0] == family
    }


def _stacked(part: EvenPart, family: str) -> npt.NDArray[np.float64] | None:
    import numpy as np

    found = [part.values[f"{family}.{n}"] for n in range(1, 33) if f"{family}.{n}" in part.values]
    return np.stack(found) if found else None


def _reason(error: InputError) -> str:
    return f"{error.what}; {error.next_step}" if error.next_step else error.what
