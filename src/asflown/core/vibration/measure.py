"""Measuring the vibration of a flight: everything of the package, once."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from asflown.core.vibration.blind import Ridge, follow, order_power
from asflown.core.vibration.campbell import campbell
from asflown.core.vibration.clipping import clipping
from asflown.core.vibration.floor import floor_of
from asflown.core.vibration.frames import Frames, frames_of, good_length
from asflown.core.vibration.intervals import rms_of
from asflown.core.vibration.levels import groups_of, line_of, rotor_levels, unit_of
from asflown.core.vibration.orders import alias_facts, folded
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
from asflown.core.vibration.stretches import cut_stretches, usable_samples
from asflown.core.vibration.telemetry import find_delay, mended_speed, shifted
from asflown.errors import InputError

FloatArray = npt.NDArray[np.float64]

#: s, frames of the spectra and of the maps.
_SPECTRUM, _MAP = 1.0, 0.16
#: Hz, where the floor is read.
_FLOOR = (30.0, 90.0)
_SHORTEST = 4.0  # s


def measure_vibration(
    rate: Mapping[str, npt.NDArray[np.floating]],
    accel: Mapping[str, npt.NDArray[np.floating]],
    rotor_speed: npt.NDArray[np.floating] | None,
    rate_hz: float,
    *,
    motors: npt.NDArray[np.floating] | None = None,
    blades: int | None = None,
    reference_speed: float | None = None,
    accel_limit: float | None = None,
    look_for_delay: bool = True,
) -> Vibration:
    """Vibration of a stretch of flight.

    Parameters
    ----------
    rate, accel
        (n,) rad/s by axis (``roll`` …), m/s² by axis (``x`` …); even samples. Either may be empty.
    rotor_speed
        (rotors, n) rev/s; ``None`` where it was not logged.
    rate_hz
        Samples a second.
    motors
        (motors, n) commands 0 to 1, for what is known of the speed without telemetry.
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
    usable = usable_samples(signals)
    seconds = _seconds(usable, rate_hz)
    notes = [f"{name}: no value was logged" for name in signals if name not in usable]
    orders = _orders(blades)
    spectral = frames_of(list(usable.values()), rate_hz, *_cut(_SPECTRUM, rate_hz))
    spectra = densities(spectral, tuple(usable))
    speed, delay = None, 0.0
    if rotor_speed is not None and np.any(np.asarray(rotor_speed) > 1.0):
        speed = mended_speed(np.atleast_2d(np.asarray(rotor_speed)))
        speed, delay = _on_time(usable, speed, rate_hz, look_for_delay)
    if speed is not None:
        lines, rotors = _with_telemetry(usable, speed, rate_hz, orders, reference_speed)
        mean, route, ridge = float(speed.mean()), FROM_TELEMETRY, None
        aliases = alias_facts(speed, rate_hz, orders)
    else:
        ridge = follow(usable, rate_hz)
        lines, rotors, aliases = _blind(ridge, tuple(usable), orders, reference_speed, rate_hz, notes), (), ()
        is_found = ridge is not None and ridge.is_found
        mean = float(ridge.speed.mean()) if is_found and ridge is not None else None
        route = BLIND if is_found else None
    return Vibration(
        rate_hz=rate_hz,
        seconds=seconds,
        spectra=spectra,
        campbell=_maps(usable, speed, ridge, rate_hz, orders, blades),
        speed_route=route,
        speed=mean,
        lines=lines,
        rotors=rotors,
        floor=_floors(spectra, lines),
        clipping=tuple(
            clipping(name, values, rate_hz, accel_limit)
            for name, values in usable.items()
            if name.startswith("accel")
        ),
        aliases=aliases,
        telemetry_delay=delay,
        notes=tuple(notes),
    )


def _orders(blades: int | None) -> tuple[float, ...]:
    orders = (1.0, 2.0, 3.0)
    return orders if blades is None or float(blades) in orders else (*orders, float(blades))


def _cut(seconds: float, rate_hz: float) -> tuple[int, int]:
    length = good_length(seconds, rate_hz)
    return length, length // 2


