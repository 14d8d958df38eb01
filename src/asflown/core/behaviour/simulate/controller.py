"""Parameters of the simulated rate controller and of what its log keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from asflown.core.behaviour.simulate.airframe import QUAD_MIXER, Rows, Triple


class FilterKind(StrEnum):
    """Form of a digital filter."""

    ONE_POLE = "one pole"
    LOW_PASS = "low pass"  # second order, bilinear
    NOTCH = "notch"


@dataclass(frozen=True, slots=True)
class LoopFilter:
    """One digital filter in the loop.

    Attributes
    ----------
    frequency
        Hz, corner or centre.
    quality
        Quality factor of the second-order kinds.
    """

    kind: FilterKind
    frequency: float
    quality: float = 0.7071067811865476


@dataclass(frozen=True, slots=True)
class Levelling:
    """Outer loop: stick to angle to rate command, on roll and pitch.

    Attributes
    ----------
    gain
        1/s, rate command per rad of angle error.
    angle_limit
        rad at full stick.
    rate_limit
        rad/s.
    """

    gain: float = 5.0
    angle_limit: float = 0.8
    rate_limit: float = 6.0


@dataclass(frozen=True, slots=True)
class Controller:
    """A discrete rate controller, one step a period of ``loop_rate``.

    ``u = kp (r - yf) + ki integral(r - yf) - kd d(yd)/dt + kf dr/dt`` with ``yf`` the rate through
    ``gyro_filters`` (yaw's through ``yaw_filters`` too) and ``yd`` that through ``d_filters``; integral by
    backward rectangles, derivative by backward differences. Motor commands ``throttle + mixer @ u`` clipped
    to ``[idle, 1]``.

    Attributes
    ----------
    kp, ki, kd, kf
        Per axis: s/rad, 1/rad, s^2/rad, s^2/rad of command 1.
    integral_limit
        Command 1 the integral term may reach.
    computation_steps, output_delay
        Whole loop steps and further seconds between the gyro sample and the motor output.
    keep_authority
        Moves the throttle so that the axis commands fit into the motors' range where they can.
    compensate_to
        V; motor commands are scaled by ``compensate_to / measured voltage``. ``None``: not.
    voltage_lag
        s, of the measured voltage.
    rate_full
        rad/s at full stick where the stick commands a rate.
    """

    loop_rate: float = 4000.0
    kp: Triple = (0.03, 0.03, 0.08)
    ki: Triple = (0.06, 0.06, 0.1)
    kd: Triple = (0.0005, 0.0005, 0.0)
    kf: Triple = (0.0, 0.0, 0.0)
    gyro_filters: tuple[LoopFilter, ...] = (LoopFilter(FilterKind.ONE_POLE, 150.0),)
    yaw_filters: tuple[LoopFilter, ...] = ()
    d_filters: tuple[LoopFilter, ...] = (LoopFilter(FilterKind.ONE_POLE, 90.0),)
    integral_limit: float = 0.3
    computation_steps: int = 1
    output_delay: float = 0.0
    mixer: Rows = QUAD_MIXER
    idle: float = 0.05
    keep_authority: bool = True
    compensate_to: float | None = None
    voltage_lag: float = 0.2
    rate_full: float = 12.0
    levelling: Levelling | None = None


class RateSource(StrEnum):
    """Which rate the log keeps."""

    RAW = "raw"
    FILTERED = "filtered"


@dataclass(frozen=True, slots=True)
class LogSetup:
    """What is logged and how.

    Attributes
    ----------
    rate
        Hz, the loop rate over a whole number.
    averaged
        Rates and accelerations are means over the loop steps since the row before; otherwise every n-th
        step is picked (what lies above half the log rate folds down).
    steps
        Smallest step by family (``rate``, ``motor`` …), in its SI unit; absent: not rounded.
    clock_error
        Share by which the log's clock runs fast.
    jitter
        s rms of the time stamps.
    dropped
        Share of rows lost, in short bursts.
    """

    rate: float = 1000.0
    averaged: bool = False
    rate_source: RateSource = RateSource.RAW
    steps: Mapping[str, float] = field(default_factory=dict)
    clock_error: float = 0.0
    jitter: float = 0.0
    dropped: float = 0.0
