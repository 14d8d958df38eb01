"""The file a field sheet saves: entries on cards, and flights, to be taken into the logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.core.field import CardEntry, FieldEntries, FlownEntry
from asflown.errors import InputError
from asflown.formats.hand_written import LIMIT, checked, load_json

if TYPE_CHECKING:
    from asflown.formats.schemas import FieldFile

#: Largest file taken, bytes: a field sheet's entries are a few kilobytes.
MOST = min(LIMIT, 2 * 1024 * 1024)


def read(data: bytes, name: str) -> FieldEntries:
    """Read the entries of a field sheet.

    Raises
    ------
    InputError
        Naming every fault of the file.
    """
    if len(data) > MOST:
        raise InputError(f"{len(data)} bytes; at most {MOST} are read", where=name)
    from asflown.formats.schemas import FieldFile

    written: FieldFile = checked(FieldFile, load_json(data, name), name)
    twice = {one.card for one in written.cards if sum(o.card == one.card for o in written.cards) > 1}
    if twice:
        raise InputError(f"more than one entry on: {', '.join(sorted(twice))}", where=name)
    return FieldEntries(
        written.aircraft,
        written.refit,
        written.name.strip(),
        tuple(
            CardEntry(
                one.card,
                one.print,
                one.result,
                one.note.strip(),
                tuple(one.seen),
                tuple((value.what, value.value.strip(), value.unit) for value in one.values),
                one.at,
            )
            for one in written.cards
        ),
        tuple(
            FlownEntry(one.number, one.log.strip(), one.seconds.strip(), one.note.strip(), one.at)
            for one in written.flown
        ),
    )
