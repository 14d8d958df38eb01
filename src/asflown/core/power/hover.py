"""What hovering takes: throttle and power, brought to standard air and one voltage; figure of merit.

Momentum theory: ``v = sqrt(T / (2 rho A))`` and ``P = T v = T^1.5 / sqrt(2 rho A)`` for each rotor; so at
fixed weight the power goes with ``1 / sqrt(rho)``, rotor speed likewise. Source: J. G. Leishman,
*Principles of Helicopter Aerodynamics*, 2nd ed., Cambridge 2006, ch. 2 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.atmosphere import GRAVITY, SEA_LEVEL_DENSITY
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import averaged_where, bounds, means_of

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

SHORTEST = 5.0
ROUTE = "means in hover"


@dataclass(frozen=True, slots=True)
class Rotors:
    """What momentum theory asks for.

    Attributes
    ----------
    mass
        kg, take-off mass.
    diameter
        m, of one propeller.
    count
        Propellers that share the weight (two on one axis count once: common practice, no source).
    """

    mass: float
    diameter: float
    count: int

    @property
    def disk_area(self) -> float:
        """Of one propeller, m2."""
        return math.pi * self.diameter**2 / 4


def induced_velocity(thrust: float, density: float, area: float) -> float:
    """Downwash through a hovering rotor, m/s, of thrust (N), density (kg/m3) and disk area (m2).

    Examples
    --------
    >>> round(induced_velocity(1.5 * 9.80665 / 4, 1.225, 3.141592653589793 * 0.127**2), 6)
    5.442698
    """
    return math.sqrt(thrust / (2 * density * area))


def ideal_power(thrust: float, density: float, area: float) -> float:
    """Least power for a thrust in hover, W."""
    return thrust * induced_velocity(thrust, density, area)


@dataclass(frozen=True, slots=True)
class HoverPower:
    """Hover, as flown and at standard sea-level air.

    Attributes
    ----------
    throttle
        Mean motor command, 1, as flown.
    throttle_standard
        The same at 1.225 kg/m3 and at ``reference_voltage``.
    power
        W from the pack, as flown.
    power_standard
        W at 1.225 kg/m3, the weight being the same.
    ideal
        W of all rotors after momentum theory, ``figure_of_merit`` the share of the pack's power it is
        (motors and speed controllers included).
    """

    throttle: Measured
    throttle_standard: Measured
    power: Measured
    power_standard: Measured
    ideal: Measured
    figure_of_merit: Measured
    reference_voltage: float | None = None


def hover_power(
    motors: Float,
    voltage: Float | None,
    current: Float | None,
    hover: Bool,
    rate_hz: float,
    density: float | None = None,
    reference_voltage: float | None = None,
    exponent: Measured | None = None,
    voltage_exponent: Measured | None = None,
    rotors: Rotors | None = None,
    density_error: float = 0.01,
) -> HoverPower:
    """Hover throttle and power.

    Parameters
    ----------
    motors, voltage, current
        (motors, n) 1, (n,) V, (n,) A.
    hover
        (n,) true in steady hover.
    density
        kg/m3; ``None``: no correction.
    reference_voltage
        V that the throttle is brought to; ``None``: no correction for voltage.
    exponent, voltage_exponent
        Of the thrust curve; thrust goes with ``density * command^exponent * voltage^voltage_exponent``.
    density_error
        Standard error of the density, as a share (common practice, no source).
    """
    seconds = float(np.count_nonzero(hover)) / rate_hz
    if seconds < SHORTEST:
        told = unmeasured(f"{seconds:.0f} s of steady hover are too short; hover for 30 s", route=ROUTE)
        watt = unmeasured(told.reason or "", "W", ROUTE)
        return HoverPower(told, told, watt, watt, watt, told, reference_voltage)
    level = means_of(averaged_where(motors, rate_hz, hover).mean(axis=0)[None], seconds)
    throttle = level.measured(0, "1", ROUTE)
    volts = None if voltage is None else float(np.nanmean(voltage[hover]))
    corrected = _corrected(
        throttle, volts, density, reference_voltage, exponent, voltage_exponent, density_error
    )
    power = _power(voltage, current, hover, seconds)
    standard = _scaled(power, density, density_error)
    ideal, merit = _merit(power, rotors, density, density_error)
    return HoverPower(throttle, corrected, power, standard, ideal, merit, reference_voltage)


def _power(voltage: Float | None, current: Float | None, hover: Bool, seconds: float) -> Measured:
    if voltage is None or current is None:
        return unmeasured("pack voltage and current are not both logged; log both", "W", ROUTE)
    watts = (voltage * current)[hover]
    good = np.isfinite(watts)
    if np.count_nonzero(good) < 0.8 * watts.size:
        return unmeasured("a fifth of voltage or current is missing in hover; log both", "W", ROUTE)
    return means_of(watts[good][None], seconds).measured(0, "W", ROUTE)


def _times(measured: Measured, factor: float, share: float, unit: str, route: str, *caveats: str) -> Measured:
    """A measured number times a factor whose standard error is ``share`` of it."""
    found = bounds(measured)
    if found is None:
        return measured
    value, low, high = (factor * number for number in found)
    up = math.hypot(high - value, 1.96 * share * abs(value))
    down = math.hypot(value - low, 1.96 * share * abs(value))
    return Measured(value, value - down, value + up, unit, route, caveats=measured.caveats + caveats)


def _scaled(power: Measured, density: float | None, density_error: float) -> Measured:
    route = "means in hover, to standard density by momentum theory"
    if power.value is None:
        return power
    if density is None:
        why = "air density is not known: state or log pressure and temperature"
        return unmeasured(why, "W", route)
    return _times(power, math.sqrt(density / SEA_LEVEL_DENSITY), 0.5 * density_error, "W", route)


def _corrected(
    throttle: Measured,
    volts: float | None,
    density: float | None,
    reference_voltage: float | None,
    exponent: Measured | None,
    voltage_exponent: Measured | None,
    density_error: float,
) -> Measured:
    route = "means in hover, to standard density and one voltage by the thrust curve"
    missing = [
        words
        for words, absent in (
            ("air density (state or log pressure and temperature)", density is None),
            ("pack voltage", volts is None and reference_voltage is not None),
            ("the thrust curve", bounds(exponent) is None),
        )
        if absent
    ]
    curve = bounds(exponent)
    if missing or curve is None or density is None:
        return unmeasured(f"not known: {', '.join(missing)}", route=route)
    gamma, spread = curve[0], 0.25 * (curve[2] - curve[1])
    by_voltage = (bounds(voltage_exponent) or curve)[0]
    ratio = math.log(density / SEA_LEVEL_DENSITY)
    share = math.hypot(density_error / gamma, ratio * spread / gamma**2)
    if reference_voltage is not None and volts is not None:
        step = math.log(volts / reference_voltage)
        ratio += by_voltage * step
        share = math.hypot(share, 0.1 * step)
    return _times(throttle, math.exp(ratio / gamma), share, "1", route)


def _merit(
    power: Measured, rotors: Rotors | None, density: float | None, density_error: float
) -> tuple[Measured, Measured]:
    route = "momentum theory"
    if rotors is None or density is None:
        lacking = "mass and propeller diameter" if rotors is None else "air density"
        why = f"{lacking} not known: state it"
        return unmeasured(why, "W", route), unmeasured(why, "1", route)
    thrust = rotors.mass * GRAVITY / rotors.count
    ideal = rotors.count * ideal_power(thrust, density, rotors.disk_area)
    half = 1.96 * 0.5 * density_error * ideal
    told = Measured(
        ideal, ideal - half, ideal + half, "W", route, caveats=("mass and diameter taken as stated",)
    )
    found = bounds(power)
    if found is None or not found[1] > 0:
        why = power.reason or "the power in hover is not above 0; check the current column"
        return told, unmeasured(why, "1", route)
    merit = ideal / found[0]
    wide = 1.96 * 0.5 * density_error * merit
    low = merit - math.hypot(merit - ideal / found[2], wide)
    high = merit + math.hypot(ideal / found[1] - merit, wide)
    return told, Measured(merit, low, high, "1", route, caveats=("of the pack's power: motors included",))
