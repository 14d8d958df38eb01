"""Measure the sensors on the ground: bias, noise, Allan deviation where the rest was long enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.flights.arrays import stacked
from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured
from asflown.core.signals import AXES
from asflown.core.study.of_ground import Ground, ground_evidence

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from asflown.core.flight import EvenPart

_NO_RATES = "all three rates are needed and not known in this log; log them"
_NO_REST = "the log holds no rest on the ground of 2 s or more; log 30 s at rest before take-off"
#: Motor command up to which a motor stands still.
_STOPPED = 1e-3


def ground(bench: Bench) -> Part:
    """Gyro and accelerometer while the aircraft stood on the ground."""
    if not bench.flight.has(*(f"rate.{axis}" for axis in AXES)):
        return not_measured("ground", _NO_RATES, bench)
    names = bench.names("rate", "accel", "motor")
    part = bench.longest(names, bench.standing) if bench.standing else None
    if part is None:
        return not_measured("ground", _NO_REST, bench)
    found = _measured(part)
    return Part("ground", tuple(ground_evidence(found, source=bench.flight.source)), (), found)


def _measured(part: EvenPart) -> Ground:
    from asflown.core.calibrate.allan_read import gyro_allan
    from asflown.core.calibrate.still import at_rest

    rates = stacked(part, "rate", AXES)
    assert rates is not None
    rest = at_rest(rates, stacked(part, "accel", "xyz"), part.rate, _stopped(part), part.start)
    longest = max(rest.spans, key=lambda span: span.length, default=None)
    if longest is None:
        return Ground(rest, gyro_allan(rates[:, :0], part.rate), None)
    first = round((longest.start - part.start) * part.rate)
    last = round((longest.end - part.start) * part.rate)
    return Ground(rest, gyro_allan(rates[:, first:last], part.rate), longest)


def _stopped(part: EvenPart) -> npt.NDArray[np.bool_] | None:
    import numpy as np

    motors = stacked(part, "motor")
    return None if motors is None else np.asarray(np.all(motors <= _STOPPED, axis=0))
