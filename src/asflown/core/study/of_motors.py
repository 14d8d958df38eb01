"""Evidence of the motors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from asflown.core.catalog import Consequence
from asflown.core.evidence import Evidence
from asflown.core.finding import Finding
from asflown.core.flight import Span
from asflown.core.measured import Measured
from asflown.core.motors.balance import MotorBalance
from asflown.core.motors.limits import Headroom, Saturation
from asflown.core.motors.lost_steps import LostStep
from asflown.core.motors.thrust import ThrustCurve
from asflown.core.signals import AXES
from asflown.core.study.make import evidence_of


@dataclass(frozen=True)
class Motors:
    """Everything measured of the motors."""

    balance: MotorBalance
    saturation: Saturation
    headroom: Headroom
    thrust: ThrustCurve
    lost_steps: tuple[LostStep, ...]


def motors_evidence(found: Motors, *, source: str, span: Span) -> Iterator[Evidence]:
    """Evidence of the motors, of the stretch in the air that was used."""
    for name, number in _numbers(found):
        yield evidence_of(f"motors.{name}", number, source=source, span=span)


def _numbers(found: Motors) -> Iterator[tuple[str, Measured]]:
    yield "hover", found.balance.mean
    for number, offset in enumerate(found.balance.offsets, 1):
        yield f"each.{number}.offset", offset
    for axis, pattern in zip(AXES, found.balance.patterns, strict=True):
        yield f"pattern.{axis}", pattern
    yield "headroom", found.headroom.above
    yield "thrust_ratio", found.headroom.thrust_ratio
    yield "saturated_share", _counted(found.saturation.total)
    for number, share in enumerate(found.saturation.at_full, 1):
        yield f"each.{number}.full_share", _counted(share)
    for number, share in enumerate(found.saturation.at_idle, 1):
        yield f"each.{number}.idle_share", _counted(share)
    yield "thrust_exponent", found.thrust.exponent
    yield "voltage_exponent", found.thrust.voltage_exponent
    yield "lag", found.thrust.lag
    yield "lost_steps", _counted(float(len(found.lost_steps)))


def _counted(value: float) -> Measured:
    """What was counted over the whole stretch has no sampling error."""
    return Measured(value, value, value, route="counted")


def motors_findings(found: Motors) -> tuple[Finding, ...]:
    """Signs of a motor out of step: what a person must look at before the next flight."""
    by_motor: dict[int, list[LostStep]] = {}
    for sign in found.lost_steps:
        by_motor.setdefault(sign.motor, []).append(sign)
    return tuple(_lost(motor, signs) for motor, signs in by_motor.items())


def _lost(motor: int, signs: Sequence[LostStep]) -> Finding:
    first = signs[0]
    return Finding(
        "motors",
        f"motor {motor}",
        Consequence.SAFETY,
        f"seemed to fall out of step {len(signs)} time{'s' if len(signs) > 1 else ''}, first at"
        f" {first.span.start:.2f} s: {first.sign.rstrip('.')}",
        ("propellers off: look at its wires, bell and bearing before the next flight",),
    )
