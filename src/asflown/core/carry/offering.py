"""What was decided for one aircraft is offered for the next, beside the open line; it settles nothing.

A value typed for another aircraft is told; it is offered only where the same value was found here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from asflown.core.carry.before import AS_BEFORE, Before, Earlier, Ended, Origin
from asflown.core.carry.dispositions import Cause, Line, Option
from asflown.core.carry.frame import Frame
from asflown.core.carry.meaning import Kinship, compare_meaning
from asflown.core.carry.options import Options, describe
from asflown.core.carry.precedent import How, Precedent, how_of
from asflown.core.carry.translate import translate
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Consequence
from asflown.core.record import Key
from asflown.core.values import same_value

#: Causes that ask what became of a name: an answer that names a successor holds whichever of them asked.
GONE = frozenset({Cause.SUCCESSOR, Cause.VANISHED, Cause.VANISHED_UNTOUCHED})

#: Causes that ask about the value found: a number kept for another value is no rule.
ABOUT_VALUE = frozenset({Cause.RENUMBERED, Cause.CONVERSION, Cause.OUT_OF_RANGE})

#: Causes that ask about the individual aircraft or board: a typed value is never another one's.
ABOUT_INDIVIDUAL = frozenset({Cause.OWNER_UNKNOWN, Cause.WIRING})

#: Consequences of which each group stays a question of its own.
ONE_BY_ONE = frozenset({Consequence.SAFETY, Consequence.UNKNOWN})


def offer(frame: Frame, lines: Sequence[Line], precedents: Iterable[Precedent]) -> tuple[Line, ...]:
    """Say beside each open line what was decided about the same setting earlier; no line is settled.

    What stood beside the lines before is made anew.
    """
    plain = [line if line.before is None else replace(line, before=None, ways_before=()) for line in lines]
    known = _Known(precedents)
    held = {item.key for line in plain if line.old and not line.is_open for item in line.new}
    return _together([_beside(frame, line, known.about(line), held) for line in plain])


class _Known:
    """Precedents by the setting they are about."""

    def __init__(self, precedents: Iterable[Precedent]) -> None:
        self._exact: dict[object, list[Precedent]] = {}
        self._named: dict[object, list[Precedent]] = {}
        for one in precedents:
            about = one.old or one.new
            self._exact.setdefault((bool(one.old), about), []).append(one)
            self._named.setdefault((bool(one.old), _names(about)), []).append(one)

    def about(self, line: Line) -> list[Precedent]:
        """Those about exactly these settings; else those about the same names in another bank or place."""
        if not line.is_open:
            return []
        about = tuple(item.key for item in line.old) or tuple(item.key for item in line.new)
        kind = bool(line.old)
        return self._exact.get((kind, about)) or self._named.get((kind, _names(about))) or []


def _names(keys: Iterable[Key]) -> tuple[str, ...]:
    return tuple(key.name for key in keys)


@dataclass(frozen=True)
class _Way:
    """Where a precedent leads on a line; equal ones are told together."""

    option: str | None
    says: str
    doubt: str | None = None
    typed: str | None = None
    more: Option | None = None

    @property
    def counts(self) -> bool:
        return self.doubt is None and self.option is not None


def _beside(frame: Frame, line: Line, precedents: Sequence[Precedent], held: Collection[Key]) -> Line:
    """A line with what was decided about its setting before."""
    if not precedents:
        return line
    ways: dict[_Way, list[Origin]] = {}
    for one in _latest(precedents):
        ways.setdefault(_way(frame, line, one, held), []).append(one.origin)
    order = sorted(ways, key=lambda way: (not way.counts, way.says))
    earlier = tuple(Earlier(way.option, way.says, _told(ways[way]), way.doubt) for way in order)
    counted = [way for way in order if way.counts]
    one_way = counted[0] if len(counted) == 1 else None
    before = Before(earlier, one_way.option if one_way else None, one_way.typed if one_way else None)
    more = {way.more.id: way.more for way in counted if way.more is not None}
    return replace(line, before=before, ways_before=tuple(more.values()))


def _latest(precedents: Sequence[Precedent]) -> list[Precedent]:
    """What was decided in an aircraft's latest refit stands for it; what went back is told beside."""
    last: dict[str, tuple[str, str]] = {}
    for one in precedents:
        origin = one.origin
        if origin.ended is not Ended.WENT_BACK:
            last[origin.aircraft] = max(last.get(origin.aircraft, ("", "")), (origin.at, origin.refit))
    return [
        one
        for one in precedents
        if one.origin.ended is Ended.WENT_BACK or one.origin.refit == last[one.origin.aircraft][1]
    ]


