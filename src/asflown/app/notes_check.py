"""Change notes looked through: faults with their lines, and where they and two catalogs do not agree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from asflown.app.catalogs import Given
from asflown.app.notes_against import Unnamed, against_catalogs, place
from asflown.core.carry.chain import trace
from asflown.core.catalog import ChangeNotes, NoteKind
from asflown.errors import Fault, InputError

_COMMENTS = (NoteKind.DEFAULT, NoteKind.MEANING)


@dataclass(frozen=True)
class Checked:
    """What was found in a file of change notes.

    Attributes
    ----------
    notes
        ``None`` where it cannot be read.
    faults
        What must be corrected.
    remarks
        What a person should know.
    unnamed
        Old names that changed or are gone, and no note speaks of them.
    """

    name: str
    notes: ChangeNotes | None
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...] = ()
    old: Given | None = None
    new: Given | None = None
    unnamed: tuple[Unnamed, ...] = ()


def check(data: bytes, name: str, old: Given | None = None, new: Given | None = None) -> Checked:
    """Look through change notes.

    Parameters
    ----------
    old, new
        The catalogs of the release before and of this one, where they are at hand.
    """
    from asflown.formats import notes as reader

    try:
        notes = reader.read(data, name)
    except InputError as error:
        faults = error.faults or (Fault(error.what, error.where or name),)
        return Checked(name, None, faults, (), old, new)
    beside = against_catalogs(notes, name, old, new)
    faults = _by_line([*_within(notes, name, old), *beside.faults])
    remarks = _by_line([*_unsaid(notes, name), *beside.remarks])
    return Checked(name, notes, faults, remarks, old, new, beside.unnamed)


def _within(notes: ChangeNotes, name: str, old: Given | None) -> Iterator[Fault]:
    """Notes that contradict each other, or that lead two settings to one name."""
    yield from _twice(notes, name)
    named = dict.fromkeys(word for change in notes.changes for word in change.old)
    for route in trace([notes], old.catalog.by_name if old else named):
        if route.conflict is not None:
            last = route.steps[-1].note if route.steps else None
            yield Fault(route.conflict, place(name, last))


def _twice(notes: ChangeNotes, name: str) -> Iterator[Fault]:
    """Entries that only comment on a name, and stand twice."""
    seen: dict[tuple[NoteKind, str], int | None] = {}
    for change in notes.changes:
        for word in change.old if change.kind in _COMMENTS and not change.new else ():
            if (change.kind, word) in seen:
                first = seen[change.kind, word]
                yield Fault(f"'{word}' has a {change.kind} already in line {first}", place(name, change))
            seen.setdefault((change.kind, word), change.line)


def _unsaid(notes: ChangeNotes, name: str) -> Iterator[Fault]:
    for change in notes.changes:
        if change.kind is NoteKind.MERGE and change.conversion.is_copy:
            says = f"no expression says how: the value of '{change.old[0]}' alone is copied"
            yield Fault(says, place(name, change))


def _by_line(faults: list[Fault]) -> tuple[Fault, ...]:
    """In the order of the file, each once."""

    def line(fault: Fault) -> int:
        number = (fault.where or "").split(" ")[0].rpartition(":")[2]
        return int(number) if number.isascii() and number.isdigit() else 0

    return tuple(sorted(dict.fromkeys(faults), key=line))
