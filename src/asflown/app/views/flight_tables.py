"""Tables of evidence: the axes side by side, everything else one figure a line."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.app.views.flight_words import UNKNOWN, span_shown, valued
from asflown.app.views.sheet import Table, counted
from asflown.core.evidence import Evidence
from asflown.core.signals import AXES
from asflown.core.study.quantities import quantity

#: Titles of the groups, in the order shown.
TITLES = {
    "axes": "Answer to the command",
    "vibration": "Vibration",
    "limit_cycle": "Oscillation",
    "motors": "Motors",
    "power": "Power",
    "ground": "Sensors on the ground",
}
#: Ways to the figures of the loop, as their evidence names them.
_ROUTES = ("known controller", "model-free")
#: Up to this many reasons tell why nothing of a group is known.
_MOST_REASONS = 2
#: Units shown in thousandths.
_MILLI = frozenset({"s", "ohm"})


def evidence_tables(evidence: Sequence[Evidence]) -> tuple[Table, ...]:
    """One table a group; a group of which nothing is known says so in one line."""
    made = []
    for group, title in TITLES.items():
        mine = [one for one in evidence if one.quantity.split(".")[0] == group]
        if not mine:
            continue
        made.append(_nothing(mine, title) or (_axes if group == "axes" else _plain)(mine, title))
    return tuple(made)


def _nothing(evidence: Sequence[Evidence], title: str) -> Table | None:
    """A group of which nothing is known, told in one line; ``None`` where something is."""
    reasons = dict.fromkeys(one.reason for one in evidence)
    if not reasons or None in reasons or len(reasons) > _MOST_REASONS:
        return None
    why = "; ".join(str(reason).rstrip(".") for reason in reasons)
    return Table((), (), title=title, empty=f"none of {counted(len(evidence), 'figure')}: {why}.")


def _axes(evidence: Sequence[Evidence], title: str) -> Table:
    by_name = {one.quantity: one for one in evidence if not quantity(one.quantity).is_detail}
    routes = dict.fromkeys(one.route for one in by_name.values() if one.route in _ROUTES)
    title = f"{title}, by route: {', '.join(routes)}" if routes else title
    details = [one for one in evidence if one.quantity not in by_name]
    kinds = dict.fromkeys(name.split(".", 2)[2] for name in by_name)
    rows = []
    for kind in kinds:
        cells, unit = [], ""
        for axis in AXES:
            one = by_name.get(f"axes.{axis}.{kind}")
            cell, unit = _cell(one) if one is not None else (UNKNOWN, unit)
            cells.append(cell)
        rows.append((quantity(f"axes.{AXES[0]}.{kind}").title, *cells, unit))
    columns = ("figure", *(f"{axis}#" for axis in AXES), "unit")
    return Table(columns, tuple(rows), title=title, folded=_folded(details))


def _cell(one: Evidence) -> tuple[str, str]:
    value, interval, unit = valued(one, milli=one.unit in _MILLI)
    return (f"{value}\n{interval}" if interval else value), unit


def _plain(evidence: Sequence[Evidence], title: str) -> Table:
    rows = []
    details = [one for one in evidence if quantity(one.quantity).is_detail]
    for one in evidence:
        if one in details:
            continue
        value, interval, unit = valued(one, milli=one.unit in _MILLI)
        rows.append((name_of(one), value, interval, unit, span_shown(one.span)))
    return Table(
        ("figure", "value#", "95 % interval", "unit", "from"),
        tuple(rows),
        title=title,
        folded=_folded(details),
    )


def _folded(details: Sequence[Evidence]) -> tuple[str, ...]:
    return (f"{counted(len(details), 'further figure')} folded: --json shows all",) if details else ()


def name_of(one: Evidence) -> str:
    """A figure with what it is of: ``bandwidth, roll``."""
    return quantity(one.quantity).titled(one.quantity)


def seen_first(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    """Why figures are unknown and what limits others: each sentence once, with what it concerns."""
    reasons: dict[str, list[str]] = {}
    caveats: dict[str, list[str]] = {}
    told = {
        group
        for group, title in TITLES.items()
        if (mine := [one for one in evidence if one.quantity.startswith(f"{group}.")])
        and _nothing(mine, title)
    }
    for one in evidence:
        if quantity(one.quantity).is_detail or one.quantity.split(".")[0] in told:
            continue
        if one.reason is not None:
            reasons.setdefault(one.reason, []).append(name_of(one))
        for caveat in one.caveats if one.reason is None else ():
            caveats.setdefault(caveat, []).append(name_of(one))
    return (
        *(f"Unknown ({_names(names)}): {reason.rstrip('.')}." for reason, names in reasons.items()),
        *(f"Mind ({_names(names)}): {caveat.rstrip('.')}." for caveat, names in caveats.items()),
    )


def _names(names: Sequence[str], most: int = 4) -> str:
    """Names with commas of their own in a row."""
    shown = "; ".join(names[:most])
    return shown if len(names) <= most else f"{shown}; {len(names) - most} more"
