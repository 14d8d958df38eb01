"""Statements in words: an amount with its unit, a choice in the catalog's words, before and after."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from asflown.core.statements.said import NotStated, Said, Silence, Words
from asflown.core.statements.statements import Outcome, Statement, StatementChange
from asflown.core.statements.topics import Topic
from asflown.core.unit_table import known
from asflown.core.values import plain_text

NOT_STATED = "not stated"
#: Figures an amount is told with, and the most that are needed to tell two apart.
_FIGURES, _MOST = 4, 16
#: How amounts of topics without a unit of their own are told, by dimension.
_TOLD_IN = {"time": "s", "length": "m", "angle": "deg", "voltage": "V", "current": "A", "charge": "mAh",
            "speed": "m/s", "frequency": "Hz", "power": "W", "energy": "Wh"}  # fmt: skip


def told(statement: Statement) -> str:
    """What is said: ``1 s``, ``come down level``, ``not stated``."""
    return _told(statement.topic, statement.said, _FIGURES)


def told_apart(change: StatementChange) -> tuple[str, str]:
    """What is said before and after, with as many figures as it takes to see a change."""
    first, second = change.before, change.after
    for figures in range(_FIGURES, _MOST):
        texts = _told(change.topic, first.said, figures), _told(change.topic, second.said, figures)
        if change.outcome is not Outcome.CHANGED or texts[0] != texts[1]:
            return texts
    return texts


def sentence(statement: Statement) -> str:
    """One side as a sentence without a full stop: ``radio lost, acts by itself after: 1 s``."""
    return f"{subject(statement.topic)}: {told(statement)}"


def change_sentence(change: StatementChange) -> str:
    """Both sides as a sentence without a full stop."""
    before, after = told_apart(change)
    about = subject(change.topic)
    if change.outcome is Outcome.SAME:
        return f"{about}: {before}, the same"
    if change.outcome in (Outcome.NEITHER, Outcome.NOT_KNOWN):
        return f"{about}: {change.outcome}"
    return f"{about}: before {before}, after {after}"


def reason(change: StatementChange) -> str | None:
    """Why a side says nothing; of a set that changed, what is gone and what came."""
    first, second = change.before.said, change.after.said
    silent = [side.reason for side in (first, second) if isinstance(side, NotStated)]
    if silent:
        return "; ".join(dict.fromkeys(silent))
    if isinstance(first, Words) and isinstance(second, Words) and first.is_set and second.is_set:
        gone, came = first.without(second), second.without(first)
        parts = [f"{word}: {', '.join(words)}" for word, words in (("gone", gone), ("new", came)) if words]
        return "; ".join(parts) or None
    return None


def subject(topic: Topic) -> str:
    """What it is about: ``radio lost, acts by itself after``."""
    return f"{topic.family}, {topic.title}"


def _told(topic: Topic, said: Said, figures: int) -> str:
    if isinstance(said, NotStated):
        return str(said.silence) if said.silence is Silence.TO_DECIDE else NOT_STATED
    if isinstance(said, Words):
        return ", ".join(said.words) or "nothing"
    unit = topic.unit if topic.unit is not None else _TOLD_IN.get(said.dimension or "", "")
    amount = _in_unit(said.value, unit, figures)
    if said.made_of is not None:
        whole, count = said.made_of
        sign = "over" if said.value < whole else "times"
        amount += f" ({_in_unit(whole, unit, figures)} {sign} {number_text(count, figures)} cells)"
    return f"{amount} {topic.ends}".strip()


def _in_unit(value: Fraction, unit: str, figures: int) -> str:
    scale = known(unit) if unit else None
    return f"{number_text(value / scale.factor if scale else value, figures)} {unit}".strip()


def number_text(value: Fraction, figures: int) -> str:
    """A number with so many figures, in plain notation; whole digits are never rounded away.

    Examples
    --------
    >>> number_text(Fraction(14, 3), 4), number_text(Fraction(22000), 4), number_text(Fraction(1, 4), 4)
    ('4.667', '22000', '0.25')
    """
    if value == 0:
        return "0"
    decimals = max(0, figures - 1 - math.floor(math.log10(abs(value))))
    return plain_text(Decimal(round(value * 10**decimals)).scaleb(-decimals))
