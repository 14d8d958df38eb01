"""Evidence of narrow-band oscillation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from asflown.core.catalog import Consequence
from asflown.core.evidence import Evidence
from asflown.core.finding import Finding
from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.study.make import evidence_of
from asflown.core.vibration.limit_cycle import LimitCycle

_NONE = "no oscillation stood out over the baseline flight"


def limit_cycle_evidence(
    axis: str,
    found: Sequence[LimitCycle],
    *,
    source: str,
    span: Span,
    resolution: float,
    limits: tuple[str, ...],
) -> Iterator[Evidence]:
    """Evidence of one axis.

    Parameters
    ----------
    span
        The stretch looked at.
    resolution
        Hz, width of a bin: half of it bounds the frequency.
    limits
        What the detector does not cover, one sentence each.
    """
    count = float(len(found))
    numbers = {"found": Measured(count, count, count, route="counted", caveats=limits)}
    if not found:
        units = (("frequency", "Hz"), ("rms", "rad/s"), ("growth", "dB"))
        numbers |= {name: unmeasured(_NONE, unit) for name, unit in units}
    else:
        strongest = max(found, key=lambda one: one.rms)
        span = Span(strongest.start, strongest.end)
        half = 0.5 * resolution
        numbers |= {
            "frequency": Measured(
                strongest.frequency, strongest.frequency - half, strongest.frequency + half, "Hz"
            ),
            "rms": _exact(strongest.rms, "rad/s"),
            "growth": _exact(strongest.growth_db, "dB"),
        }
    for name, number in numbers.items():
        yield evidence_of(f"limit_cycle.{axis}.{name}", number, source=source, span=span)


def _exact(value: float, unit: str) -> Measured:
    """The greatest of what was flown: read off, not estimated."""
    return Measured(value, value, value, unit, caveats=("the greatest of the flight, read off",))


def limit_cycle_findings(axis: str, found: Sequence[LimitCycle]) -> tuple[Finding, ...]:
    """An oscillation is something a person must know before the next flight."""
    if not found:
        return ()
    strongest = max(found, key=lambda one: one.rms)
    return (
        Finding(
            "limit cycle",
            f"{axis} rate",
            Consequence.SAFETY,
            f"{len(found)} stretch{'es' if len(found) > 1 else ''} of oscillation; {strongest.statement}",
            ("do not fly on: look for loose parts, then lower the gains of the rate loop of that axis",),
        ),
    )
