"""Evidence of the sensors on the ground."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.core.calibrate.allan_read import GyroAllan
from asflown.core.calibrate.still import AtRest
from asflown.core.evidence import Evidence
from asflown.core.flight import Span
from asflown.core.measured import Measured
from asflown.core.signals import AXES
from asflown.core.study.make import evidence_of


@dataclass(frozen=True, eq=False)
class Ground:
    """Everything measured on the ground.

    Attributes
    ----------
    longest
        The longest rest, which the Allan deviation is of; ``None`` where there was none.
    """

    rest: AtRest
    allan: GyroAllan
    longest: Span | None


def ground_evidence(found: Ground, *, source: str) -> Iterator[Evidence]:
    """Evidence of the sensors on the ground."""
    rest = found.rest
    whole = Span(rest.spans[0].start, rest.spans[-1].end) if rest.spans else None
    for name, number in _at_rest(rest):
        yield evidence_of(f"ground.{name}", number, source=source, span=whole)
    for axis, reading in zip(AXES, found.allan.readings, strict=True):
        for name in ("white_noise", "bias_instability", "bias_walk"):
            number = getattr(reading, name)
            yield evidence_of(f"ground.allan.{axis}.{name}", number, source=source, span=found.longest)


def _at_rest(rest: AtRest) -> Iterator[tuple[str, Measured]]:
    for axis, number in zip(AXES, rest.gyro_bias, strict=True):
        yield f"gyro_bias.{axis}", number
    for axis, number in zip(AXES, rest.gyro_noise, strict=True):
        yield f"gyro_noise.{axis}", number
    yield "accel_norm", rest.accel_norm
    for axis, number in zip("xyz", rest.accel_noise, strict=True):
        yield f"accel_noise.{axis}", number
