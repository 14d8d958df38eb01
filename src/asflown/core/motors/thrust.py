"""The thrust curve of the rotors, estimated from a flight.

Model: every rotor follows its command times a power of the pack voltage with a first-order lag and a short
delay, and thrust goes with a power of its speed:
``specific force = sum_i k_i lag(m_i (V / mean V)^c)^exponent``.
Near hover only the ratio of the slope to the level is seen, which is the exponent; no calibrated scale and no
mass is needed. Every rotor has a level k_i of its own, since unequal motors bend the curve of their mean.

The commands are known exactly, the accelerometer carries the noise, so the fit is of the accelerometer on the
commands and not the other way round. Where the collective answers the accelerometer (height hold) the
pilot's own throttle stick is used as instrument: the residual is only asked to be uncorrelated with what the
stick explains.

:mod:`asflown.core.behaviour.response.axis` finds an exponent of its own from how the rates answer at high and
low collective, since the accelerometer is often not logged. That one is coarser (standard error about 0.08
against 0.005 here, twelve simulated flights of 60 s), has no interval and only straightens the drive: it is
not shown, and a difference between the two says nothing of the aircraft.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asflown.core.measured import Measured, unmeasured
from asflown.core.motors.thrust_fit import SHARED, ThrustFit
from asflown.core.motors.thrust_stretches import SHORTEST, Stretch, has_voltage, prepared
from asflown.core.signal.mean_error import student

__all__ = ["Stretch", "ThrustCurve", "thrust_curve"]

#: Hz, the slowest log of use.
SLOWEST = 15.0
#: What the voltage exponent's error is at least, as a share of the exponent (chosen on simulated flights).
VOLTAGE_FLOOR = 0.03
#: A standard error above this says too little to be called a measurement.
WORST_ERROR = 0.25
#: m/s2, standard error of an accelerometer's zero along z after calibration (common practice, no source).
OFFSET_ERROR = 0.03


@dataclass(frozen=True, slots=True)
class ThrustCurve:
    """Thrust goes with ``command^exponent * voltage^voltage_exponent``.

    Attributes
    ----------
    exponent
        1 linear, 2 quadratic.
    error
        Standard error of the exponent, ``None`` where there is none.
    voltage_exponent
        About the same as ``exponent`` where the motors see the pack's voltage; about 0 where the firmware
        makes up for it after the logged commands.
    lag
        s, of the rotors' thrust, delay included.
    compensation
        One sentence on voltage compensation in the firmware.
    """

    exponent: Measured
    error: float | None
    voltage_exponent: Measured
    lag: Measured
    compensation: str


def thrust_curve(
    stretches: Sequence[Stretch], rate_hz: float, offset_error: float = OFFSET_ERROR
) -> ThrustCurve:
    """Exponents and lag of the thrust curve.

    Parameters
    ----------
    stretches
        Airborne, not at rest on the ground; those under 4 s are left out.
    rate_hz
        Samples a second.
    offset_error
        m/s2, standard error of the accelerometer's zero along z; 1 % of g shifts the exponent by 1 %.
    """
    if rate_hz < SLOWEST:
        return _nothing(
            f"accelerometer and motors at {rate_hz:.0f} Hz are too slow; log {SLOWEST:.0f} Hz or more"
        )
    with_voltage = all(has_voltage(s) for s in stretches)
    parts = prepared(stretches, rate_hz, with_voltage)
    if not parts:
        return _nothing(f"no airborne stretch of {SHORTEST:.0f} s; log a longer flight")
    level = float(np.mean(np.concatenate([part.force for part in parts])))
    if level < 1.0:
        return _nothing(
            f"the specific force along z is {-level:.1f} m/s2 on average, about -9.8 is expected;"
            " check the column"
        )
    return _told(ThrustFit(parts, with_voltage), offset_error / level)


def _nothing(reason: str) -> ThrustCurve:
    told = unmeasured(reason)
    return ThrustCurve(told, None, told, unmeasured(reason, "s"), "voltage compensation: not seen")


def _told(fit: ThrustFit, offset_share: float) -> ThrustCurve:
    """Intervals, refusals and words."""
    exponent, log_lag, _, by_voltage = (float(number) for number in fit.numbers[:SHARED])
    variances = np.maximum(np.diagonal(fit.covariance), 0.0)
    error = float(np.sqrt(variances[0] + (exponent * offset_share) ** 2))
    caveats: tuple[str, ...] = ()
    if not fit.has_voltage:
        error = float(np.hypot(error, 0.05 * exponent))
        caveats = ("pack voltage is not logged: sag is taken for part of the curve, 5 % is allowed for it",)
    if not fit.converged or not error < WORST_ERROR:
        return _nothing(
            "throttle varied too little to tell the thrust curve: fly five climbs with a quick rise of"
            " throttle, two seconds apart"
        )
    quantile = student(fit.dof)
    route = "accelerometer on motor commands"
    if fit.instrumented:
        route += ", throttle as instrument"
    lag = float(np.exp(log_lag))
    wide = quantile * float(np.sqrt(variances[1]))
    shown = Measured(lag, lag * np.exp(-wide), lag * np.exp(wide), "s", route)
    found = Measured(
        exponent, exponent - quantile * error, exponent + quantile * error, "1", route, caveats=caveats
    )
    slopes = np.array([by_voltage, exponent])
    spread = float(np.sqrt(slopes @ fit.covariance[np.ix_([0, 3], [0, 3])] @ slopes))
    spread = float(np.hypot(spread, VOLTAGE_FLOOR * exponent))
    voltage = _voltage(fit, by_voltage * exponent, quantile * spread, route)
    return ThrustCurve(found, error, voltage, shown, _compensation(voltage, exponent))


def _voltage(fit: ThrustFit, value: float, half: float, route: str) -> Measured:
    if not fit.has_voltage:
        return unmeasured("pack voltage is not logged; log it", route=route)
    if half > 0.8:
        spread = 100 * float(np.ptp(np.percentile(fit.logs, [2, 98])))
        return unmeasured(
            f"the voltage moved by {spread:.0f} % only; fly the pack further down in one log", route=route
        )
    return Measured(value, value - half, value + half, "1", route)


def _compensation(voltage: Measured, exponent: float) -> str:
    if voltage.low is None or voltage.high is None:
        return "voltage compensation: not seen"
    if voltage.low <= 0 <= voltage.high and not voltage.low <= exponent <= voltage.high:
        return "thrust does not follow the voltage: it is made up for after the logged motor commands"
    if voltage.low <= exponent <= voltage.high and voltage.low > 0:
        return (
            "thrust follows the voltage as much as the command: the logged commands are what the motors got"
        )
    return "thrust follows the voltage in part"
