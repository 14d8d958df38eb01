"""What was decided before, in sentences with its origin: for which aircraft, when, by whom, why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from asflown.app.decide_before import why_left
from asflown.app.views.sheet import counted, listed
from asflown.core.carry.before import AS_BEFORE, Before, Earlier, Ended, Origin
from asflown.core.carry.dispositions import Line
from asflown.core.plan import Group, Plan

#: How a refit ended, where that is to be said beside its decisions.
_ENDED = {Ended.NOT_NOW: "that refit was put off", Ended.WENT_BACK: "that refit went back"}


def origins_say(origins: Sequence[Origin]) -> str:
    """Where a decision comes from: ``for plover on 2026-11-20 by R. Anley: REASON``; several are counted."""
    last = origins[-1]
    aircraft = tuple(dict.fromkeys(origin.aircraft for origin in origins))
    text = f"on {last.at[:10]} by {last.who}: {last.reason}"
    ended = f" ({_ENDED[last.ended]})" if last.ended in _ENDED else ""
    if len(aircraft) == 1:
        return f"for {last.aircraft} {text}{ended}"
    return (
        f"for {len(aircraft)} aircraft ({listed(aircraft, most=4)}), last for {last.aircraft} {text}{ended}"
    )


def way_says(way: Earlier) -> str:
    """One way that was decided before, and why it does not count where it does not."""
    word = f"{way.option}: " if way.counts else ""
    doubt = (
        f"; not taken as an example: {way.doubt}" if way.doubt and way.doubt not in _ENDED.values() else ""
    )
    return f"{word}{way.says}, decided so {origins_say(way.origins)}{doubt}"


def before_says(before: Before) -> str:
    """Everything decided before about one line."""
    text = "; ".join(way_says(way) for way in before.ways)
    return f"{text}; they disagree, so none is recommended" if before.disagrees else text


def lines_say(lines: Iterable[Line]) -> tuple[str, ...]:
    """What was decided before about lines; those with the same words stand together."""
    from asflown.app.views.words import name_of

    together: dict[str, list[str]] = {}
    for line in lines:
        if line.before is not None:
            together.setdefault(before_says(line.before), []).append(name_of(line))
    return tuple(f"{listed(names, most=4)}: {text}" for text, names in together.items())


def group_says(group: Group) -> str:
    """In short, for a list of groups; empty where nothing was decided before."""
    befores = [line.before for line in group.lines if line.before is not None]
    if not befores:
        return ""
    if any(before.disagrees for before in befores):
        return "decided before, and not alike"
    agreed = [before for before in befores if before.option is not None]
    if not agreed:
        return "decided before for other facts"
    words = tuple(dict.fromkeys(before.option for before in agreed if before.option))
    whom = listed(dict.fromkeys(name for before in agreed for name in before.aircraft), most=3)
    some = "" if len(agreed) == len(group.lines) else f" in {len(agreed)} of {len(group.lines)}"
    origins = {origin for before in agreed for origin in before.origins}
    if len(words) == 1 and len(origins) == 1:
        return f"{words[0]}{some}: decided so {origins_say(tuple(origins))}"
    return f"decided{some} before for {whom}: {', '.join(words)}"


def typed_says(line: Line) -> tuple[str, ...]:
    """The choice of a value that was typed before, where the same value was found here."""
    if line.before is None or line.before.typed is None:
        return ()
    whom = listed(line.before.aircraft, most=3)
    return (f"{AS_BEFORE}: set to {line.before.typed}, as for {whom} (recommended)",)


def plan_says(plan: Plan) -> tuple[str, ...]:
    """How many questions of a plan were decided before, and for which aircraft; empty where none was."""
    groups = plan.open_groups
    done = [group for group in groups if group.is_as_before]
    told = [group for group in groups if not group.is_as_before and any(line.before for line in group.lines)]
    says = []
    if done:
        befores = [line.before for group in done for line in group.lines if line.before is not None]
        whom = listed(dict.fromkeys(name for before in befores for name in before.aircraft), most=4)
        verb = "was" if len(done) == 1 else "were"
        of = counted(len(groups), "question")
        says.append(f"{len(done)} of {of} {verb} decided before, for {whom}.{_at_once(plan, done)}")
    if told:
        verb = "has" if len(told) == 1 else "have"
        says.append(
            f"{counted(len(told), 'question')} {verb} earlier decisions that differ or do not settle it here;"
            " the slip tells them."
        )
    return tuple(says)


def _at_once(plan: Plan, done: Sequence[Group]) -> str:
    """How many of them can be chosen in one go, and with what command."""
    clear = sum(why_left(group) is None for group in done)
    if not clear:
        return " Choose each by itself."
    left = len(done) - clear
    rest = f", {left} by {'itself' if left == 1 else 'themselves'}" if left else ""
    return f" {clear} can be chosen at once{rest}: asflown decide {plan.aircraft} --{AS_BEFORE} WHY."


def before_json(before: Before | None) -> dict[str, Any] | None:
    """What was decided before about one line."""
    if before is None:
        return None
    return {
        "agreed": before.option,
        "value": before.typed,
        "disagrees": before.disagrees,
        "ways": [
            {
                "option": way.option,
                "says": way.says,
                "counts": way.counts,
                "doubt": way.doubt,
                "origins": [
                    {
                        "aircraft": origin.aircraft,
                        "refit": origin.refit,
                        "ended": origin.ended.value,
                        "who": origin.who,
                        "at": origin.at,
                        "reason": origin.reason,
                    }
                    for origin in way.origins
                ],
            }
            for way in before.ways
        ],
    }
