"""Measure pack and power: open-circuit voltage, resistance, used charge, what hovering takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.flights.arrays import inside, stacked
from asflown.app.flights.bench import Bench
from asflown.app.flights.part import Part, not_measured
from asflown.core.study.of_power import Power, power_evidence

if TYPE_CHECKING:
    from asflown.core.flight import Conditions, EvenPart
    from asflown.core.power.charge import Used
    from asflown.core.power.hover import HoverPower, Rotors

_NOTHING = "pack voltage is not known in this log; log pack voltage and current"
#: V of one cell that hover throttle is brought to, and standard errors of the density: pressure stated or
#: logged, pressure of the standard atmosphere at the stated height. Common practice, no source.
CELL, DENSITY_ERROR, DENSITY_ERROR_BY_HEIGHT = 3.8, 0.01, 0.02


def power(bench: Bench) -> Part:
    """Pack and power over the longest stretch in the air; used charge over the whole log."""
    import numpy as np

    from asflown.core.power.battery import open_circuit

    if not bench.flight.has("pack_voltage"):
        return not_measured("power", _NOTHING, bench)
    names = ("pack_voltage", *bench.names("pack_current", "motor"))
    part = bench.longest(names, bench.flying)
    if part is None:
        return not_measured("power", bench.why_none(names), bench)
    time = part.start + np.arange(part.samples) / part.rate
    pack = open_circuit(part.values["pack_voltage"], part.values.get("pack_current"), time)
    found = Power(pack, _used(bench), _hover(bench, part), part.span, bench.span)
    told = () if abs(pack.lag) < 0.05 else (_late(pack.lag),)
    return Part("power", tuple(power_evidence(found, source=bench.flight.source)), told, found)


def _late(lag: float) -> str:
    which, other = ("voltage", "current") if lag > 0 else ("current", "voltage")
    return f"the pack's {which} follows its {other} {abs(lag):.2f} s late in this log; allowed for"


def _used(bench: Bench) -> Used:
    import numpy as np

    from asflown.core.power.charge import used_charge

    voltage = bench.flight.traces["pack_voltage"]
    current = bench.flight.traces.get("pack_current")
    time = voltage.time
    if current is None:
        return used_charge(time, np.full(time.size, np.nan), np.asarray(voltage.values, dtype=np.float64))
    same = current.time is voltage.time
    volts = voltage.values if same else np.interp(current.time, voltage.time, voltage.values)
    return used_charge(
        current.time, np.asarray(current.values, dtype=np.float64), np.asarray(volts, dtype=np.float64)
    )


def _hover(bench: Bench, part: EvenPart) -> HoverPower:
    from asflown.core.measured import unmeasured
    from asflown.core.power.hover import HoverPower, hover_power

    motors = stacked(part, "motor")
    if motors is None:
        why = "motor commands are not known in this log; log every motor's command"
        plain, watt = unmeasured(why), unmeasured(why, "W")
        return HoverPower(plain, plain, watt, watt, watt, plain)
    density, error = _density(bench.flight.conditions)
    cells = None if bench.aircraft is None else bench.aircraft.battery.cells
    curve = bench.thrust
    return hover_power(
        motors,
        part.values["pack_voltage"],
        part.values.get("pack_current"),
        inside(part, bench.hovering),
        part.rate,
        density=density,
        reference_voltage=None if cells is None else CELL * cells,
        exponent=None if curve is None else curve.exponent,
        voltage_exponent=None if curve is None else curve.voltage_exponent,
        rotors=_rotors(bench),
        density_error=error,
    )


def _density(conditions: Conditions) -> tuple[float | None, float]:
    """kg/m3 and its standard error as a share; pressure from the stated height where none was stated."""
    from asflown.core.atmosphere import density_of, standard_air_geometric

    temperature, pressure = conditions.air_temperature_k, conditions.air_pressure_pa
    if temperature is None:
        return None, DENSITY_ERROR
    if pressure is not None:
        return density_of(pressure, temperature), DENSITY_ERROR
    if conditions.altitude_m is None:
        return None, DENSITY_ERROR
    standard = standard_air_geometric(conditions.altitude_m).pressure
    return density_of(standard, temperature), DENSITY_ERROR_BY_HEIGHT


def _rotors(bench: Bench) -> Rotors | None:
    from asflown.core.power.hover import Rotors

    about = bench.aircraft
    if about is None or about.mass_kg is None or about.propellers.diameter_m is None:
        return None
    count = about.motors.count or len(bench.flight.family("motor"))
    return Rotors(about.mass_kg, about.propellers.diameter_m, count) if count else None
