"""The cards that a refit's own changes make (common practice, no source)."""

from __future__ import annotations

from asflown.core.cards import Card, Item, Phase
from asflown.core.standing_cards import POWERED, PROPS_OFF


def port_moves(items: tuple[Item, ...]) -> Card:
    """Wires and ports."""
    return Card(
        id="port-moves",
        title="What sits elsewhere on the board",
        phase=Phase.BENCH,
        aim="Every wire is where the settings look for it, and everything works at the same time.",
        set_up=("Pack and USB unplugged while wires are looked at.", "The port plan at hand: asflown ports."),
        do=(
            "For each line below: see the wire, then power the board and see that the device answers.",
            "Then everything at once: receiver, position, log, camera.",
        ),
        expect=("Each device answers where it is wired now.",),
        go_on_only_if="every line below is ticked.",
        stop=(
            "A wire gets warm, or the board restarts: unplug.",
            "The receiver goes silent: fix it or go back.",
        ),
        safety=(PROPS_OFF, "Plug and pull wires with pack and USB unplugged.", *POWERED),
        is_powered=True,
        items=items,
    )


def calibrations(items: tuple[Item, ...]) -> Card:
    """Calibrations to do again."""
    return Card(
        id="calibrations",
        title="Calibrations to do again",
        phase=Phase.BENCH,
        aim="Values the device makes itself are made anew; no listing brings them.",
        set_up=("Board on USB, pack unplugged unless a calibration asks for it.", "Frame still and level."),
        do=(
            "Do each calibration below with the firmware's own procedure, and store it.",
            "Where a log or a link gives samples: asflown calibrate, as found and as left.",
        ),
        expect=("The board says that it is done, and the number is of the size it was before.",),
        go_on_only_if="every one below is done.",
        stop=("A calibration asks for turning motors: do that one under the card 'motors'.",),
        safety=(PROPS_OFF, *POWERED),
        is_powered=True,
        items=items,
    )


def changes(items: tuple[Item, ...]) -> Card:
    """Conversions with a safety consequence."""
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
        safety=(PROPS_OFF, *POWERED),
        is_powered=True,
        items=items,
    )


def retired(items: tuple[Item, ...]) -> Card:
    """Functions that are gone."""
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
        safety=(PROPS_OFF,),
        items=items,
    )


def decisions(items: tuple[Item, ...]) -> Card:
    """Decisions."""
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
        safety=(PROPS_OFF, *POWERED),
        is_powered=True,
        items=items,
    )
