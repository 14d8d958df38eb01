"""Two catalogs matched, as a sheet: what changed first, what stayed only counted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import StrEnum

from asflown.app.catalogs import Given
from asflown.app.matched import Group, Matched, once, sure
from asflown.app.views.sheet import Sheet, Table, counted
from asflown.core.carry.matching.result import Pair, PairKind, Zone
from asflown.core.carry.meaning import Kinship
from asflown.core.catalog import Catalog, Consequence
from asflown.core.values import plain_text

NOT_STATED = "not stated"
#: A runner-up below this is not shown: nothing else is near.
NEAREST = 0.005


class Show(StrEnum):
    """Which groups are shown; the others are counted."""

    CHANGED = "changed"
    ALL = "all"
    RETIRED = "retired"
    NEW = "new"


_CHANGED = (Group.RENAMED, Group.MEANING, Group.FACTORY)
_GONE = (Group.UNKNOWN, Group.RETIRED)
#: Old names shown; ``None`` is what is shown when nobody asked.
SHOWN: dict[Show | None, tuple[Group, ...]] = {
    None: (*_CHANGED, *_GONE),
    Show.CHANGED: _CHANGED,
    Show.RETIRED: _GONE,
    Show.NEW: (),
    Show.ALL: tuple(Group),
}
#: The mark of each group; its word always stands beside it.
MARKS = {
    Group.UNCHANGED: "=",
    Group.UNSTATED: "=",
    Group.RENAMED: "→",
    Group.MEANING: "!",
    Group.FACTORY: "!",
    Group.UNKNOWN: "?",
    Group.RETIRED: "×",
}
TITLES = {
    Group.RENAMED: "Other name",
    Group.MEANING: "Same name, other meaning",
    Group.FACTORY: "Same name, other factory value",
    Group.UNKNOWN: "Not sure: taken for retired, the best candidate beside it",
    Group.RETIRED: "Retired: nothing resembles it",
    Group.UNSTATED: "Same name, and nobody states what it means",
    Group.UNCHANGED: "Unchanged",
}
_WORDS = {Kinship.SAME: "", Kinship.UNSTATED: "nobody states what either of them means"}


def match_sheet(matched: Matched, show: Show | None = None) -> Sheet:
    """What became of every name of the old catalog, and what is new."""
    groups = SHOWN[show]
    tables = [table for group in groups if (table := _table(group, matched)) is not None]
    if show in (None, Show.NEW, Show.ALL) and matched.matching.new:
        tables.append(_new_table(matched))
    folded = tuple(_folded(matched, groups, is_new_shown=show in (None, Show.NEW, Show.ALL)))
    if folded:
        tables.append(Table((), (), folded=folded))
    old, new = matched.old.name, matched.new.name
    return Sheet(
        title="Matching",
        head=(("old", _given_says(matched.old)), ("new", _given_says(matched.new))),
        sentence=_sentence(matched),
        account=account(matched),
        tables=tuple(tables),
        notes=(*_remarks(matched.old), *_remarks(matched.new)),
        next_act=(f"make change notes of it: asflown notes draft {word(old)} {word(new)} --out notes.toml",),
        foot=("nothing is kept, nothing is applied",),
    )


def word(name: str) -> str:
    """A name as it is typed again on a command line."""
    import shlex

    return "-" if name == "standard input" else shlex.quote(name)


def account(matched: Matched) -> str:
    """Old names by what became of them: the numbers add up; the new ones apart."""
    counts = matched.counts
    order = (Group.UNCHANGED, Group.UNSTATED, *_CHANGED, *_GONE)
    parts = [
        f"{MARKS[group]} {counts[group]} {group}"
        for group in order
        if counts[group] or group is not Group.UNSTATED
    ]
    total = len(matched.old.catalog.parameters)
    return f"{counted(total, 'old name')} · {' · '.join(parts)}   + {len(matched.matching.new)} new"


def _sentence(matched: Matched) -> str:
    renamed = matched.groups[Group.RENAMED]
    zones = [pair.zone for pair in renamed]
    proposed = zones.count(Zone.PROPOSE)
    says = f"{counted(len(renamed), 'old name')} {'has' if len(renamed) == 1 else 'have'} another name now"
    if renamed:
        says += f": {proposed} proposed, to be confirmed by a person; {len(zones) - proposed} certain"
        says += " and without a consequence for the aircraft"
    counts = matched.counts
    same = counts[Group.MEANING]
    says += f". {counted(same, 'name')} stayed and may mean something else"
    return f"{says}; {counts[Group.UNKNOWN] + counts[Group.RETIRED]} have no successor that is sure enough."


def _given_says(given: Given) -> str:
    release = "" if given.release in (None, given.name) else f" ({given.release})"
    number = counted(len(given.catalog.parameters), "parameter")
    return f"{given.name}{release}: {number}, {given.catalog.source}"


def _remarks(given: Given) -> Iterator[str]:
    for remark in given.remarks:
        yield f"{given.name}: {remark}."


def _folded(matched: Matched, groups: tuple[Group, ...], *, is_new_shown: bool) -> Iterator[str]:
    hidden = [
        f"{number} {group}" for group, number in matched.counts.items() if number and group not in groups
    ]
    if not is_new_shown and matched.matching.new:
        hidden.append(f"{len(matched.matching.new)} new")
    if hidden:
        yield f"not shown: {', '.join(hidden)}; every line: --show all"


# ------------------------------------------------------------------------------------------ tables


_COLUMNS: dict[Group, tuple[str, ...]] = {
    Group.RENAMED: ("old → new name", "sure#", "zone", "consequence"),
    Group.UNKNOWN: ("old ? best candidate", "sure#", "consequence"),
    Group.MEANING: ("name", "consequence"),
    Group.FACTORY: ("name", "before", "now", "consequence"),
    Group.UNSTATED: ("name", "sure#", "consequence"),
    Group.UNCHANGED: ("name", "sure#", "consequence"),
}


def _table(group: Group, matched: Matched) -> Table | None:
    """The lines of a group, ``None`` where it has none."""
    title = f"{MARKS[group]} {TITLES[group]}"
    if group is Group.RETIRED:
        return _names_table(title, matched.gone, matched.old.catalog) if matched.gone else None
    pairs = once(matched.groups[group])
    if not pairs:
        return None
    rows = tuple(tuple(_cell(pair, column) for column in _COLUMNS[group]) for pair in pairs)
    under = tuple(tuple(_under(pair, group)) for pair in pairs)
    return Table(_COLUMNS[group], rows, title, under=under)


def _cell(pair: Pair, column: str) -> str:
    before, now = pair.default_shift or ("", "")
    cells = {
        "name": pair.old,
        # below each other: names are compared letter by letter, and long ones do not part
        "old → new name": f"{old_of(pair)}\n→ {new_of(pair)}",
        "old ? best candidate": f"{old_of(pair)}\n? {new_of(pair)}",
        "sure#": sure(pair.confidence),
        "zone": pair.zone.value,
        "consequence": pair.consequence.value,
        "before": before,
        "now": now,
    }
    return cells[column]


def _under(pair: Pair, group: Group) -> Iterator[str]:
    """What stands below a line: the less, the less there is to decide."""
    if group in (Group.RENAMED, Group.UNKNOWN):
        yield from because(pair)
    elif group is Group.MEANING:
        yield from differs(pair)
        if pair.meaning.kinship in (Kinship.SAME, Kinship.UNSTATED):  # only type, unit or range differ
            yield from (
                reason for reason in pair.reasons[1:] if reason not in (*shift(pair), pair.meaning.says)
            )
        yield from shift(pair)


def _new_table(matched: Matched) -> Table:
    return _names_table("+ New", matched.matching.new, matched.new.catalog)


def _names_table(title: str, names: Iterable[str], catalog: Catalog) -> Table:
    """Names with what the catalog says of them."""
    found = [(name, catalog.by_name.get(name)) for name in names]
    rows = tuple(
        (
            name,
            (item.default if item and item.default is not None else NOT_STATED),
            (item.unit or "") if item else "",
            item.consequence if item else Consequence.UNKNOWN,
        )
        for name, item in found
    )
    under = tuple((item.description,) if item and item.description else () for _, item in found)
    return Table(("name", "factory value", "unit", "consequence"), rows, title, under=under)


def old_of(pair: Pair) -> str:
    """The old name or names of a pair."""
    return " + ".join((pair.old, *pair.others)) if pair.kind is PairKind.MERGE else pair.old


def new_of(pair: Pair) -> str:
    """The new name or names of a pair."""
    return " + ".join((pair.new, *pair.others)) if pair.kind is PairKind.SPLIT else pair.new


def because(pair: Pair) -> Iterator[str]:
    """What differs, why it is taken for the successor, and what came next; a line each."""
    yield from differs(pair)
    said = {pair.meaning.says, *shift(pair)}
    yield from (reason for reason in pair.reasons if reason not in said)
    yield from shift(pair)
    if pair.runner_up is not None and pair.runner_up[1] >= NEAREST:
        yield f"next best: {pair.runner_up[0]} {sure(pair.runner_up[1])}"


def differs(pair: Pair) -> Iterator[str]:
    """What differs between both definitions."""
    meaning = pair.meaning
    says = meaning.says or _WORDS.get(meaning.kinship, meaning.kinship.value)
    if meaning.factor is not None:
        says += f": new = old × {plain_text(meaning.factor)}"
    moved = [f"{a} → {b}" for a, b in meaning.values.items() if a != b]
    if moved:
        says += f": {', '.join(moved)}"
    if says and meaning.kinship is not Kinship.SAME:
        yield f"{'' if meaning.kinship is Kinship.UNSTATED else '! '}{says}"


def shift(pair: Pair) -> Iterator[str]:
    """The factory value before and now, where it moved."""
    if pair.default_shift is not None:
        yield f"factory value {pair.default_shift[0]} before, {pair.default_shift[1]} now"
