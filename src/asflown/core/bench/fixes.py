"""What a fix at the bench touches, and so which cards are done again (common practice, no source)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from asflown.core.cards import Card, Phase


class Fix(StrEnum):
    """What was put right after a card failed."""

    SETTINGS = "settings"
    WIRING = "wiring"
    MOUNTING = "mounting"
    CALIBRATION = "calibration"
    TRANSMITTER = "transmitter"
    IMAGE = "image"
    NOTHING = "nothing"


#: Cards of each fix by their word. Settings and the image can touch every bench card. Where the card itself
#: was done wrongly and ``nothing`` was put right, it alone is done again.
_TOUCHES: Mapping[Fix, tuple[str, ...] | None] = {
    Fix.SETTINGS: None,
    Fix.IMAGE: None,
    Fix.WIRING: ("motors", "sticks", "transmitter-off", "meter", "radio-power", "port-moves", "calibrations"),
    Fix.MOUNTING: ("calibrations", "orientation"),
    Fix.CALIBRATION: ("calibrations", "orientation", "meter"),
    Fix.TRANSMITTER: ("sticks", "transmitter-off", "arming-switch", "decisions", "safety-changes"),
    Fix.NOTHING: (),
}


def opened(fix: Fix, failed: str, cards: Sequence[Card], answered: Iterable[str]) -> tuple[str, ...]:
    """The answered cards that are done again: the failed one, and what the fix touches.

    Parameters
    ----------
    answered
        Words of the cards on which something was noted.
    """
    touched = _TOUCHES[fix]
    there = set(answered)
    return tuple(
        card.id
        for card in cards
        if card.id in there
        and (
            card.id == failed
            or (card.phase is Phase.BENCH and card.id != "propellers-off" and _touches(touched, card.id))
            or (card.phase is Phase.FLIGHT and fix is not Fix.NOTHING)
        )
    )


def _touches(touched: tuple[str, ...] | None, card: str) -> bool:
    return touched is None or card in touched


def asks_read_back(fix: Fix) -> bool:
    """Whether the settings must be read back again after it."""
    return fix in (Fix.SETTINGS, Fix.IMAGE)
