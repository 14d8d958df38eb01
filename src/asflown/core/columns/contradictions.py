"""Units that are stated, or remembered, and that the numbers speak against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from asflown.core.columns.kinds import kind_of
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.log_units import unit_of
from asflown.core.columns.names import SAMPLE_OF
from asflown.core.layout import Doubt
from asflown.core.log_table import Column

#: From this score on the numbers speak against a unit, and so much better another must fit; log odds.
UNLIKELY, BETTER = -3.0, 4.2


def contradictions(
    ledger: Ledger, columns: Sequence[Column], held: Mapping[tuple[int, str], str], bonus: float, says: str
) -> tuple[Doubt, ...]:
    """Doubts, one for each family, where another unit fits the numbers far better.

    Parameters
    ----------
    held
        The unit by column place and family.
    bonus
        What its being stated added to the ledger.
    says
        Who states it: ``the header``, ``the layout``.
    """
    made: dict[str, Doubt] = {}
    for (place, family), word in held.items():
        table = ledger.units.get((place, family), {})
        own = table.get(word)
        others = {other: score for other, score in table.items() if other != word}
        if own is None or not others or family in made:
            continue
        best = max(others, key=lambda other: others[other])
        if own - bonus > UNLIKELY or others[best] - (own - bonus) < BETTER:
            continue
        name = columns[place].name
        question = (
            f"{says} reads '{name}' in {word}; its numbers fit {best}{_ratio(family, word, best)}: which?"
        )
        why = " · ".join(ledger.unit_reasons.get((place, family, best), ()))
        made[family] = Doubt(name, question, (word, best), why)
    return tuple(made.values())


def _ratio(family: str, word: str, best: str) -> str:
    kind = kind_of(SAMPLE_OF[family])
    one, two = unit_of(kind, word), unit_of(kind, best)
    if one is None or two is None:
        return ""
    ratio = max(one.factor / two.factor, two.factor / one.factor)
    return f", a factor of {ratio:.4g} apart"
