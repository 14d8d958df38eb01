"""What persons decided in other refits between the same two releases: read from what is kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from asflown.app import kept
from asflown.app.needs import Store
from asflown.app.private import is_private
from asflown.core.carry.before import Ended, Origin
from asflown.core.carry.dispositions import Line
from asflown.core.carry.offering import offers
from asflown.core.carry.precedent import Precedent, precedents_of
from asflown.core.carry.settle import Decision
from asflown.core.catalog import Catalog
from asflown.core.plan import Purpose, Sealed
from asflown.core.record import digest_of
from asflown.core.refit import Refit, State
from asflown.formats import documents

#: The name of the input that precedents make.
BEFORE = "decided before"

#: Who decided, where nobody said: no origin that could be named.
NOBODY = frozenset({"", "not stated"})

_ENDED = {State.SIGNED: Ended.SIGNED, State.WENT_BACK: Ended.WENT_BACK, State.NOT_NOW: Ended.NOT_NOW}


@dataclass(frozen=True, slots=True)
class LinesOfPlan:
    """A plan's lines alone."""

    lines: tuple[Line, ...]


def precedents_for(store: Store, refit: Refit, *catalogs: Catalog | None) -> tuple[Precedent, ...]:
    """What was decided for every other aircraft between the same two releases, oldest first.

    A decision counts only where its origin is named: the aircraft, the refit, and who decided. One that was
    taken back, or whose facts moved, is no decision any more.

    Parameters
    ----------
    catalogs
        What they state to be private is told without its value.
    """
    if refit.from_release is None:
        return ()
    found = [one for other in _alike(store, refit) for one in decided_in(store, other)]
    named = (one for one in found if one.origin.who.strip() not in NOBODY)
    told = (_without_private(one, catalogs) for one in named)
    return tuple(sorted(told, key=lambda one: (one.origin.at, one.origin.refit, one.old, one.new)))


def decided_in(store: Store, refit: Refit) -> list[Precedent]:
    """What persons decided in one refit, as it stands."""
    if not refit.decisions:
        return []
    id = kept.plan_id(refit, provisional=refit.final_digest is None)
    document = store.document("plan", id)
    if document is None:
        return []
    lines = documents.load(document.body, LinesOfPlan, kind="plan").lines
    origin = Origin(refit.aircraft, refit.id, "", "", "", _ENDED.get(refit.state, Ended.OPEN))
    return precedents_of(lines, refit.decisions, origin)


def _alike(store: Store, refit: Refit) -> Iterator[Refit]:
    for document in store.documents("aircraft"):
        others = kept.refits(store, document.id) if document.id != refit.aircraft else ()
        for found in others:
            if found.refit.decisions and _is_alike(store, found.refit, refit):
                yield found.refit


def _is_alike(store: Store, other: Refit, refit: Refit) -> bool:
    """Whether the same was asked: the same job, device and releases; on a new board the same boards."""
    facts = [
        (one.from_release, one.to_release, one.purpose, one.device, one.to_board) for one in (other, refit)
    ]
    if facts[0] != facts[1]:
        return False
    if refit.purpose is not Purpose.NEW_BOARD:
        return True
    boards = [kept.record(store, one.found).board for one in (other, refit)]
    return boards[0] is not None and boards[0] == boards[1]


def _without_private(one: Precedent, catalogs: Sequence[Catalog | None]) -> Precedent:
    names = {key.name for key in (*one.old, *one.new)}
    if not any(is_private(name, catalog) for name in names for catalog in catalogs):
        return one
    return replace(one, found=(), typed=None)


# ------------------------------------------------------------------------------------------ the seal


def sealed_before(lines: Iterable[Line]) -> tuple[Sealed, ...]:
    """The named hash over what was decided before, as it stands beside a plan's lines; none where nothing."""
    body = [
        [
            line.id,
            line.before.option,
            line.before.typed,
            [[way.option, way.says, way.doubt, _facts(way.origins)] for way in line.before.ways],
        ]
        for line in lines
        if line.before is not None
    ]
    return (Sealed(BEFORE, digest_of(body)),) if body else ()


def _facts(origins: Iterable[Origin]) -> list[list[str]]:
    return [[o.aircraft, o.refit, o.who, o.at, o.reason, o.ended.value] for o in origins]


@dataclass(frozen=True, slots=True)
class OfferMoved:
    """A line that would be offered something else first than when its plan was made."""

    name: str
    says: str


def offers_moved(was: Sequence[Line], now: Sequence[Line], decisions: Sequence[Decision]) -> list[OfferMoved]:
    """Which lines nobody has decided yet are recommended another way because of what was decided before.

    One more aircraft that agrees changes no line; nor does anything about a line already decided.
    """
    done = {id for decision in decisions for id in decision.lines}
    before, after = offers(was), offers(now)
    moved = []
    for line in now:
        if line.id in done or before.get(line.id) == after.get(line.id):
            continue
        name = ", ".join(str(item.key) for item in (line.old or line.new)) or line.id
        moved.append(OfferMoved(name, f"{_said(before.get(line.id))}, {_now(line, after.get(line.id))}"))
    return moved


def _said(offer: tuple[str | None, str | None] | None) -> str:
    return f"was offered as decided before: {offer[0]}" if offer else "nothing decided before was offered"


def _now(line: Line, offer: tuple[str | None, str | None] | None) -> str:
    if offer is not None and line.before is not None:
        last = line.before.origins[-1]
        return f"since then {last.who} decided {offer[0]} for {last.aircraft} ({last.at[:10]})"
    if line.before is not None and line.before.disagrees:
        return "now what was decided before disagrees"
    return "now nothing of it counts any more"
