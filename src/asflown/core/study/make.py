"""Evidence made of measured numbers, and the study that holds all of one flight."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from asflown.core.evidence import Evidence, Interval
from asflown.core.finding import Finding
from asflown.core.flight import Span
from asflown.core.measured import Measured
from asflown.core.study.quantities import quantity

#: Share of cases every interval is meant to cover.
COVERAGE = 0.95

#: How evidence spells units that a computing package spells otherwise.
_SPELT = {"rad/s/√Hz": "rad/s/rtHz", "m/s2/√Hz": "m/s2/rtHz", "rad/s/√s": "rad/s/rts"}


@dataclass(frozen=True)
class Study:
    """All evidence of one flight.

    Attributes
    ----------
    evidence
        By quantity, in the order it is shown.
    findings
        What a person should know besides.
    statements
        What was done with the log on the way, one sentence each, by what it concerns (``response``,
        ``vibration`` …).
    """

    source: str
    evidence: Mapping[str, Evidence]
    findings: tuple[Finding, ...] = ()
    statements: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def of(self, name: str) -> Evidence | None:
        """The evidence of a quantity, ``None`` where the flight was not asked for it."""
        return self.evidence.get(name)

    @property
    def measured(self) -> int:
        """How many quantities have a value."""
        return sum(one.value is not None for one in self.evidence.values())


def evidence_of(name: str, measured: Measured, *, source: str, span: Span | None = None) -> Evidence:
    """Evidence of one measured number.

    Parameters
    ----------
    name
        Of a quantity in :data:`asflown.core.study.quantities.QUANTITIES`.
    source
        SHA-256 of the log.
    span
        The stretch of the flight it was computed from; it goes with a value alone.

    Raises
    ------
    ValueError
        When there is no such quantity, or it was measured in another unit.
    """
    what = quantity(name)
    if _SPELT.get(measured.unit, measured.unit) != what.unit:
        raise ValueError(f"{name}: measured in {measured.unit}, stated in {what.unit}")
    value = interval = None
    if measured.value is not None and measured.low is not None and measured.high is not None:
        # plain floats: what is kept and printed knows no numpy numbers
        value = float(measured.value)
        interval = Interval(float(measured.low), float(measured.high), COVERAGE)
    return Evidence(
        quantity=name,
        unit=what.unit,
        value=value,
        interval=interval,
        reason=measured.reason,
        span=None if span is None or measured.value is None else (float(span.start), float(span.end)),
        method=what.method,
        source=source,
        route=measured.route,
        caveats=measured.caveats,
    )


def collected(parts: Iterable[Evidence]) -> dict[str, Evidence]:
    """Evidence by quantity.

    Raises
    ------
    ValueError
        When a quantity stands twice.
    """
    made: dict[str, Evidence] = {}
    for one in parts:
        if one.quantity in made:
            raise ValueError(f"{one.quantity} was measured twice")
        made[one.quantity] = one
    return made
