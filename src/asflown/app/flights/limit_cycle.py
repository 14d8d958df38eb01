"""Look for narrow-band oscillation that a healthy flight of the aircraft did not have."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from asflown.app.flights.arrays import stacked
from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured, reasons
from asflown.core.signals import AXES
from asflown.core.study.of_limit_cycle import limit_cycle_evidence, limit_cycle_findings
from asflown.errors import InputError

if TYPE_CHECKING:
    from asflown.core.evidence import Evidence
    from asflown.core.finding import Finding
    from asflown.core.flight import EvenPart
    from asflown.core.vibration.limit_cycle import LimitCycleBaseline

_NO_BASELINE = (
    "oscillation is told against a healthy flight of the same aircraft alone; give its log: --baseline FILE"
)
_SIGNALS = ("rate", "rate_command", "rotor_speed")


def limit_cycle(bench: Bench) -> Part:
    """Oscillation of the three rates against the baseline flight."""
    if bench.baseline is None:
        return not_measured("limit_cycle", _NO_BASELINE, bench)
    part = bench.longest(bench.names(*_SIGNALS), bench.flying)
    healthy = bench.baseline.longest(bench.baseline.names(*_SIGNALS), bench.baseline.flying)
    if part is None or healthy is None:
        which = "the baseline flight" if part is not None else "the flight"
        return not_measured("limit_cycle", f"{which} has no unbroken stretch in the air; log one", bench)
    evidence: list[Evidence] = []
    findings: list[Finding] = []
    result: dict[str, Any] = {}
    for axis in AXES:
        try:
            base = _baseline(healthy, axis)
        except InputError as error:
            evidence += _without(axis, f"baseline flight: {error.what}; {error.next_step}", bench)
            continue
        found = _found(part, axis, base)
        result[axis] = found
        evidence += limit_cycle_evidence(
            axis,
            found,
            source=bench.flight.source,
            span=part.span,
            resolution=float(base.frequency[1] - base.frequency[0]),
            limits=(_limits(base),),
        )
        findings += limit_cycle_findings(axis, found)
    return Part("limit_cycle", tuple(evidence), (), result, tuple(findings))


def _baseline(healthy: EvenPart, axis: str) -> LimitCycleBaseline:
    from asflown.core.vibration.limit_cycle import limit_cycle_baseline

    rate = healthy.values.get(f"rate.{axis}")
    if rate is None:
        raise InputError(f"the {axis} rate is not known in it", next_step="log all three rates")
    return limit_cycle_baseline(rate, healthy.rate, rotor_speed=stacked(healthy, "rotor_speed"))


def _found(part: EvenPart, axis: str, base: LimitCycleBaseline) -> tuple[Any, ...]:
    from asflown.core.vibration.limit_cycle import limit_cycle as look

    rate = part.values.get(f"rate.{axis}")
    if rate is None:
        return ()
    found = look(
        rate,
        part.rate,
        baseline=base,
        rotor_speed=stacked(part, "rotor_speed"),
        command=part.values.get(f"rate_command.{axis}"),
    )
    at = part.start
    return tuple(
        replace(one, start=one.start + at, end=one.end + at, told_at=one.told_at + at) for one in found
    )


def _limits(base: LimitCycleBaseline) -> str:
    import math

    from asflown.core.vibration.limit_cycle import NOT_COVERED

    how = base.detector
    high = min(how.high, 0.45 * base.rate_hz)
    return NOT_COVERED.format(low=how.low, high=high, least=math.degrees(how.least))


def _without(axis: str, reason: str, bench: Bench) -> list[Evidence]:
    return [one for one in reasons("limit_cycle", reason, bench) if one.quantity.split(".")[1] == axis]