def _told(origins: Iterable[Origin]) -> tuple[Origin, ...]:
    """Each origin once (banks of one setting are one decision), the latest last."""
    return tuple(sorted(dict.fromkeys(origins), key=lambda origin: (origin.at, origin.refit)))


def _way(frame: Frame, line: Line, one: Precedent, held: Collection[Key]) -> _Way:
    """The same way on this line, or why it does not count here."""
    says = _says(one)
    option = _option(line, one)
    more = _successor(frame, line, one, held) if option is None else None
    offered = option or more
    doubt = _doubt(frame, line, one)
    if offered is None and doubt is None:
        doubt = "that way is not offered here"
    word = offered.id if offered is not None and doubt is None else None
    typed = one.typed if one.how is How.TYPED and doubt is None else None
    return _Way(word, says, doubt, typed, more if doubt is None else None)


def _says(one: Precedent) -> str:
    """What was decided, in words."""
    where = ", ".join(one.names)
    if one.how is How.BEHIND:
        return "left behind"
    if one.how is How.TYPED:
        typed = one.typed if one.typed is not None else "a private value"
        found = f" where {', '.join(one.found)} was found" if one.found and one.typed is not None else ""
        return f"{where} set to {typed}{found}"
    if one.cause in GONE:
        return f"taken for {where}"
    return f"{one.how}"


def _doubt(frame: Frame, line: Line, one: Precedent) -> str | None:
    """Why a precedent does not count for this line; ``None`` where it does."""
    if one.origin.ended is Ended.WENT_BACK:
        return "that refit went back"
    if not (line.cause is one.cause or (line.cause in GONE and one.cause in GONE)):
        return f"asked there for another reason: {one.cause}"
    if _is_easier_there(frame, line, one):
        return "nobody had changed it there, and somebody has here"
    is_value = one.how in (How.TYPED, How.NEAREST) or (one.how is How.SAME and one.cause in ABOUT_VALUE)
    if not is_value:
        return None
    if one.how is How.TYPED and (one.cause in ABOUT_INDIVIDUAL or not line.old or one.typed is None):
        return "a value of that aircraft's own"
    if not _same_found(frame, line, one):
        return f"another value was found there{_found_there(one)}"
    return _unfit(frame, line, one)


def _found_there(one: Precedent) -> str:
    return f" ({', '.join(one.found)})" if one.found and one.how is not How.TYPED else ""


def _is_easier_there(frame: Frame, line: Line, one: Precedent) -> bool:
    """Whether it was left behind where nobody had changed it, and somebody has here."""
    if one.how is not How.BEHIND or line.cause not in GONE or not _was_untouched(frame, one):
        return False
    return not _is_untouched(frame, ((item.key, item.value) for item in line.old))


def _was_untouched(frame: Frame, one: Precedent) -> bool:
    """Whether nobody had changed it on that aircraft, or nobody can tell."""
    if one.cause is Cause.VANISHED_UNTOUCHED or len(one.found) != len(one.old):
        return True
    return _is_untouched(frame, zip(one.old, one.found, strict=True))


def _is_untouched(frame: Frame, found: Iterable[tuple[Key, str]]) -> bool:
    for key, value in found:
        factory = frame.old.factory(key)
        if factory is None or not same_value(value, factory, frame.old.definition(key.name)):
            return False
    return True


