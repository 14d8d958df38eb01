"""A closed-loop multirotor: three rate axes coupled through their rotors, flown by a simulated pilot.

It judges the estimators: its truth is computed from the same parameters by code that does not share its loop.
"""

from asflown.core.behaviour.simulate.airframe import Air, Airframe, Battery, FrameMode, mixer_of
from asflown.core.behaviour.simulate.controller import (
    Controller,
    FilterKind,
    Levelling,
    LogSetup,
    LoopFilter,
    RateSource,
)
from asflown.core.behaviour.simulate.pilot import Activity, Commands, fly_freely, multisine, sweep
from asflown.core.behaviour.simulate.run import SimulatedFlight, simulate

__all__ = [
    "Activity",
    "Air",
    "Airframe",
    "Battery",
    "Commands",
    "Controller",
    "FilterKind",
    "FrameMode",
    "Levelling",
    "LogSetup",
    "LoopFilter",
    "RateSource",
    "SimulatedFlight",
    "fly_freely",
    "mixer_of",
    "multisine",
    "simulate",
    "sweep",
]
