"""The gyro at rest: bias, Allan figures, and the bias against temperature."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from asflown.app.calibrate.logs import columns_like, rates, raw, unit_in
from asflown.core.calibrate.kept import Calibration, Rows, Samples, blank
from asflown.core.measured import Measured, unmeasured
from asflown.core.signals import AXES
from asflown.errors import InputError

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.app.flights.open_log import Opened
    from asflown.core.calibrate.allan_read import GyroAllan
    from asflown.core.flight import EvenPart

    Float = npt.NDArray[np.float64]

#: deg/s: a bias up to which a gyro is usual, and its interval (common practice, no source).
USUAL, KNOWN = 3.0, 0.05
#: s at rest that a bias takes (common practice, no source).
LEAST = 10.0
_WORDS = frozenset({"temperature", "temp"})
_METHOD = (
    "mean at rest (slow noise allowed for); overlapping Allan deviation, terms fitted together and read off"
    " at 1 s (noise), over the flat bottom / 0.664 (bias instability) and at 3 s (walk), IEEE Std 952"
)


def calibrate_gyro(opened: Opened, temperature: str | None = None) -> Calibration:
    """Bias and noise of the longest rest.

    Parameters
    ----------
    temperature
        Header name of the column; ``None``: the only one whose name says temperature.

    Raises
    ------
    InputError
        When the rates are not logged, or the aircraft never lay still.
    """
    from asflown.core.calibrate.allan_read import gyro_allan
    from asflown.core.calibrate.still import at_rest, spans_of, still_rows
    from asflown.core.signal.mean_error import means_of

    names = tuple(f"rate.{axis}" for axis in AXES)
    best: tuple[float, EvenPart, Float, float] | None = None
    for part in rates(opened):
        rows = part.rows(names)
        for span in spans_of(still_rows(rows, part.rate), part.rate):
            if best is None or span.length > best[0]:
                first, last = round(span.start * part.rate), round(span.end * part.rate)
                best = span.length, part, rows[:, first:last], part.start + span.start
    if best is None:
        raise InputError(
            "the aircraft never lay still for 2 s in this log",
            where=opened.name,
            next_step="log it at rest, motors stopped: 10 s for the bias, an hour for the rest",
        )
    seconds, part, rest, start = best
    means = means_of(rest, rest.shape[1] / part.rate)
    allan = gyro_allan(rest, part.rate)
    results = {f"bias {a}": _deg(means.measured(i, "rad/s", "mean at rest")) for i, a in enumerate(AXES)}
    short = at_rest(rest, None, part.rate).gyro_noise
    for axis, reading, noise in zip(AXES, allan.readings, short, strict=True):
        results[f"noise {axis}"] = _deg(
            _two_sided(noise) if reading.white_noise.value is None else reading.white_noise
        )
        results[f"bias instability {axis}"] = _deg(reading.bias_instability)
        results[f"rate random walk {axis}"] = _deg(reading.bias_walk)
    slopes = _slopes(opened, temperature, rest, start, part.rate)
    results |= {f"bias with temperature {a}": _deg(one) for a, one in zip(AXES, slopes, strict=True)}
    is_fit, why = judged([results[f"bias {axis}"] for axis in AXES], seconds)
    return replace(
        blank("gyro", "deg/s"),
        results=results,
        is_fit=is_fit,
        why=why,
        remarks=(
            "deg/s/√Hz is the deg/√s of angle random walk; times 60 it is deg/√h",
            "most firmware takes the bias anew at each start, lying still: then nothing is to be written",
        ),
        method=_METHOD,
        samples=(
            Samples(opened.name, opened.table.sha256, f"{seconds:.0f} s at rest, from {start:.1f} s on"),
        ),
        tables=_curves(allan),
        write=_write([results[f"bias {axis}"] for axis in AXES])
        if is_fit
        else ("log it again, still and for longer",),
    )


def judged(bias: list[Measured], seconds: float) -> tuple[bool, str]:
    """Whether the bias is fit for use, and what it says."""
    half = max((one.high or 0.0) - (one.value or 0.0) for one in bias)
    most = max(abs(one.value or 0.0) for one in bias)
    if seconds < LEAST:
        return False, f"{seconds:.1f} s at rest are too short: {LEAST:.0f} s or more are wanted"
    if half > KNOWN:
        return False, f"the bias is known to ±{half:.2f} deg/s alone: it was not still, or too short"
    if most > USUAL:
        return True, f"a bias of {most:.1f} deg/s is unusually large: look for damage or heat before it flies"
    return True, f"the bias is {most:.2f} deg/s at most, as is usual"


def _slopes(
    opened: Opened, named: str | None, rest: Float, start: float, rate: float
) -> tuple[Measured, ...]:
    from asflown.core.calibrate.temperature import temperature_slopes

    found = [named] if named is not None else columns_like(opened.table, _WORDS)
    if len(found) != 1:
        why = (
            "no column of this log is a temperature: log the gyro's"
            if not found
            else f"which column is the gyro's temperature ({', '.join(found)})? say it: --temperature"
        )
        return (unmeasured(why, "rad/s/K"),) * 3
    column = raw(opened.table, found, opened.name)[0]
    time = opened.flight().traces["rate.roll"].time
    if time.size != column.size:
        return (unmeasured("temperature and rates do not lie on the same rows", "rad/s/K"),) * 3
    kelvin = (
        column * (5.0 / 9.0) if unit_in(opened.table, found[0]).casefold() in ("f", "degf", "°f") else column
    )
    good = np.isfinite(kelvin) & np.isfinite(time)
    if not good.any():
        return (unmeasured("the temperature column holds no number", "rad/s/K"),) * 3
    at = np.interp(start + np.arange(rest.shape[1]) / rate, time[good], kelvin[good])
    return temperature_slopes(rest, at, rate)


def _two_sided(one: Measured) -> Measured:
    """The density of noise as an Allan deviation gives it: a spectrum's one-sided density over √2."""
    if one.value is None or one.low is None or one.high is None:
        return one
    low, value, high = (x / math.sqrt(2) for x in (one.low, one.value, one.high))
    return Measured(value, low, high, one.unit, f"{one.route}, over √2", caveats=one.caveats)


def _deg(one: Measured) -> Measured:
    """The same in degrees."""
    unit = one.unit.replace("rad", "deg")
    if one.value is None or one.low is None or one.high is None:
        return unmeasured(one.reason or "", unit, one.route)
    low, value, high = (math.degrees(x) for x in (one.low, one.value, one.high))
    return Measured(value, low, high, unit, one.route, caveats=one.caveats)


def _curves(allan: GyroAllan) -> tuple[Rows, ...]:
    if not allan.curves:
        return ()
    first = allan.curves[0]
    places = range(0, first.taus.size, max(1, first.taus.size // 16))
    rows = tuple(
        (
            f"{first.taus[place]:.3g}",
            *(f"{math.degrees(curve.deviation[place]):.3g}" for curve in allan.curves),
            f"{first.counts[place]}",
        )
        for place in places
    )
    columns = ("averaged over, s#", "roll, deg/s#", "pitch, deg/s#", "yaw, deg/s#", "differences#")
    return (Rows("Overlapping Allan deviation", columns, rows),)


def _write(bias: list[Measured]) -> tuple[str, ...]:
    numbers = ", ".join(f"{one.value:.4f}" for one in bias)
    return (
        f"where the aircraft stores it: true rate = raw - bias, bias roll, pitch, yaw {numbers} deg/s",
        "where it takes the bias at each start: keep it still while it starts",
    )
