"""Margins of a refit: sealed before the flight that is judged by them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from asflown.app.judging.sides import Sides
from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core.refit import Refit
from asflown.core.verdict.margins import DEFAULTS, Margin, changed, digest
from asflown.errors import NeedsPerson
from asflown.formats import documents

#: Kind of the documents and of the logbook's entries.
KIND = "margins"


@dataclass(frozen=True)
class Margins:
    """What was sealed.

    Attributes
    ----------
    stated
        Sizes a person set, by quantity; the usual ones apply to the rest.
    digest
        SHA-256 of every margin that applies.
    """

    refit: str
    stated: Mapping[str, float] = field(default_factory=dict)
    digest: str = ""
    at: str = ""


def sealed(store: Store, refit: Refit) -> tuple[tuple[Margin, ...], Margins | None]:
    """The margins that apply to a refit, and how they were sealed; the usual ones where nobody did."""
    document = store.document(KIND, refit.id)
    if document is None:
        return DEFAULTS, None
    kept = documents.load(document.body, Margins)
    return changed(kept.stated), kept


def seal(work: Workplace, sides: Sides, stated: Mapping[str, float]) -> tuple[tuple[Margin, ...], Margins]:
    """Seal the margins of a refit; the same ones again change nothing.

    Raises
    ------
    NeedsPerson
        When other margins are wanted after a flight that would be judged by them.
    InputError
        Naming every margin that is none.
    """
    refit = sides.refit
    margins = changed(stated)
    document = work.store.document(KIND, refit.id)
    before = None if document is None else documents.load(document.body, Margins)
    if before is not None and (not stated or dict(before.stated) == dict(stated)):
        return changed(before.stated), before
    if sides.after:
        raise NeedsPerson(
            f"{sides.after[0].id} was flown already: margins are set before the flight, not after it",
            next_step=f"judge it by the margins that stand: asflown verdict {refit.aircraft}",
        )
    made = Margins(refit.id, dict(stated), digest(margins), work.clock.now())
    with work.store.transaction() as tx:
        revision = 0 if document is None else document.revision
        tx.put(KIND, refit.id, documents.dump(made), expect=revision)
        body = {"refit": refit.id, "digest": made.digest, "stated": dict(stated)}
        tx.log(refit.aircraft, KIND, body)
    return margins, made
