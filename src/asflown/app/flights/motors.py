"""Measure the motors: balance in hover, limits, thrust curve, signs of lost steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.flights.arrays import inside, stacked
from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured
from asflown.core.signals import AXES
from asflown.core.study.of_motors import Motors, motors_evidence, motors_findings

if TYPE_CHECKING:
    from asflown.core.flight import EvenPart
    from asflown.core.motors.mixer import MotorMixer
    from asflown.core.motors.thrust import ThrustCurve

_NOTHING = "motor commands are not known in this log; log every motor's command"
_SIGNALS = ("motor", "rate", "rate_command", "control", "rotor_speed")


def motors(bench: Bench) -> Part:
    """The motors in the longest stretch in the air."""
    if len(bench.flight.family("motor")) < 2:
        return not_measured("motors", _NOTHING, bench)
    names = bench.names(*_SIGNALS)
    part = bench.longest(names, bench.flying)
    if part is None:
        return not_measured("motors", bench.why_none(names), bench)
    found, mixer = _measured(bench, part)
    told = (*found.balance.meanings, found.thrust.compensation, *mixer.caveats)
    evidence = tuple(motors_evidence(found, source=bench.flight.source, span=part.span))
    return Part("motors", evidence, told, found, motors_findings(found))


def _measured(bench: Bench, part: EvenPart) -> tuple[Motors, MotorMixer]:
    import numpy as np

    from asflown.core.motors.balance import balance
    from asflown.core.motors.limits import headroom, saturation
    from asflown.core.motors.lost_steps import desynchronisation

    commands, speed = stacked(part, "motor"), stacked(part, "rotor_speed")
    assert commands is not None
    rates = stacked(part, "rate", AXES)
    if rates is None:
        rates = np.zeros((3, part.samples))
    mixer = bench.mixer(part)
    hover = inside(part, bench.hovering)
    curve = bench.thrust = _curve(bench)
    return (
        Motors(
            balance(commands, hover, part.rate, mixer),
            saturation(commands, part.rate, start=part.start),
            headroom(commands, hover, part.rate, exponent=curve.exponent),
            curve,
            desynchronisation(commands, speed, rates, part.rate, mixer, part.start),
        ),
        mixer,
    )


def _curve(bench: Bench) -> ThrustCurve:
    from asflown.core.measured import unmeasured
    from asflown.core.motors.thrust import Stretch, ThrustCurve, thrust_curve

    if not bench.flight.has("accel.z"):
        why = unmeasured("specific force along z is not known in this log; log the accelerometer")
        lag = unmeasured(why.reason or "", "s")
        return ThrustCurve(why, None, why, lag, "voltage compensation in the firmware: not seen")
    names = (*bench.names("motor"), "accel.z", *bench.names("pack_voltage", "throttle"))
    even = bench.even(names, bench.flying, least=4.0)
    stretches = []
    for part in even.parts:
        commands = stacked(part, "motor")
        assert commands is not None
        values = part.values
        stretches.append(
            Stretch(commands, values["accel.z"], values.get("pack_voltage"), values.get("throttle"))
        )
    return thrust_curve(stretches, even.rate)
