"""The quantities of pack and power, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

METHODS: tuple[Method, ...] = (
    Method(
        "pack-regression",
        "Voltage = open-circuit voltage less resistance times current: robust regression, the open-circuit"
        " voltage left free to fall slowly, a lag between the two columns allowed for.",
        "two-load rule of the trade; Huber's robust regression (from memory)",
    ),
    Method(
        "integration",
        "Current (times voltage) integrated by the trapezoidal rule; the interval holds 3 % and 0.1 A of the"
        " sensor, and what may have flowed in gaps.",
        "common practice, no source",
    ),
    Method(
        "hover-power",
        "Means in steady hover, brought to 1.225 kg/m3 by momentum theory and to one voltage by the thrust"
        " curve.",
        "ICAO Doc 7488/3; Leishman, Principles of Helicopter Aerodynamics, chapter 2 (from memory)",
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "power.resistance",
        "resistance of pack and wires",
        "ohm",
        "how much the voltage falls with the current, within seconds",
        "pack-regression",
    ),
    Quantity(
        "power.open_circuit_start",
        "open-circuit voltage, start",
        "V",
        "voltage without load when the flight began",
        "pack-regression",
    ),
    Quantity(
        "power.open_circuit_end",
        "open-circuit voltage, end",
        "V",
        "voltage without load when the flight ended",
        "pack-regression",
    ),
    Quantity(
        "power.fall",
        "fall of the open-circuit voltage",
        "V/(A s)",
        "voltage lost for each unit of charge used",
        "pack-regression",
        is_detail=True,
    ),
    Quantity(
        "power.sag_usual",
        "sag at the usual current",
        "V",
        "voltage below open circuit at the median current",
        "pack-regression",
    ),
    Quantity(
        "power.sag_largest",
        "sag at the largest current",
        "V",
        "voltage below open circuit at the largest current flown",
        "pack-regression",
    ),
    Quantity("power.used_charge", "used charge", "A s", "current integrated over the log", "integration"),
    Quantity("power.used_energy", "used energy", "J", "power integrated over the log", "integration"),
    Quantity(
        "power.hover_throttle", "hover throttle", "1", "mean motor command in hover, as flown", "hover-power"
    ),
    Quantity(
        "power.hover_throttle_standard",
        "hover throttle, standard air",
        "1",
        "the same at 1.225 kg/m3 and, where the cells of the pack are stated, at 3.8 V a cell",
        "hover-power",
    ),
    Quantity("power.hover_power", "hover power", "W", "mean power in hover, as flown", "hover-power"),
    Quantity(
        "power.hover_power_standard",
        "hover power, standard air",
        "W",
        "the same at 1.225 kg/m3",
        "hover-power",
    ),
    Quantity(
        "power.hover_power_ideal",
        "hover power, ideal",
        "W",
        "least power that momentum theory allows the stated mass and propellers",
        "hover-power",
    ),
    Quantity(
        "power.figure_of_merit",
        "figure of merit",
        "1",
        "ideal power over the pack's power in hover, motors included",
        "hover-power",
    ),
)
