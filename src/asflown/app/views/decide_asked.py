"""Open questions as a page asks them: each group with its choices, its lines, and what to type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.app.carry_over import Made
from asflown.app.views.before_shown import group_says, lines_say
from asflown.app.views.decide_shown import slip_sheet
from asflown.app.views.sheet import Table, counted, listed
from asflown.app.views.words import found_of, name_of, question_of
from asflown.core.carry.before import AS_BEFORE
from asflown.core.carry.dispositions import Line
from asflown.core.catalog import Consequence
from asflown.core.plan import Group

#: Word of the way that takes a typed value for each line.
VALUE = "value"


@dataclass(frozen=True, slots=True)
class Choice:
    """One way that every line of a group has."""

    word: str
    says: str
    is_recommended: bool


@dataclass(frozen=True, slots=True)
class Typed:
    """A line that a value may be typed for."""

    name: str
    found: str


@dataclass(frozen=True)
class Asked:
    """One open group.

    Attributes
    ----------
    says
        How many lines, and what they touch.
    names
        Its settings, the tail as a number.
    before
        What was decided before, empty where nothing was.
    lines
        The decide slip's table.
    typed
        Lines a value may be typed for; none where the group has no such way.
    """

    id: str
    says: str
    names: str
    question: str
    before: tuple[str, ...]
    choices: tuple[Choice, ...]
    lines: Table
    typed: tuple[Typed, ...]
    is_safety: bool


def asked(made: Made, groups: Sequence[Group] | None = None) -> tuple[Asked, ...]:
    """Every open group, or those given, in the plan's order."""
    return tuple(_asked(made, group) for group in (made.plan.open_groups if groups is None else groups))


def _asked(made: Made, group: Group) -> Asked:
    choices = tuple(_choice(word, group.lines) for word in group.option_ids)
    has_value = any(choice.word == VALUE for choice in choices)
    before = lines_say(group.lines)
    short = group_says(group)
    return Asked(
        id=group.id,
        says=f"{group.consequence}, {counted(len(group.lines), 'setting')}",
        names=listed((name_of(line) for line in group.lines), most=6),
        question=question_of(group.lines[0]),
        before=before if before else ((short,) if short else ()),
        choices=choices,
        lines=slip_sheet(made, group).tables[0],
        typed=tuple(Typed(_typed_name(line), found_of(line, made.old)) for line in group.lines)
        if has_value
        else (),
        is_safety=group.consequence in (Consequence.SAFETY, Consequence.UNKNOWN),
    )


def _typed_name(line: Line) -> str:
    item = line.old[0] if line.old else line.new[0]
    return str(item.key)


def _choice(word: str, lines: Sequence[Line]) -> Choice:
    """A way in words: its label where all lines have the same, otherwise what their labels begin with."""
    if word == AS_BEFORE:
        return Choice(word, f"{word}: each as it was decided before", is_recommended=False)
    options = [option for line in lines for option in line.ways if option.id == word]
    labels = list(dict.fromkeys(option.label for option in options))
    if len(labels) == 1:
        says = labels[0]
    else:
        begins = {label.partition(":")[0] for label in labels}
        says = f"{begins.pop()}, each its own" if len(begins) == 1 else f"{word}, each its own"
    return Choice(word, says, all(option.is_recommended for option in options))