def _seconds(usable: Mapping[str, npt.NDArray[np.float32]], rate_hz: float) -> float:
    if not usable:
        raise InputError(
            "no rate and no acceleration was logged", next_step="log body rates at 500 Hz or more"
        )
    lengths = {values.size for values in usable.values()}
    if len(lengths) != 1:
        raise ValueError(f"signals of one length, got {sorted(lengths)}")
    seconds = lengths.pop() / rate_hz
    if seconds < _SHORTEST:
        raise InputError(
            f"{seconds:.1f} s of unbroken log, {_SHORTEST:g} s are needed for vibration",
            next_step="fly and log for 10 s or more",
        )
    return seconds


def _on_time(
    usable: dict[str, npt.NDArray[np.float32]], speed: FloatArray, rate_hz: float, look: bool
) -> tuple[FloatArray, float]:
    if not look:
        return speed, 0.0
    delay = find_delay(usable, speed, rate_hz, float(speed.mean()))
    return shifted(speed, delay, rate_hz), delay


def _with_telemetry(
    usable: dict[str, npt.NDArray[np.float32]],
    speed: FloatArray,
    rate_hz: float,
    orders: tuple[float, ...],
    reference_speed: float | None,
) -> tuple[tuple[RotorLine, ...], tuple[RotorLevel, ...]]:
    reference = reference_speed or float(speed.mean())
    cut = cut_stretches(usable, speed, rate_hz, reference)
    lines: list[RotorLine] = []
    rotors: list[RotorLevel] = []
    for order in orders:
        line, found = line_of(cut, order, reference, FROM_TELEMETRY)
        lines.append(line)
        if order in (1.0, 2.0):
            rotors.extend(rotor_levels(cut, order, reference, found))
    return tuple(lines), tuple(rotors)


def _blind(
    ridge: Ridge | None,
    names: tuple[str, ...],
    orders: tuple[float, ...],
    reference_speed: float | None,
    rate_hz: float,
    notes: list[str],
) -> tuple[RotorLine, ...]:
    if ridge is None or not ridge.is_found:
        notes.append(
            "no rotor line could be followed without speed telemetry; log rotor speed, or rates at 1000 Hz or more"
        )
        return ()
    notes.append("rotor speed was not logged: lines followed blind, rotors not told apart")
    reference = reference_speed or float(ridge.speed.mean())
    out = []
    for order in orders[:2]:
        level, at_reference = {}, {}
        for name, channels in groups_of(names).items():
            found = order_power(ridge, order, channels, reference)
            if found is not None:
                level[name] = rms_of(*found[0], unit_of(name), BLIND)
                at_reference[name] = rms_of(*found[1], unit_of(name), BLIND)
        if level:
            out.append(_blind_line(ridge, order, reference, level, at_reference, rate_hz))
    return tuple(out)


def _blind_line(ridge, order, reference, level, at_reference, rate_hz) -> RotorLine:  # type: ignore[no-untyped-def]
    frequency = order * ridge.speed
    low, high = np.percentile(frequency, (5.0, 95.0))
    mean = float(frequency.mean())
    return RotorLine(
        order=order,
        route=BLIND,
        frequency=mean,
        frequency_low=float(low),
        frequency_high=float(high),
        seen_at=float(folded(mean, rate_hz)),
        level=level,
        at_reference=at_reference,
        reference_speed=reference,
        folded_share=float(np.mean(frequency > 0.5 * rate_hz)),
    )


def _maps(
    usable: dict[str, npt.NDArray[np.float32]],
    speed: FloatArray | None,
    ridge: Ridge | None,
    rate_hz: float,
    orders: tuple[float, ...],
    blades: int | None,
) -> tuple[CampbellMap, ...]:
    if speed is not None:
        frames = frames_of(list(usable.values()), rate_hz, *_cut(_MAP, rate_hz))
        along = speed.mean(axis=0)[frames.middle]
    elif ridge is not None and ridge.is_found:
        frames, along = ridge.frames, ridge.speed
    else:
        return ()
    groups = {name: rows for name, rows in groups_of(tuple(usable)).items() if name in ("rate", "accel")}
    maps = [campbell(frames, rows, name, along, orders, blades) for name, rows in groups.items()]
    return tuple(one for one in maps if one is not None)


def _floors(spectra: Mapping[str, Density], lines: tuple[RotorLine, ...]) -> tuple[Floor, ...]:
    taken = tuple((line.frequency_low - 5.0, line.frequency_high + 5.0) for line in lines)
    return tuple(
        floor_of(spectrum, *_FLOOR, taken) for name, spectrum in spectra.items() if name.startswith("rate")
    )


_ = Frames
