"""The conditions of a flight: what was said, else what the log itself states or measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from asflown.core.columns.kinds import Kind
from asflown.core.columns.log_units import unit_of
from asflown.core.flight import Conditions, Flight
from asflown.core.log_table import LogTable
from asflown.errors import Fault, InputError

#: Condition by the word a person uses: field, kind of number (``None``: words), unit of a bare number.
WORDS: Mapping[str, tuple[str, Kind | None, str]] = {
    "pack": ("pack", None, ""),
    "propellers": ("propellers", None, ""),
    "wind": ("wind_mps", Kind.SPEED, "m/s"),
    "temperature": ("air_temperature_k", Kind.TEMPERATURE, "degC"),
    "pressure": ("air_pressure_pa", Kind.PRESSURE, "hPa"),
    "altitude": ("altitude_m", Kind.LENGTH, "m"),
    "place": ("place", None, ""),
    "pilot": ("pilot", None, ""),
    "day": ("day", None, ""),
}

#: What is plausible, in SI. Common practice, no source.
_PLAUSIBLE = {
    "wind_mps": (0.0, 40.0),
    "air_temperature_k": (220.0, 340.0),
    "air_pressure_pa": (20_000.0, 115_000.0),
    "altitude_m": (-500.0, 9000.0),
}


@dataclass(frozen=True)
class StatedConditions:
    """Conditions with where each comes from.

    Attributes
    ----------
    origins
        By field: ``said``, ``stated in the log``, ``measured in the log``.
    """

    conditions: Conditions
    origins: Mapping[str, str]


def from_words(said: Mapping[str, str]) -> Conditions:
    """Conditions a person said, e.g. ``{"wind": "3", "temperature": "54 degF"}``.

    Raises
    ------
    InputError
        With every one that cannot be read or is not plausible.
    """
    values: dict[str, str | float] = {}
    faults = []
    for word, text in said.items():
        name, kind, unit = WORDS[word]
        if kind is None:
            if text.strip():
                values[name] = text.strip()
            continue
        number = _number(text, kind, unit)
        low, high = _PLAUSIBLE[name]
        if number is None:
            faults.append(Fault(f"{text!r} is no {word}; write e.g. 3, or 3 {unit}", f"--{word}"))
        elif not low <= number <= high:
            faults.append(Fault(f"{text!r} is not plausible for the {word}", f"--{word}"))
        else:
            values[name] = number
    if faults:
        raise InputError(
            f"{len(faults)} condition{'s' if len(faults) > 1 else ''} cannot be used",
            faults=tuple(faults),
            next_step="write a number with its unit, or leave it out",
        )
    return Conditions(**values)  # type: ignore[arg-type]


def _number(text: str, kind: Kind, unit: str) -> float | None:
    number, _, word = text.strip().partition(" ")
    try:
        value = float(number.replace(",", "."))
    except ValueError:
        return None
    found = unit_of(kind, word.strip() or unit)
    if found is None or not found.is_known or value != value:
        return None
    return (value - found.offset) * found.factor


def stated(said: Conditions, table: LogTable) -> StatedConditions:
    """What was said, and for the rest what the preamble of the log states."""
    origins = {name: "said" for name in _given(said)}
    made = said
    lines = {key.strip().lower(): text for key, text in table.stated.items()}
    for word, (name, _, _) in WORDS.items():
        if word not in lines or name in origins:
            continue
        try:
            value = getattr(from_words({word: lines[word]}), name)
        except InputError:
            continue  # a preamble may say anything
        if value is not None:
            made, origins[name] = _with(made, name, value), "stated in the log"
    return StatedConditions(made, origins)


def with_measured(stated: StatedConditions, flight: Flight) -> StatedConditions:
    """The same with temperature and pressure of the air from the log, where nobody stated them."""
    import numpy as np

    made, origins = stated.conditions, dict(stated.origins)
    for name, trace in (("air_temperature_k", "air_temperature"), ("air_pressure_pa", "air_pressure")):
        if name in origins or not flight.has(trace):
            continue
        values = np.asarray(flight.traces[trace].values, dtype=np.float64)
        finite = values[np.isfinite(values)]
        low, high = _PLAUSIBLE[name]
        if finite.size and low <= (middle := float(np.median(finite))) <= high:
            made, origins[name] = _with(made, name, middle), "measured in the log"
    return StatedConditions(made, origins)


def _with(conditions: Conditions, name: str, value: str | float) -> Conditions:
    return replace(conditions, **{name: value})  # type: ignore[arg-type]


def _given(conditions: Conditions) -> tuple[str, ...]:
    missing = set(conditions.not_stated)
    return tuple(name for name, _, _ in WORDS.values() if name not in missing)
