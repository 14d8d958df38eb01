"""Measuring the vibration of a flight: everything of the package, once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.blind import Ridge, blind_lines, follow
from asflown.core.vibration.campbell import campbell
from asflown.core.vibration.clipping import clipping
from asflown.core.vibration.demodulate import caught
from asflown.core.vibration.floor import floor_of
from asflown.core.vibration.frames import frames_of, good_length
from asflown.core.vibration.levels import groups_of, line_of
from asflown.core.vibration.orders import alias_facts
from asflown.core.vibration.result import (
    BLIND,
    FROM_TELEMETRY,
    CampbellMap,
    Density,
    Floor,
    RotorLevel,
    RotorLine,
    Vibration,
)
from asflown.core.vibration.spectra import densities
from asflown.core.vibration.stretches import Sampled, cut_stretches, sampled
from asflown.core.vibration.telemetry import DELAYS, chosen_delay, shifted
from asflown.errors import InputError

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.floating]

#: s, frames of the spectra and of the maps.
_SPECTRUM, _MAP = 1.0, 0.16
#: Hz, where the floor is read.
_FLOOR = (30.0, 90.0)
_SHORTEST = 4.0  # s
#: Lines are measured on every second stretch of a long flight, the telemetry's delay on so many s.
_EVERY, _DELAY_ON = 2, 6.0


def measure_vibration(
    rate: Mapping[str, Numbers],
    accel: Mapping[str, Numbers],
    rotor_speed: Numbers | None,
    rate_hz: float,
    *,
    motors: Numbers | None = None,
    blades: int | None = None,
    reference_speed: float | None = None,
    accel_limit: float | None = None,
    look_for_delay: bool = True,
) -> Vibration:
    """Vibration of a stretch of flight.

    A flight longer than 96 s is looked at in twelve stretches of 8 s, evenly spread (clipping: all of it).

    Parameters
    ----------
    rate, accel
        (n,) rad/s by axis (``roll`` …), m/s² by axis (``x`` …); even samples. Either may be empty.
    rotor_speed
        (rotors, n) rev/s; ``None`` where it was not logged.
    rate_hz
        Samples a second.
    motors
        (motors, n) commands 0 to 1: tells a flight without telemetry from motors at rest.
    blades
        Blades of a propeller.
    reference_speed
        rev/s that levels are related to; ``None``: the mean of the flight.
    accel_limit
        m/s², range of the accelerometer.

    Raises
    ------
    InputError
        Where nothing was logged, or less than four seconds.
    """
    signals = {f"rate.{axis}": values for axis, values in rate.items()}
    signals |= {f"accel.{axis}": values for axis, values in accel.items()}
    seconds = _seconds(signals, rate_hz)
    flown = sampled(signals, None if rotor_speed is None else np.atleast_2d(rotor_speed), rate_hz)
    notes = [f"{name}: no value was logged" for name in signals if name not in flown.signals]
    if not flown.signals:
        raise InputError(
            "no rate and no acceleration was logged", next_step="log body rates at 500 Hz or more"
        )
    if flown.seconds < seconds - 1.0:
        notes.append(f"looked at {flown.seconds:.0f} of {seconds:.0f} s, evenly spread")
    spectra = densities(frames_of(flown.values, rate_hz, *_cut(_SPECTRUM, rate_hz)), flown.signals)
    orders = _orders(blades)
    ridge: Ridge | None = None
    delay, rotors, lines = 0.0, tuple[RotorLevel, ...](), tuple[RotorLine, ...]()
    if flown.speed is not None:
        flown, delay = _on_time(flown, look_for_delay)
        lines, rotors = _with_telemetry(flown, orders, reference_speed)
    elif _motors_turn(motors):
        ridge = follow(flown)
        lines = blind_lines(ridge, flown, reference_speed)
        notes.append(_told_blind(bool(lines)))
    turning = _turning(flown, ridge)
    return Vibration(
        rate_hz=rate_hz,
        seconds=seconds,
        spectra=spectra,
        campbell=_maps(flown, ridge, orders, blades),
        speed_route=None if turning is None else FROM_TELEMETRY if flown.speed is not None else BLIND,
        speed=None if turning is None else float(turning.mean()),
        lines=lines,
        rotors=rotors,
        floor=_floors(spectra, lines),
        clipping=tuple(
            clipping(f"accel.{axis}", values, rate_hz, accel_limit) for axis, values in accel.items()
        ),
        aliases=() if turning is None else alias_facts(turning[..., ::16], rate_hz, orders),
        telemetry_delay=delay,
        notes=tuple(notes),
    )


def _seconds(signals: Mapping[str, Numbers], rate_hz: float) -> float:
    if not signals:
        raise InputError(
            "no rate and no acceleration was logged", next_step="log body rates at 500 Hz or more"
        )
    lengths = {values.size for values in signals.values()}
    if len(lengths) != 1:
        raise ValueError(f"signals of one length, got {sorted(lengths)}")
    seconds = lengths.pop() / rate_hz
    if seconds < _SHORTEST:
        raise InputError(
            f"{seconds:.1f} s of unbroken log, {_SHORTEST:g} s are needed for vibration",
            next_step="fly and log for 10 s or more",
        )
    return seconds


def _orders(blades: int | None) -> tuple[float, ...]:
    orders = (1.0, 2.0, 3.0)
    return orders if blades is None or float(blades) in orders else (*orders, float(blades))


def _cut(seconds: float, rate_hz: float) -> tuple[int, int]:
    length = good_length(seconds, rate_hz)
    return length, length // 2


def _motors_turn(motors: Numbers | None) -> bool:
    return motors is None or not np.size(motors) or float(np.nanmax(np.abs(motors[..., ::64]))) > 0.01


def _told_blind(found: bool) -> str:
    if found:
        return (
            "rotor speed was not logged: lines followed blind, rotors not told apart; log rotor speed to "
            "tell them apart"
        )
    return (
        "no rotor line could be followed without speed telemetry; log rotor speed, or rates at 1 kHz or more"
    )


def _on_time(flown: Sampled, look: bool) -> tuple[Sampled, float]:
    """The stretches with the telemetry's delay taken off, and the delay."""
    assert flown.speed is not None
    rates = [row for row, name in enumerate(flown.signals) if name.startswith("rate")]
    if not look or not rates:
        return flown, 0.0
    middle = flown.values.shape[0] // 2
    samples = min(flown.values.shape[2], round(_DELAY_ON * flown.rate_hz))
    start = (flown.values.shape[2] - samples) // 2
    part = slice(start, start + samples)
    values, speed = flown.values[middle : middle + 1, rates, part], flown.speed[middle : middle + 1, :, part]
    names = tuple(flown.signals[row] for row in rates)
    reference = float(speed.mean())
    power = []
    for delay in DELAYS:
        tried = Sampled(names, values, shifted(speed, delay, flown.rate_hz), flown.rate_hz)
        power.append(caught(cut_stretches(tried, reference), 1.0))
    delay = chosen_delay(np.stack(power))
    if delay == 0.0:
        return flown, 0.0
    return replace(flown, speed=shifted(flown.speed, delay, flown.rate_hz)), delay


