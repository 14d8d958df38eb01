"""From the ledger to a layout: one signal a column, one column a signal, and what stays open."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from asflown.core.columns.assign import best_pairs
from asflown.core.columns.assume import ROW_NUMBER, Stated
from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.ledger import SETTLED, Ledger, share
from asflown.core.columns.log_units import UNITS, LogUnit, unit_of
from asflown.core.layout import Assignment, Doubt, Layout, Origin, fingerprint
from asflown.core.log_table import Column, LogTable

#: Kinds for which a wrong unit spoils every figure: no unit is guessed for them.
_UNIT_MATTERS = frozenset({Kind.TIME, Kind.RATE, Kind.ACCELERATION, Kind.VOLTAGE, Kind.CURRENT})
NO_UNIT = "no unit"
#: A lead of this much, in log odds, settles a unit.
UNIT_SETTLED = 1.5


def settle(ledger: Ledger, table: LogTable, stated: Stated) -> Layout:
    """Make the layout."""
    columns = table.columns
    fixed = _stated_pairs(stated, table)
    pairs = {**_pairs(ledger, len(columns), fixed), **fixed}
    lines: list[Assignment] = []
    doubts = list(ledger.doubts)
    without: dict[str, list[int]] = {}
    for place, name in sorted(pairs.items()):
        found = _line(ledger, place, name, columns, stated, place in fixed)
        if isinstance(found, Assignment):
            lines.append(found)
        elif isinstance(found, Doubt):
            doubts.append(found)
        elif found == NO_UNIT:
            without.setdefault(name.partition(".")[0], []).append(place)
    doubts += [_which_unit(ledger, family, places, pairs, columns) for family, places in without.items()]
    used = {line.column for line in lines}
    unused = tuple(column.name for column in columns if column.name not in used)
    return Layout(fingerprint(table.header), tuple(lines), unused, tuple(doubts))


def _stated_pairs(stated: Stated, table: LogTable) -> dict[int, str]:
    places = {column.name: place for place, column in reversed(list(enumerate(table.columns)))}
    places[ROW_NUMBER] = -1
    return {places[column]: name for name, column in stated.columns.items()}


def _pairs(ledger: Ledger, count: int, fixed: dict[int, str]) -> dict[int, str]:
    names = sorted({name for _, name in ledger.weights} - set(fixed.values()))
    index = {name: place for place, name in enumerate(names)}
    weights = np.zeros((count, len(names)))
    for (column, name), weight in ledger.weights.items():
        if column not in fixed and name in index:
            weights[column, index[name]] = weight
    return {column: names[at] for column, at in best_pairs(weights)}


def _line(
    ledger: Ledger, place: int, name: str, columns: Sequence[Column], stated: Stated, is_fixed: bool
) -> Assignment | Doubt | str | None:
    column = columns[place].name if place >= 0 else ROW_NUMBER
    key = (place, name)
    lead = 30.0 if is_fixed else _lead(ledger, place, name)
    reasons = ["a person stated it"] if is_fixed else list(ledger.reasons.get(key, ()))
    if lead < SETTLED:
        return _who(ledger, place, name, column, lead)
    unit, unit_lead, why = _unit(ledger, place, name, stated)
    if unit is None:
        return NO_UNIT
    factor, offset, told = _signed(ledger, place, name, unit)
    person = is_fixed or (stated.unit(name) is not None and lead > 20)
    return Assignment(
        column,
        name,
        unit.word,
        factor,
        offset,
        Origin.PERSON if person else _origin(ledger, key),
        1.0 if is_fixed and stated.unit(name) else round(share(min(lead, unit_lead)), 3),
        tuple((*reasons, *why, *told)),
    )


def _lead(ledger: Ledger, place: int, name: str) -> float:
    """How far this reading is ahead of the column's others and of other columns for the same signal."""
    mine = ledger.weights[place, name]
    rivals = [w for (c, n), w in ledger.weights.items() if c != place and n == name and w > 0]
    own = [w for (c, n), w in ledger.weights.items() if c == place and n != name and w > 0]
    return min(mine, mine - max(own, default=0.0) + 1.0, mine - max(rivals, default=-9.0) + SETTLED)


def _origin(ledger: Ledger, key: tuple[int, str]) -> Origin:
    if key in ledger.by_name:
        return Origin.NAME_AND_DATA if key in ledger.by_data else Origin.NAME
    return Origin.DATA


def _unit(ledger: Ledger, place: int, name: str, stated: Stated) -> tuple[LogUnit | None, float, list[str]]:
    said = stated.unit(name)
    if said is not None:
        return said, 30.0, [f"a person stated the unit {said.word}"]
    kind, family = kind_of(name), name.partition(".")[0]
    if kind is Kind.LABEL:
        return UNITS[kind][0], 30.0, []
    found = ledger.best_unit(place, family)
    if found is None:
        return None, 0.0, []
    unit = unit_of(kind, found[0])
    if unit is None or not unit.is_known or (found[1] < UNIT_SETTLED and kind in _UNIT_MATTERS):
        return None, found[1], []
    return unit, found[1], list(ledger.unit_reasons.get((place, family, found[0]), ()))


def _signed(ledger: Ledger, place: int, name: str, unit: LogUnit) -> tuple[float, float, list[str]]:
    turned = ledger.signs.get((place, name))
    return (-unit.factor, unit.offset, [turned]) if turned else (unit.factor, unit.offset, [])


def _who(ledger: Ledger, place: int, name: str, column: str, lead: float) -> Doubt | None:
    own = sorted(((w, n) for (c, n), w in ledger.weights.items() if c == place and w > 0), reverse=True)
    if lead <= 0.5 or not own:
        return None
    choices = tuple(n for _, n in own[:4])
    why = " · ".join(ledger.reasons.get((place, name), ()))
    return Doubt(
        column, f"is '{column}' {' or '.join(choices)}, or none of them?", (*choices, "not used"), why
    )


def _which_unit(
    ledger: Ledger, family: str, places: list[int], pairs: dict[int, str], columns: Sequence[Column]
) -> Doubt:
    """One question for all columns of a family."""
    names = [columns[place].name if place >= 0 else ROW_NUMBER for place in places]
    table = ledger.units.get((places[0], family), {})
    ranked = [word for word, _ in sorted(table.items(), key=lambda item: -item[1])]
    units = UNITS[kind_of(pairs[places[0]])]
    choices = tuple(dict.fromkeys((*ranked, *(unit.word for unit in units if unit.is_known))))[:5]
    why = " · ".join(r for word in ranked[:2] for r in ledger.unit_reasons.get((places[0], family, word), ()))
    if len(places) == 1:
        subject, question = names[0], f"'{names[0]}' is {pairs[places[0]]}: in which unit?"
    else:
        subject = family
        question = f"{', '.join(map(repr, names))} are {family.replace('_', ' ')}: in which unit?"
    return Doubt(subject, question, choices, why or "nothing states its unit")
