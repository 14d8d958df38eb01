"""The statements of one set of settings, and how those of another differ from them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from asflown.core.catalog import Catalog, Consequence, worst
from asflown.core.record import Key
from asflown.core.roles import RoleTexts, texts_by_role
from asflown.core.statements.said import Amount, NotStated, Said, Silence, Words, said_by
from asflown.core.statements.topics import TOPICS, Topic, Way, topics_for

_NO_SETTING = "no setting of {} says it (role {})"


@dataclass(frozen=True, slots=True)
class Statement:
    """What one set of settings says to a topic.

    Attributes
    ----------
    settings
        Names of the settings that say it.
    consequence
        What a change of them can do, by the catalog; unknown where nothing is said.
    """

    topic: Topic
    said: Said
    settings: tuple[str, ...] = ()
    consequence: Consequence = Consequence.UNKNOWN

    @property
    def is_stated(self) -> bool:
        """Whether anything is said."""
        return not isinstance(self.said, NotStated)


class Outcome(StrEnum):
    """How a statement fares from one set of settings to another, in the order they are shown.

    ``not known``: neither side's could be read, though one of them has a setting for it. ``not stated``:
    neither side has one.
    """

    CHANGED = "changed"
    ONE_SIDE = "stated on one side only"
    NOT_KNOWN = "not known"
    SAME = "same"
    NEITHER = "not stated"


@dataclass(frozen=True, slots=True)
class StatementChange:
    """One topic before and after."""

    before: Statement
    after: Statement

    @property
    def topic(self) -> Topic:
        """What both are about."""
        return self.before.topic

    @property
    def outcome(self) -> Outcome:
        """How it fares."""
        first, second = self.before.said, self.after.said
        if not isinstance(first, NotStated) and not isinstance(second, NotStated):
            return Outcome.SAME if first.is_same(second) else Outcome.CHANGED
        if self.before.is_stated or self.after.is_stated:
            return Outcome.ONE_SIDE
        silent = [one.silence for one in (first, second) if isinstance(one, NotStated)]
        there = {Silence.NOT_READ, Silence.TO_DECIDE} & set(silent)
        return Outcome.NOT_KNOWN if there else Outcome.NEITHER

    @property
    def is_unchanged(self) -> bool:
        """Whether both sides say the same, or neither has anything that says it."""
        return self.outcome in (Outcome.SAME, Outcome.NEITHER)

    @property
    def touches_safety(self) -> bool:
        """Whether a catalog calls it safety, or nobody says what it touches."""
        stated = [one.consequence for one in (self.before, self.after) if one.settings]
        return worst(*stated) in (Consequence.SAFETY, Consequence.UNKNOWN)


def statements(
    settings: Mapping[Key, str],
    catalog: Catalog,
    release: str,
    *,
    banks: Iterable[str] = (),
    factory: bool = False,
    waiting: frozenset[Key] = frozenset(),
) -> tuple[Statement, ...]:
    """Everything that settings say about losing the radio, arming, disarming and the battery.

    Parameters
    ----------
    settings, banks, factory
        As for `asflown.core.roles.values_by_role`.
    release
        Whose catalog it is, for the reasons.
    waiting
        Settings that have no value because they are still to be decided.

    Returns
    -------
    tuple
        A statement for every topic of the table, and for every further role of its families.
    """
    told = texts_by_role(settings, catalog, banks=banks, factory=factory)
    open_names = {key.name for key in waiting}
    return tuple(_statement(topic, told, release, open_names) for topic in topics_for(told))


def none_stated(reason: str) -> tuple[Statement, ...]:
    """Nothing of the table is said, as nothing is known of the release."""
    return tuple(Statement(topic, NotStated(reason, Silence.NO_CATALOG)) for topic in TOPICS)


def _statement(topic: Topic, told: Mapping[str, RoleTexts], release: str, waiting: set[str]) -> Statement:
    direct = _by(Way(topic.role), topic, told, release, waiting)
    if direct.is_stated or topic.role in told:
        return direct
    other = (_by(way, topic, told, release, waiting) for way in topic.ways)
    return next((one for one in other if one.settings), direct)


def _by(way: Way, topic: Topic, told: Mapping[str, RoleTexts], release: str, waiting: set[str]) -> Statement:
    found: list[Said] = []
    names: list[str] = []
    consequences: list[Consequence] = []
    for role, unit in ((way.role, topic.unit), (way.second, "")):
        if role is None:
            continue
        if role not in told:
            return Statement(topic, NotStated(_NO_SETTING.format(release, role), Silence.NO_SETTING))
        parameters = told[role].parameters
        undecided = [one.name for one in parameters if one.name in waiting]
        if undecided and not told[role].texts:
            found.append(NotStated(f"still to decide: {', '.join(undecided)}", Silence.TO_DECIDE))
        else:
            found.append(said_by(told[role], unit))
        names += [one.name for one in parameters]
        consequences += [one.consequence for one in parameters]
    said = found[0] if len(found) == 1 else _together(way, found[0], found[1])
    return Statement(topic, said, tuple(names), worst(*consequences))


def _together(way: Way, one: Said, count: Said) -> Said:
    for part in (one, count):
        if isinstance(part, NotStated):
            return part
    if not isinstance(one, Amount) or not isinstance(count, Amount) or count.value <= 0:
        return one if isinstance(one, Words) else NotStated(f"{way.second} is no count")
    by = 1 / count.value if way.over else count.value
    return replace(one, value=one.value * by, step=one.step * by, made_of=(one.value, count.value))


def of_one(said: Iterable[Statement]) -> tuple[Statement, ...]:
    """One side's statements, each thing said in one form; what is not stated comes last."""
    said = tuple(said)
    return tuple(change.before for change in compared(said, said))


def compared(before: Iterable[Statement], after: Iterable[Statement]) -> tuple[StatementChange, ...]:
    """Every topic of either side: what changes first, and of that what touches safety.

    A voltage of each cell and one of the whole pack are compared in the form that both sides have.
    """
    first = {one.topic.role: one for one in before}
    second = {one.topic.role: one for one in after}
    pairs = {
        topic.role: StatementChange(_or_none(first, topic), _or_none(second, topic))
        for topic in topics_for((*first, *second))
    }
    kept = [change for role, change in pairs.items() if not _is_said_by_other(role, pairs)]
    order = list(Outcome)
    return tuple(sorted(kept, key=lambda one: (order.index(one.outcome), not one.touches_safety)))


def _or_none(found: Mapping[str, Statement], topic: Topic) -> Statement:
    if topic.role in found:
        return found[topic.role]
    return Statement(topic, NotStated(f"no setting says it (role {topic.role})", Silence.NO_SETTING))


def _is_said_by_other(role: str, pairs: Mapping[str, StatementChange]) -> bool:
    """Whether the topic's other form is the better one to compare; of equals the first one stays."""
    other = pairs[role].topic.for_role
    if other is None:
        return False
    mine, its = _sides(pairs[role]), _sides(pairs[other])
    if mine == its:
        order = list(pairs)
        return order.index(other) < order.index(role)
    return mine < its


def _sides(change: StatementChange) -> frozenset[str]:
    return frozenset(
        word for word, one in (("before", change.before), ("after", change.after)) if one.is_stated
    )
