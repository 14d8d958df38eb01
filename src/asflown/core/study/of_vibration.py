"""Evidence of vibration."""

from __future__ import annotations

from collections.abc import Iterator

from asflown.core.evidence import Evidence
from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.study.make import evidence_of
from asflown.core.vibration.result import RotorLine, Vibration


def vibration_evidence(found: Vibration, *, source: str, span: Span) -> Iterator[Evidence]:
    """Evidence of everything measured of the vibration of a flight."""
    for name, number in _numbers(found):
        yield evidence_of(name, number, source=source, span=span)


def _numbers(found: Vibration) -> Iterator[tuple[str, Measured]]:
    route = found.speed_route or ""
    if found.speed is None:
        why = "the rotor speed is not known: log it, or the motor commands"
        yield "vibration.rotor_speed", unmeasured(why, "rev/s", route)
    else:
        yield "vibration.rotor_speed", Measured(found.speed, found.speed, found.speed, "rev/s", route)
    for line in found.lines:
        yield from _line(line)
    for rotor in found.rotors:
        for family, number in rotor.at_reference.items():
            if family in ("rate", "accel"):
                yield f"vibration.rotors.{rotor.rotor}.{_order(rotor.order)}.{family}", number
    for floor in found.floor:
        yield f"vibration.floor.{floor.signal}", floor.level
    for clip in found.clipping:
        axis = clip.signal.rpartition(".")[2]
        yield f"vibration.clipping.{axis}", Measured(clip.share, clip.share, clip.share, route="counted")


def _line(line: RotorLine) -> Iterator[tuple[str, Measured]]:
    order = f"vibration.{_order(line.order)}"
    moved = f"it moved between {line.frequency_low:.3g} and {line.frequency_high:.3g} Hz for 90 % of the time"
    is_folded = abs(line.seen_at - line.frequency) > 0.001 * line.frequency
    seen = (f"it shows folded in the log, at {line.seen_at:.3g} Hz",) if is_folded else ()
    yield (
        f"{order}.frequency",
        Measured(line.frequency, line.frequency, line.frequency, "Hz", line.route, caveats=(moved, *seen)),
    )
    for signal, number in line.level.items():
        yield f"{order}.{signal if '.' in signal else f'{signal}.total'}", number
    for signal, number in line.at_reference.items():
        if "." not in signal:
            yield f"{order}.at_reference.{signal}", number


def _order(order: float) -> str:
    return f"order_{round(order)}"