def _same_found(frame: Frame, line: Line, one: Precedent) -> bool:
    found = [(item.key.name, item.value) for item in line.old]
    return len(found) == len(one.found) and all(
        same_value(value, there, frame.old.definition(name))
        for (name, value), there in zip(found, one.found, strict=True)
    )


def _unfit(frame: Frame, line: Line, one: Precedent) -> str | None:
    """Why a typed value cannot stand under the new definition."""
    if one.typed is None:
        return None
    for key in one.new:
        fit = check_fit(one.typed, frame.new.definition(key.name))
        if not fit.is_allowed:
            return fit.says
    return None


def _option(line: Line, one: Precedent) -> Option | None:
    """The option of this line that is the same way."""
    return next((option for option in line.options if _is_same_way(line, option, one)), None)


def _is_same_way(line: Line, option: Option, one: Precedent) -> bool:
    how = how_of(line, option)
    if one.how is How.BEHIND:
        return how is How.BEHIND
    if _names(item.key for item in option.new) != one.names:
        return False
    if line.cause in GONE and one.how in (How.SAME, How.CONVERTED):
        return how in (How.SAME, How.CONVERTED)  # the value follows from the names' own meaning
    return how is one.how


def _successor(frame: Frame, line: Line, one: Precedent, held: Collection[Key]) -> Option | None:
    """A successor that is offered for no other reason than that it was decided before."""
    is_rule = one.how in (How.SAME, How.CONVERTED)
    if line.cause not in GONE or not is_rule or len(line.old) != 1 or len(one.new) != 1:
        return None
    found, name = line.old[0], one.new[0].name
    target = frame.new.locate(Key(name, found.key.bank, found.key.index))
    if target is None or target in held:
        return None
    old, new = frame.old.definition(found.key.name), frame.new.definition(name)
    meaning = compare_meaning(old, new, trusted=True)
    value: str | None = found.value
    if meaning.kinship in (Kinship.SCALED, Kinship.RENUMBERED):
        value = translate(found.value, meaning, old, new).value
    if value is None or not check_fit(value, new).is_allowed:
        return None
    options = Options(found.key, found.value, target, frame.new.factory(target), new)
    return options.add(f"rename-{name}", f"it is {name} now: {describe(value, new)}", value).made()[0]


# --------------------------------------------------------------------------------- decided together


def _together(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Let groups that one origin answers be one question, where no safety is touched.

    Only whole groups of one consequence are put together, so that never more is asked than before.
    """
    groups: dict[str, list[Line]] = {}
    for line in lines:
        if line.is_open:
            groups.setdefault(line.group, []).append(line)
    alike: dict[tuple[Consequence, tuple[str, ...]], list[str]] = {}
    for group, members in groups.items():
        source = _source(members)
        if source is not None:
            alike.setdefault((members[0].consequence, source), []).append(group)
    named = {
        group: f"{AS_BEFORE}.{consequence}.{'+'.join(source)}"
        for (consequence, source), those in alike.items()
        if len(those) > 1
        for group in those
    }
    return tuple(_named(line, named.get(line.group, "")) if line.is_open else line for line in lines)


def _source(members: Sequence[Line]) -> tuple[str, ...] | None:
    """The refits that answer every line of a group alike; ``None`` where they do not."""
    first = members[0]
    if first.consequence in ONE_BY_ONE or any(line.consequence is not first.consequence for line in members):
        return None
    if not all(line.before is not None and line.before.is_clear for line in members):
        return None
    sources = {tuple(sorted({o.refit for o in line.before.origins})) for line in members if line.before}
    return sources.pop() if len(sources) == 1 else None


def _named(line: Line, together: str) -> Line:
    if not together or line.before is None:
        return line
    return replace(line, before=replace(line.before, together=together))


def offers(lines: Iterable[Line]) -> dict[str, tuple[str | None, str | None]]:
    """What each line recommends because of what was decided before: line identifier to word and value."""
    return {
        line.id: (line.before.option, line.before.typed)
        for line in lines
        if line.before is not None and line.before.option is not None
    }
