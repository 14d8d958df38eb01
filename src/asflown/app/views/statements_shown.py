"""Plain statements on losing the radio, arming, disarming and the battery, as tables, sentences and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from asflown.app.views.sheet import Table, counted
from asflown.core.statements.said import Amount, NotStated, Silence, Words
from asflown.core.statements.statements import Outcome, Statement, StatementChange
from asflown.core.statements.topics import TOPICS, Family, Topic
from asflown.core.statements.words import change_sentence, reason, sentence, subject, told, told_apart

#: How the whole is called.
_ALL = "Radio, arming and battery settings"


def statements_table(statements: Iterable[Statement]) -> tuple[Table, ...]:
    """What one side says; no table where it says nothing."""
    stated = [one for one in statements if one.is_stated]
    rows = _grouped([(one.topic, told(one)) for one in stated])
    return (Table(("about", "what", "says"), rows, title=_ALL),) if rows else ()


def not_stated_notes(statements: Iterable[Statement]) -> tuple[str, ...]:
    """What one side does not say, and why."""
    silent = [(one.topic, one.said) for one in statements if isinstance(one.said, NotStated)]
    return _notes(silent, "Not stated")


def moved_table(changes: Iterable[StatementChange]) -> tuple[Table, ...]:
    """What changes or is stated on one side only; no table where nothing does."""
    moved = [one for one in changes if not one.is_unchanged]
    if not moved:
        return ()
    rows = tuple(
        ("safety" if one.touches_safety else "", _subject(one.topic), *told_apart(one)) for one in moved
    )
    under = tuple(((why,) if (why := reason(one)) else ()) for one in moved)
    columns = ("touches", "what", "before", "after")
    return (Table(columns, rows, title=f"{_ALL}: what changes", under=under),)


def same_table(changes: Iterable[StatementChange]) -> tuple[Table, ...]:
    """What is as before; no table where nothing is."""
    same = [one for one in changes if one.outcome is Outcome.SAME]
    rows = _grouped([(one.topic, _both(one)) for one in same])
    return (Table(("about", "what", "before and after"), rows, title=f"{_ALL}: as before"),) if rows else ()


def statements_said(changes: Iterable[StatementChange]) -> str:
    """How many change, in one sentence."""
    known = [one for one in changes if one.outcome is not Outcome.NEITHER]
    if not known:
        return f"{_ALL}: stated on neither side."
    changed = sum(one.outcome is Outcome.CHANGED for one in known)
    alone = sum(one.outcome is Outcome.ONE_SIDE for one in known)
    parts = [f"{changed} {'changes' if changed == 1 else 'change'}"] if changed else []
    if alone:
        parts.append(f"{alone} {'is' if alone == 1 else 'are'} stated on one side only")
    unread = sum(one.outcome is Outcome.NOT_KNOWN for one in known)
    if unread:
        parts.append(f"{unread} {'is' if unread == 1 else 'are'} not known")
    if not parts:
        return f"{_ALL}: all {len(known)} as before."
    return f"{_ALL}: of {len(known)}, {', '.join(parts)}."


def safety_warnings(changes: Iterable[StatementChange]) -> tuple[str, ...]:
    """Name what touches safety and is not as before, so that it is not missed."""
    touched = [one for one in changes if one.touches_safety and not one.is_unchanged]
    if not touched:
        return ()
    names = "; ".join(subject(one.topic) for one in touched)
    verb, be = ("touches", "is") if len(touched) == 1 else ("touch", "are")
    return (f"{counted(len(touched), 'setting')} that {verb} safety {be} not as before: {names}",)


def neither_notes(changes: Iterable[StatementChange]) -> tuple[str, ...]:
    """What is stated on neither side, and why."""
    silent = [
        (one.topic, one.after.said)
        for one in changes
        if one.outcome is Outcome.NEITHER and isinstance(one.after.said, NotStated)
    ]
    return _notes(silent, "Stated on neither side")


def statements_json(statements: Iterable[Statement]) -> list[dict[str, Any]]:
    """What one side says, as JSON."""
    return [{**_topic_json(one.topic), **_side_json(one)} for one in statements]


def changes_json(changes: Iterable[StatementChange]) -> list[dict[str, Any]]:
    """What both sides say, as JSON."""
    return [
        {
            **_topic_json(one.topic),
            "outcome": str(one.outcome),
            "touches_safety": one.touches_safety,
            "says": change_sentence(one),
            "before": _side_json(one.before),
            "after": _side_json(one.after),
        }
        for one in changes
    ]


def _topic_json(topic: Topic) -> dict[str, Any]:
    return {"role": topic.role, "about": str(topic.family)}


def _side_json(one: Statement) -> dict[str, Any]:
    made: dict[str, Any] = {"says": sentence(one), "settings": list(one.settings)}
    if isinstance(one.said, Amount):
        made["value"] = float(one.said.value)
    elif isinstance(one.said, Words):
        made["words"] = list(one.said.words)
    else:
        made["reason"] = one.said.reason
    return made


def _subject(topic: Topic) -> str:
    text = subject(topic)
    return text[0].upper() + text[1:]


def _grouped(rows: Sequence[tuple[Topic, str]]) -> tuple[tuple[str, ...], ...]:
    """Rows with the family named at its first row alone."""
    made = []
    last = None
    for topic, text in rows:
        made.append(("" if topic.family is last else str(topic.family), topic.title, text))
        last = topic.family
    return tuple(made)


def _both(change: StatementChange) -> str:
    """One text where both sides read the same, else both: ``4.667 V, stored as 4.67 V``."""
    before, after = told_apart(change)
    return before if before == after else f"{before}, now {after}"


def _notes(silent: Sequence[tuple[Topic, NotStated]], head: str) -> tuple[str, ...]:
    """What has no setting in one note; other reasons, each with what it is about."""
    missing: dict[Family, list[str]] = {}
    others: dict[str, list[str]] = {}
    for topic, said in silent:
        if said.silence is Silence.NO_SETTING:
            missing.setdefault(topic.family, []).append(topic.title)
        else:
            others.setdefault(said.reason, []).append(subject(topic))
    told = "; ".join(_missing(family, titles) for family, titles in missing.items())
    notes = [f"{head}, as no setting says it: {told}."] if missing else []
    for why, about in others.items():
        which = about[0] if len(about) == 1 else _ALL
        notes.append(f"{head}: {which}: {why}.")
    return tuple(notes)


def _missing(family: Family, titles: list[str]) -> str:
    """A family alone where nothing of it is said, else what is missing of it."""
    every = [topic.title for topic in TOPICS if topic.family is family and topic.for_role is None]
    return str(family) if set(every) <= set(titles) else f"{family} ({', '.join(titles)})"
