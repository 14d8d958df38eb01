"""The maintenance entry of a sign-off, as the logbook holds it: it can be printed at any time."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.aircraft import Aircraft
from asflown.core.logbook import Entry
from asflown.errors import NeedsPerson


@dataclass(frozen=True)
class Maintenance:
    """One sign-off.

    Attributes
    ----------
    verdict
        The verdict that stood when it was signed, ``None`` where none was given.
    margins
        The margins that verdict was given by, ``None`` where nobody sealed any.
    """

    aircraft: Aircraft
    entry: Entry
    verdict: Entry | None
    margins: Entry | None

    @property
    def sheet(self) -> int:
        """Its sheet number."""
        return int(self.entry.body.get("sheet") or 0)


def is_signed(store: Store, aircraft: str) -> bool:
    """Whether anything of an aircraft was ever signed off."""
    return any(entry.kind == "sign-off" for entry in store.book(aircraft))


def last_sign_off(store: Store, aircraft: str) -> Maintenance:
    """The last sign-off of an aircraft.

    Raises
    ------
    NeedsPerson
        When nothing was signed off.
    """
    described = kept.aircraft(store, aircraft)
    book = store.book(described.id)
    signed = [entry for entry in book if entry.kind == "sign-off"]
    if not signed:
        raise NeedsPerson(
            f"nothing of {aircraft} was signed off",
            next_step=f"sign it: asflown sign {aircraft} --name 'FULL NAME' --role 'ROLE'",
        )
    entry = signed[-1]
    refit = entry.body.get("refit")
    before = [one for one in book if one.number < entry.number and one.body.get("refit") == refit]
    return Maintenance(described, entry, _last(before, "verdict"), _last(before, "margins"))


def _last(entries: list[Entry], kind: str) -> Entry | None:
    return next((entry for entry in reversed(entries) if entry.kind == kind), None)
