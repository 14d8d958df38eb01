"""Evidence of one flight as it is kept with its aircraft."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.evidence import Evidence
from asflown.core.finding import Finding
from asflown.core.flight import Conditions
from asflown.core.identified import Identified


@dataclass(frozen=True, slots=True)
class LogNamed:
    """A log by its identity.

    Attributes
    ----------
    is_kept
        Whether its bytes are kept too.
    """

    sha256: str
    size: int
    name: str
    is_kept: bool = False


@dataclass(frozen=True)
class FlightEvidence:
    """Everything measured of one flight of one aircraft. What was measured is never changed.

    Attributes
    ----------
    id
        ``<aircraft>-f<number>``.
    at
        When it was measured.
    layout
        Fingerprint of the layout, and whether a person had confirmed it.
    span
        The stretch of the log that was used, s.
    release
        Of the settings that flew, else the aircraft's when it was measured; ``None``: not stated.
    version
        Of asflown.
    record
        Of the settings that flew, as far as it was said or taken; ``None``: not known.
    identified
        By axis, plant and controller as fitted; empty in evidence of older versions.
    aside
        Why a person set the flight aside; nothing is judged or predicted by it then. Empty: it counts.
    """

    id: str
    aircraft: str
    at: str
    log: LogNamed
    layout: str
    layout_confirmed: bool
    span: tuple[float, float]
    conditions: Conditions
    evidence: tuple[Evidence, ...]
    findings: tuple[Finding, ...] = ()
    release: str | None = None
    version: str = ""
    record: str | None = None
    identified: tuple[Identified, ...] = ()
    aside: str = ""

    @property
    def measured(self) -> int:
        """How many quantities have a value."""
        return sum(one.value is not None for one in self.evidence)
