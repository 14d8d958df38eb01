"""Settle what a proposed layout leaves open: by a person's answers, or by taking the likeliest."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from asflown.app.flights.open_log import KnownBy, Opened
from asflown.core.layout import Doubt
from asflown.core.log_table import LogTable
from asflown.core.signals import SIGNALS, signal
from asflown.errors import NeedsPerson

_FAMILIES = frozenset(one.family for one in SIGNALS)
_IN_WHICH_UNIT = re.compile(r" is (\S+): in which unit\?$")
#: A choice that changes nothing.
_AS_IT_IS = ("as logged", "not used")


def statement_of(doubt: Doubt, choice: int, table: LogTable) -> str:
    """What to state so that a doubt is settled that way, ``rate=deg/s``.

    Empty where the choice changes nothing, or where no statement can say it.
    """
    if choice < len(doubt.statements):
        return doubt.statements[choice]
    word, subject = doubt.choices[choice], doubt.subject
    if "=" in word and _is_signal(word.partition("=")[0]):
        return word
    if signal(word) is not None and table.column(subject) is not None:
        return f"{word}={subject}"
    if _is_signal(subject):
        return f"{subject}={word}" if table.column(word) is not None or _is_unit(subject, word) else ""
    asked = _IN_WHICH_UNIT.search(doubt.question)
    return f"{asked[1].partition('.')[0]}={word}" if asked else ""


def _is_signal(word: str) -> bool:
    return word in _FAMILIES or signal(word) is not None


def _is_unit(subject: str, word: str) -> bool:
    from asflown.core.columns.kinds import kind_of
    from asflown.core.columns.log_units import unit_of

    family = subject.partition(".")[0]
    sample = next(one.name for one in SIGNALS if one.family == family).replace(".n", ".1")
    return unit_of(kind_of(sample), word) is not None


def flags_of(opened: Opened) -> tuple[str, ...]:
    """The words on the command line that take the likeliest choice of each doubt."""
    statements = (statement_of(doubt, 0, opened.table) for doubt in opened.doubts if doubt.choices)
    return tuple(dict.fromkeys(quoted(text) for text in statements if text))


def quoted(statement: str) -> str:
    """A statement as a shell takes it in one piece."""
    return f'"{statement}"' if re.search(r"[^\w=./:%+-]", statement) else statement


def needs_a_word(opened: Opened) -> NeedsPerson:
    """What a person must say before a log with open questions is measured, and how."""
    from asflown.errors import Fault

    flags = flags_of(opened)
    many = "s" if len(opened.doubts) != 1 else ""
    say = f"state what it is, e.g. --assume {' '.join(flags)}; or " if flags else ""
    return NeedsPerson(
        f"{len(opened.doubts)} question{many} about the columns open",
        where=opened.name,
        faults=tuple(Fault(_question(doubt), doubt.subject) for doubt in opened.doubts),
        next_step=f"{say}take the likeliest, which stands first, everywhere: --accept-proposed",
    )


def _question(doubt: Doubt) -> str:
    choices = f" ({' / '.join(doubt.choices)})" if doubt.choices else ""
    why = f"; {doubt.why}" if doubt.why else ""
    return f"{doubt.question}{choices}{why}"


def accept(opened: Opened, assumed: Mapping[str, str]) -> Opened:
    """Take the likeliest choice of every doubt; each stands in ``taken`` and becomes a finding.

    Where nothing in the log speaks for any choice nothing is taken: the column stays unused.

    Parameters
    ----------
    assumed
        What a person stated before; it stays.
    """
    if not opened.doubts:
        return opened
    if opened.known_by is not KnownBy.PROPOSED:
        return replace(opened, layout=replace(opened.layout, doubts=()), taken=opened.doubts)
    likeliest = {
        doubt: statement_of(doubt, 0, opened.table) if doubt.choices else ""
        for doubt in opened.doubts
        if not _is_bare_guess(doubt)
    }
    stated = _stated(opened, assumed, likeliest.values())
    taken = tuple(doubt for doubt, text in likeliest.items() if not text or _is_in(text, stated))
    return replace(_proposed(opened, stated), taken=taken)


def _is_in(statement: str, stated: Mapping[str, str]) -> bool:
    """Whether a statement was made, and not left out for one that contradicts it."""
    key, _, value = statement.partition("=")
    return stated.get(key) == value


def _is_bare_guess(doubt: Doubt) -> bool:
    """Whether nothing in the log speaks for the first choice: a rate of rows, a unit that nothing states."""
    return doubt.subject == "time" or doubt.why == "nothing states its unit"


def answered(opened: Opened, assumed: Mapping[str, str], answers: Mapping[Doubt, int]) -> Opened:
    """Take a person's choices; the layout is then proposed anew.

    Raises
    ------
    NeedsPerson
        When a choice cannot be stated in words and needs the layout file.
    """
    statements = []
    for doubt, choice in answers.items():
        statement = statement_of(doubt, choice, opened.table)
        if not statement and doubt.choices[choice] not in _AS_IT_IS:
            raise NeedsPerson(
                f"{doubt.choices[choice]!r} cannot be said in a word",
                where=opened.name,
                next_step="write the layout with --accept-proposed --save-layout FILE, change the factor in"
                " it, and give it with --layout FILE",
            )
        statements.append(statement)
    return _proposed(opened, _stated(opened, assumed, statements))


def confirmed(opened: Opened) -> Opened:
    """A person looked at the layout and said yes; what stays open stays unused."""
    return replace(opened, layout=replace(opened.layout, is_confirmed=True, doubts=()))


def _stated(opened: Opened, assumed: Mapping[str, str], statements: Iterable[str]) -> dict[str, str]:
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
        if names_column:
            used.add(value)
    return made


def _proposed(opened: Opened, assumed: Mapping[str, str]) -> Opened:
    from asflown.core.columns.propose import propose

    layout = propose(opened.table, assume=assumed, is_at_rest=opened.is_at_rest)
    return replace(opened, layout=replace(layout, doubts=()))
