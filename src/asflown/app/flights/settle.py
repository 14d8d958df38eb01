"""Settle what a proposed layout leaves open: by a person's answers, or by taking the likeliest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from asflown.app.flights.open_log import KnownBy, Opened
from asflown.core.layout import Doubt
from asflown.core.signals import signal


def statement_of(doubt: Doubt, choice: int) -> str:
    """What to state so that a doubt is settled that way, ``rate=deg/s``; empty: nothing, or not known."""
    if choice < len(doubt.statements):
        return doubt.statements[choice]
    word = doubt.choices[choice]
    return f"{word}={doubt.subject}" if signal(word) is not None else ""


def accept(opened: Opened, assumed: Mapping[str, str]) -> Opened:
    """Take the likeliest choice of every doubt; each stands in ``taken`` and becomes a finding.

    Parameters
    ----------
    assumed
        What a person stated before; it stays.
    """
    if not opened.doubts:
        return opened
    if opened.known_by is not KnownBy.PROPOSED:
        return replace(opened, layout=replace(opened.layout, doubts=()), taken=opened.doubts)
    statements = [(doubt, statement_of(doubt, 0)) for doubt in opened.doubts if doubt.choices]
    made = _stated(opened, assumed, [text for _, text in statements])
    taken = tuple(doubt for doubt, text in statements if text and text.partition("=")[0] in made)
    return replace(_proposed(opened, made), taken=taken)


def answered(opened: Opened, assumed: Mapping[str, str], answers: Mapping[Doubt, int]) -> Opened:
    """Take a person's choices; the layout is then proposed anew."""
    said = _stated(opened, assumed, [statement_of(doubt, choice) for doubt, choice in answers.items()])
    return _proposed(opened, said)


def confirmed(opened: Opened) -> Opened:
    """A person looked at the layout and said yes; what stays open stays unused."""
    layout = replace(opened.layout, is_confirmed=True, doubts=())
    return replace(opened, layout=layout)


def _stated(opened: Opened, assumed: Mapping[str, str], statements: list[str]) -> dict[str, str]:
    """Statements added to those made before, where they contradict neither these nor what is settled."""
    made = dict(assumed)
    used = set(made.values())
    settled = {a.signal: a.column for a in opened.layout.assignments}
    for text in statements:
        key, sign, value = text.partition("=")
        names_column = opened.table.column(value) is not None
        if not sign or key in made or (names_column and (value in used or key in settled)):
            continue
        made[key] = value
        used.add(value)
    return made


def _proposed(opened: Opened, assumed: Mapping[str, str]) -> Opened:
    from asflown.core.columns.propose import propose

    layout = propose(opened.table, assume=assumed)
    return replace(opened, layout=replace(layout, doubts=()))
