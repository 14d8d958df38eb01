"""The cards of one refit: the standing ones, and those its own changes add."""

from __future__ import annotations

from collections.abc import Iterable

from asflown.core import standing_cards as standing
from asflown.core.cards import Card, Item, Phase, numbered
from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.catalog import Catalog, Consequence
from asflown.core.plan import Plan
from asflown.core.record import Key

_PROPS_OFF = "PROPELLERS OFF. Look at every motor now: no propeller on any of them."
_CHANGES_VALUE = frozenset({Disposition.CONVERT, Disposition.SPLIT, Disposition.MERGE})
_SERIOUS = frozenset({Consequence.SAFETY, Consequence.UNKNOWN})


def cards_for(
    plan: Plan | None = None,
    new: Catalog | None = None,
    old: Catalog | None = None,
    *,
    was_provisional: bool = False,
) -> tuple[Card, ...]:
    """Every card of a refit, in working order and numbered.

    Parameters
    ----------
    plan
        The settled plan; ``None`` for the standing cards alone.
    new, old
        The releases' catalogs: say how a calibration is made, and units.
    was_provisional
        Whether the first plan was provisional: then the fresh factory listing has a card.
    """
    cards = [standing.BASELINE]
    if was_provisional or (plan is not None and plan.is_provisional):
        cards.append(standing.FACTORY_LISTING)
    cards.append(standing.PROPELLERS_OFF)
    own = _Own(plan, new, old) if plan is not None else None
    if own is not None and own.redo:
        cards.append(_redo_card(own.redo))
    cards += standing.BENCH[1:]
    if own is not None:
        cards += own.cards()
    return numbered([*cards, standing.FIRST_HOVER])


class _Own:
    """Items that a refit's own lines make."""

    def __init__(self, plan: Plan, new: Catalog | None, old: Catalog | None) -> None:
        self._new, self._old = new, old
        self.redo = tuple(self._redo(line) for line in plan.lines if line.disposition is Disposition.REDO)
        self.changed = tuple(
            self._changed(line)
            for line in plan.lines
            if line.disposition in _CHANGES_VALUE and line.consequence in _SERIOUS
        )
        self.retired = tuple(
            self._retired(line)
            for line in plan.lines
            if line.disposition is Disposition.RETIRE and line.consequence.is_risky
        )
        self.decided = tuple(_decisions(plan.lines))

    def cards(self) -> Iterable[Card]:
        """The cards that stand before the first hover."""
        if self.changed:
            yield _changes_card(self.changed)
        if self.retired:
            yield _retired_card(self.retired)
        if self.decided:
            yield _decisions_card(self.decided)

    def _unit(self, name: str, catalog: Catalog | None) -> str:
        parameter = catalog.by_name.get(name) if catalog else None
        return f" {parameter.unit}" if parameter and parameter.unit else ""

    def _was(self, line: Line) -> str:
        return ", ".join(f"{f.key} = {f.value}{self._unit(f.key.name, self._old)}" for f in line.old)

    def _now(self, line: Line) -> str:
        return ", ".join(f"{n.key} = {n.value}{self._unit(n.key.name, self._new)}" for n in line.new)

    def _redo(self, line: Line) -> Item:
        names = [item.key.name for item in line.new] + [item.key.name for item in line.old]
        how = next(
            (
                catalog.by_name[name].redo
                for catalog in (self._new, self._old)
                for name in names
                if catalog and name in catalog.by_name and catalog.by_name[name].redo
            ),
            None,
        )
        name = ", ".join(str(key) for key in keys_of(line))
        was = f" (was: {self._was(line)})" if line.old else ""
        return Item(f"{name}: {how or line.why}{was}", (line.id,))

    def _changed(self, line: Line) -> Item:
        text = f"{self._was(line)} is now {self._now(line)}"
        if line.consequence_why:
            text += f". {line.consequence_why}"
        if line.copied:
            text += f" (copied number for number: {line.copied})"
        return Item(text, (line.id,))

    def _retired(self, line: Line) -> Item:
        text = f"{self._was(line)} is gone: {line.consequence_why or line.why}"
        return Item(text, (line.id,))


def keys_of(line: Line) -> tuple[Key, ...]:
    """What a line is called on the aircraft after the refit, or before it where it is gone."""
    return tuple(item.key for item in line.new) or tuple(item.key for item in line.old)


def _decisions(lines: Iterable[Line]) -> Iterable[Item]:
    """One item for each decision: a group and the option chosen for it."""
    groups: dict[tuple[str, str, str], list[Line]] = {}
    for line in lines:
        if line.settled is not None:
            groups.setdefault((line.group, line.settled.option, line.settled.reason), []).append(line)
    for (_, option, reason), members in groups.items():
        names = [", ".join(map(str, keys_of(line))) for line in members]
        shown = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
        yield Item(f"decided '{option}' for {shown}: {reason}", tuple(line.id for line in members))


def _redo_card(items: tuple[Item, ...]) -> Card:
    return Card(
        id="calibrations",
        title="Calibrations to do again",
        phase=Phase.BENCH,
        aim="Values the device makes itself are made anew; no listing brings them.",
        set_up=("Board on USB, pack unplugged unless a calibration asks for it.", "Frame still and level."),
        do=("Do each calibration below with the firmware's own procedure, and store it.",),
        expect=("The board says that it is done, and the number is of the size it was before.",),
        go_on_only_if="every one below is done.",
        stop=("A calibration asks for turning motors: do that one under the card 'motors'.",),
        safety=(_PROPS_OFF,),
        is_powered=True,
        items=items,
    )


def _changes_card(items: tuple[Item, ...]) -> Card:
    return Card(
        id="safety-changes",
        title="What this refit converted that can hurt",
        phase=Phase.BENCH,
        aim="Each converted value does on the aircraft what the old one did.",
        set_up=("Board on, the firmware's own display at hand.",),
        do=(
            "For each line below: read the value on the board, then see what it does where that is possible.",
        ),
        expect=("The value read is the one printed here, and it does what it did before.",),
        go_on_only_if="every line below is ticked.",
        stop=("A value does something else than before: go no further, fix it or go back.",),
        safety=(_PROPS_OFF,),
        is_powered=True,
        items=items,
    )


def _retired_card(items: tuple[Item, ...]) -> Card:
    return Card(
        id="retired",
        title="What the new release does not have any more",
        phase=Phase.BENCH,
        aim="Everybody who flies this aircraft knows what it no longer does.",
        set_up=("The pilot is here.",),
        do=("Read each line below to the pilot. Say what takes its place, or that nothing does.",),
        expect=("The pilot can say what happens now in each case.",),
        go_on_only_if="the pilot accepts each line.",
        stop=("A lost function that the flight needs: go back.",),
        safety=(_PROPS_OFF,),
        items=items,
    )


def _decisions_card(items: tuple[Item, ...]) -> Card:
    return Card(
        id="decisions",
        title="What was decided in this refit",
        phase=Phase.BENCH,
        aim="Each decision is looked at once on the aircraft itself.",
        set_up=("Board on, the firmware's own display at hand.",),
        do=("For each decision below: read the value on the board and see that it does what was meant.",),
        expect=("What was decided is what the board does.",),
        go_on_only_if="every line below is ticked.",
        stop=("A decision turns out wrong: fix it, or go back.",),
        safety=(_PROPS_OFF,),
        is_powered=True,
        items=items,
    )
