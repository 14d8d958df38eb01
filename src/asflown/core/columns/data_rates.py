"""Commanded and measured rates: the command leads, the measured follows and carries the vibration."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.columns.kinds import Kind
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.log_units import DEGREE, unit_of
from asflown.core.columns.sample import Sample
from asflown.core.columns.spectra import Together
from asflown.core.layout import Doubt
from asflown.core.log_table import Column
from asflown.core.signals import AXES

#: Correlation from which a column is said to follow another, and lags that a response may have, s.
FOLLOWS, LATEST = 0.5, 0.12


@dataclass(frozen=True, slots=True)
class Pair:
    """One column follows another."""

    command: int
    measured: int
    correlation: float
    lag: float
    slope: float


def likely(ledger: Ledger, family: str) -> dict[int, str]:
    """Columns whose best reading is of a family, with that reading."""
    return {p: name for p, name in ledger.readings().items() if name.partition(".")[0] == family}


def say_named_pairs(ledger: Ledger, columns: Sequence[Column], sample: Sample, tied: Together | None) -> None:
    """Confirm or doubt the commands and rates the names tell apart; give one an axis by the other."""
    if tied is None:
        return
    commands, rates = likely(ledger, "rate_command"), likely(ledger, "rate")
    for c, command in commands.items():
        axis = command.partition(".")[2]
        m = next((place for place, name in rates.items() if name == f"rate.{axis}"), None)
        at, to = sample.at(c), sample.at(m) if m is not None else None
        if m is None or at is None or to is None:
            continue
        value, lag = tied.correlation(at, to)
        pair = Pair(c, m, value, lag, tied.slope(at, to))
        _confirm(ledger, columns, pair, command, f"rate.{axis}")


def _confirm(ledger: Ledger, columns: Sequence[Column], pair: Pair, command: str, rate: str) -> None:
    names = columns[pair.command].name, columns[pair.measured].name
    told = f"correlation {pair.correlation:.2f}, {abs(pair.lag) * 1e3:.1f} ms"
    if abs(pair.correlation) < FOLLOWS:
        return
    if pair.correlation < 0:
        question = f"'{names[1]}' goes against '{names[0]}' ({told}): is one of them the other way round?"
        choices = ("as logged", f"turn '{names[1]}' (factor -1)", f"turn '{names[0]}' (factor -1)")
        ledger.doubt(Doubt(rate, question, choices, "a rate that goes against its command cannot be flown"))
        return
    if pair.lag < -0.002:
        question = f"'{names[0]}' comes after '{names[1]}' ({told}): which is the command?"
        ledger.doubt(Doubt(command, question, names[::-1], "a command leads what answers it"))
        return
    if pair.lag <= LATEST:
        weight = 2.5 if pair.correlation > 0.75 else 1.5
        ledger.data(pair.measured, rate, weight, f"it follows '{names[0]}' ({told} later)")
        ledger.data(pair.command, command, weight, f"'{names[1]}' follows it ({told} later)")
        _same_unit(ledger, pair, names)


def _same_unit(ledger: Ledger, pair: Pair, names: tuple[str, str]) -> None:
    """The static factor of a rate to its command lies near 1, or the units differ by 57.3."""
    size = abs(pair.slope)
    if size <= 0:
        return
    for ratio, units in ((1.0, None), (math.degrees(1), ("rad/s", "deg/s")), (DEGREE, ("deg/s", "rad/s"))):
        if abs(math.log(size / ratio)) > 0.7:
            continue
        for mine, other, which in ((pair.measured, pair.command, 1), (pair.command, pair.measured, 0)):
            family, far = ("rate", "rate_command") if which else ("rate_command", "rate")
            best = ledger.best_unit(other, far)
            if units is not None:
                word = units[which]
                ledger.unit(
                    mine, family, word, 3.0, f"it is {size:.3g} times '{names[1 - which]}'" if which else ""
                )
            elif best is not None and best[1] > 1.5 and unit_of(Kind.RATE, best[0]) is not None:
                times = size if which else 1 / size
                told = f"it moves {times:.2f} times as far as '{names[1 - which]}': the same unit"
                ledger.unit(mine, family, best[0], 3.0, told)


def say_against_attitude(
    ledger: Ledger, columns: Sequence[Column], sample: Sample, tied: Together | None
) -> None:
    """A rate is the derivative of its angle: that tells axis, sign, and the ratio of units."""
    if tied is None:
        return
    rates, angles = likely(ledger, "rate"), likely(ledger, "attitude")
    for a, angle in angles.items():
        axis = angle.partition(".")[2]
        m = next((place for place, name in rates.items() if name == f"rate.{axis}"), None)
        at, to = sample.at(a), sample.at(m) if m is not None else None
        if m is None or at is None or to is None or axis == "yaw":
            continue
        value, lag = tied.correlation(at, to, derivative=True)
        if abs(value) < 0.6 or abs(lag) > 0.05:
            continue
        slope, name = tied.slope(at, to, derivative=True), columns[a].name
        ledger.data(
            m, f"rate.{axis}", 1.5, f"it goes with the derivative of '{name}' (correlation {value:.2f})"
        )
        if value < 0:
            ledger.doubt(
                Doubt(
                    f"rate.{axis}",
                    f"'{columns[m].name}' goes against the derivative of '{name}': which is reversed?",
                    ("as logged", f"turn '{columns[m].name}' (factor -1)", f"turn '{name}' (factor -1)"),
                    "the rate is the derivative of the angle",
                )
            )
        _ratio_to_angle(ledger, m, a, abs(slope), name)


def _ratio_to_angle(ledger: Ledger, rate: int, angle: int, slope: float, name: str) -> None:
    known = ledger.best_unit(angle, "attitude")
    if known is None or known[1] < 1.5 or slope <= 0:
        return
    unit = unit_of(Kind.ANGLE, known[0])
    if unit is None:
        return
    for word, factor in (("rad/s", 1.0), ("deg/s", DEGREE)):
        ratio = slope * factor / unit.factor
        if abs(math.log(ratio)) < 0.35:
            ledger.unit(
                rate, "rate", word, 3.0, f"it is {slope:.3g} times the derivative of '{name}' in {unit.word}"
            )


def axis_of(name: str) -> int:
    """0, 1, 2 of a canonical name's axis."""
    return AXES.index(name.partition(".")[2])
