"""Why things cannot be together: the smallest conflict, and what they are short of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from asflown.core.ports.compile import FLASH, Compiled
from asflown.core.ports.problem import Demand, Option, Problem
from asflown.core.ports.processor import Processor, lane_said
from asflown.core.ports.solve import is_feasible


@dataclass(frozen=True)
class Reason:
    """The smallest set of things that do not go together.

    Attributes
    ----------
    names
        Any one of them less, and the others of them go together.
    short_of
        What there is too little of: ``DMA``, ``pace`` (of timers), ``flash``, ``protocol`` or ``place``.
    could_have
        Of each, what it could have of that, in words.
    why_not
        Of a thing that fits nowhere: place and why.
    """

    names: tuple[str, ...]
    short_of: tuple[str, ...]
    could_have: tuple[tuple[str, tuple[str, ...]], ...]
    why_not: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()


def _is_lane(resource: str) -> bool:
    return "DMA" in resource and not resource.startswith(("request", "protocol"))


#: Kind of shortage, whether a shared thing belongs to it, and whether a capacity does.
_KINDS: tuple[tuple[str, Callable[[str], bool], Callable[[str], bool]], ...] = (
    (
        "DMA",
        lambda name: _is_lane(name) or name.startswith("request ") or name.endswith(" served"),
        lambda name: name != FLASH,
    ),
    ("pace", lambda name: name.endswith(" pace"), lambda name: False),
    ("flash", lambda name: False, lambda name: name == FLASH),
    ("protocol", lambda name: name.startswith("protocol "), lambda name: False),
)


def reason_of(made: Compiled, conflict: tuple[str, ...], processor: Processor) -> Reason:
    """What the things of a conflict are short of, and what each could have had."""
    problem = made.problem.only(conflict)
    short = [kind for kind, shared, room in _KINDS if is_feasible(_freed(problem, shared, room))]
    if not short:
        short = ["place"]
    options = {demand.name: _possible(demand) for demand in problem.demands}
    could = tuple((name, _had(made, name, options[name], short[0], processor)) for name in conflict)
    nowhere = tuple((name, made.why_not.get(name, ())) for name in conflict if not options[name])
    return Reason(conflict, tuple(short), could, nowhere)


def _possible(demand: Demand) -> tuple[Option, ...]:
    """Options that give nothing up."""
    return tuple(option for option in demand.options if not option.eases)


def _freed(problem: Problem, shared: Callable[[str], bool], room: Callable[[str], bool]) -> Problem:
    """The same where one kind of thing is there without limit."""
    demands = tuple(
        replace(
            demand,
            options=tuple(
                replace(
                    option,
                    modes={name: mode for name, mode in option.modes.items() if not shared(name)},
                    claims=frozenset(claim for claim in option.claims if not room(claim.capacity)),
                )
                for option in demand.options
            ),
        )
        for demand in problem.demands
    )
    return replace(problem, demands=demands)


def _had(
    made: Compiled, name: str, options: Iterable[Option], kind: str, processor: Processor
) -> tuple[str, ...]:
    """What one thing could have of what is short, in words: each way of having it once."""
    found: dict[str, None] = {}
    for option in options:
        meant = made.meant.get((name, option.name))
        place = meant.place if meant is not None else None
        words = _of_option(option, kind, processor) if kind != "place" else [place or ""]
        if any(words):
            found[_row(words)] = None
    return tuple(found)


def _of_option(option: Option, kind: str, processor: Processor) -> list[str]:
    words = []
    for resource, mode in sorted(option.modes.items()):
        if kind == "DMA" and _is_lane(resource):
            words.append(f"{lane_said(resource)} ({mode})")
        elif kind == "pace" and resource.endswith(" pace"):
            words.append(f"{resource.removesuffix(' pace')} at the pace of {mode}")
        elif kind == "protocol" and resource.startswith("protocol "):
            words.append(mode)
    for claim in sorted(option.claims, key=lambda claim: claim.item):
        if kind == "flash" and claim.capacity == FLASH:
            words.append(f"{claim.item}, {claim.amount} bytes")
        elif kind == "DMA" and claim.capacity != FLASH:
            size = len(processor.groups[claim.capacity])
            words.append(f"one of the {size} {processor.lane_word}s of {claim.capacity} ({claim.item})")
    return words


#: Ways of one thing that are told.
_MOST = 4

_SHORT = {
    "DMA": "DMA streams",
    "pace": "timers, of which all outputs go at one pace",
    "flash": "flash",
    "protocol": "a protocol that all of them speak",
    "place": "places",
}


def _row(names: Iterable[str]) -> str:
    """a, b and c."""
    found = list(names)
    return " and ".join([", ".join(found[:-1]), found[-1]]) if len(found) > 1 else "".join(found)


def reason_said(reason: Reason) -> tuple[str, ...]:
    """The smallest set that does not go together, in sentences."""
    names = _row(list(reason.names))
    if reason.why_not:
        return tuple(
            f"{name} fits nowhere: {'; '.join(f'{place}: {why}' for place, why in found)}."
            if found
            else f"{name} fits nowhere: the board has no such place."
            for name, found in reason.why_not
        )
    could = dict(reason.could_have)
    only = {choice for choices in could.values() for choice in choices}
    if len(reason.names) == 1:
        return (
            f"{names} does not go with what is on the board: it could only have {_either(sorted(only))}.",
        )
    freed = "Any one of them less frees the others." if len(reason.names) > 2 else "Either alone works."
    where = {choice.partition(" (")[0] for choice in only}
    if reason.short_of[0] == "DMA" and len(where) == 1:
        all_ = "both" if len(reason.names) == 2 else "all"
        return (f"{names} {all_} need {where.pop()}. {freed}",)
    told = "; ".join(f"{name} could have {_either(choices)}" for name, choices in could.items() if choices)
    short = _SHORT.get(reason.short_of[0], reason.short_of[0])
    return (f"{names} do not go together, for want of {short}: {told}. {freed}",)


def _either(choices: Sequence[str]) -> str:
    """a, or b, or c; the tail as a number."""
    shown = list(choices[:_MOST])
    if len(choices) > _MOST:
        shown.append(f"{len(choices) - _MOST} ways more")
    return ", or ".join(shown)