def _with_telemetry(
    flown: Sampled, orders: tuple[float, ...], reference_speed: float | None
) -> tuple[tuple[RotorLine, ...], tuple[RotorLevel, ...]]:
    assert flown.speed is not None
    reference = reference_speed or float(flown.speed.mean())
    cut = cut_stretches(flown, reference, _EVERY if flown.values.shape[0] > 4 else 1)
    found = [line_of(cut, order, reference, FROM_TELEMETRY) for order in orders]
    rotors = [level for line, levels in found for level in levels if line.order <= 2.0]
    return tuple(line for line, _ in found), tuple(rotors)


def _turning(flown: Sampled, ridge: Ridge | None) -> Numbers | None:
    """Rotor speed as far as known, any shape."""
    if flown.speed is not None:
        return flown.speed
    return ridge.speed if ridge is not None and ridge.is_found else None


def _maps(
    flown: Sampled, ridge: Ridge | None, orders: tuple[float, ...], blades: int | None
) -> tuple[CampbellMap, ...]:
    if flown.speed is not None:
        frames = frames_of(flown.values, flown.rate_hz, *_cut(_MAP, flown.rate_hz))
        along = flown.speed[:, :, frames.middle].mean(axis=1).ravel().astype(np.float64)
    elif ridge is not None and ridge.is_found:
        frames, along = ridge.frames, ridge.speed
    else:
        return ()
    groups = {name: rows for name, rows in groups_of(flown.signals).items() if name in ("rate", "accel")}
    maps = [campbell(frames, rows, name, along, orders, blades) for name, rows in groups.items()]
    return tuple(one for one in maps if one is not None)


def _floors(spectra: Mapping[str, Density], lines: tuple[RotorLine, ...]) -> tuple[Floor, ...]:
    taken = tuple((line.frequency_low - 5.0, line.frequency_high + 5.0) for line in lines)
    return tuple(floor_of(one, *_FLOOR, taken) for name, one in spectra.items() if name.startswith("rate"))
