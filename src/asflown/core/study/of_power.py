"""Evidence of pack and power."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.core.evidence import Evidence
from asflown.core.flight import Span
from asflown.core.measured import Measured
from asflown.core.power.battery import PackModel
from asflown.core.power.charge import Used
from asflown.core.power.hover import HoverPower
from asflown.core.study.make import evidence_of


@dataclass(frozen=True, eq=False)
class Power:
    """Everything measured of pack and power.

    Attributes
    ----------
    flying, logged
        The stretch in the air that was used, and the whole log the charge is integrated over.
    """

    pack: PackModel
    used: Used
    hover: HoverPower
    flying: Span
    logged: Span


def power_evidence(found: Power, *, source: str) -> Iterator[Evidence]:
    """Evidence of pack and power."""
    for name, number in _in_flight(found):
        yield evidence_of(f"power.{name}", number, source=source, span=found.flying)
    yield evidence_of("power.used_charge", found.used.charge, source=source, span=found.logged)
    yield evidence_of("power.used_energy", found.used.energy, source=source, span=found.logged)


def _in_flight(found: Power) -> Iterator[tuple[str, Measured]]:
    pack, hover = found.pack, found.hover
    yield "resistance", pack.resistance
    yield "open_circuit_start", pack.open_circuit_start
    yield "open_circuit_end", pack.open_circuit_end
    yield "fall", pack.fall
    yield "sag_usual", pack.sag_hover
    yield "sag_largest", pack.sag_full
    yield "hover_throttle", hover.throttle
    yield "hover_throttle_standard", hover.throttle_standard
    yield "hover_power", hover.power
    yield "hover_power_standard", hover.power_standard
    yield "hover_power_ideal", hover.ideal
    yield "figure_of_merit", hover.figure_of_merit
