"""A pair of releases drawn from a seed, a board that runs the old one, and the truth between them."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from asflown.core.catalog import ChangeNote, ChangeNotes, Release
from asflown.core.record import Key
from asflown.demo.device import SimulatedBoard
from asflown.demo.drawn.as_core import release_of
from asflown.demo.drawn.changes import MAKERS, Became, may_merge, merge
from asflown.demo.drawn.parameters import ask_of_each_other, draw_names, draw_parameter, draw_value
from asflown.demo.drawn.terminals import DrawnTerminal, draw_terminal
from asflown.demo.firmware.parameter import Parameter
from asflown.demo.firmware.releases import Firmware


@dataclass(frozen=True)
class Truth:
    """What really became of every old parameter, and what is new."""

    became: tuple[Became, ...]
    added: tuple[Parameter, ...]

    def right(self, values: Mapping[Key, str]) -> Mapping[Key, str]:
        """The new values that mean what the found ones meant, for everything that goes on."""
        made: dict[Key, str] = {}
        for item in self.became:
            made.update(item.right(values))
        return made

    @cached_property
    def successors(self) -> Mapping[str, tuple[str, ...]]:
        """Old name to its new names."""
        return {old.name: tuple(new.name for new in item.new) for item in self.became for old in item.old}


@dataclass(frozen=True)
class RandomPair:
    """A drawn pair.

    Attributes
    ----------
    old, new
        As the core holds releases; the change notes come with the new one.
    old_firmware, new_firmware
        As a board holds them.
    board
        Runs the old release with drawn as-found values, stored.
    """

    seed: int
    old: Release
    new: Release
    old_firmware: Firmware
    new_firmware: Firmware
    board: SimulatedBoard
    terminal: DrawnTerminal
    truth: Truth

    @property
    def notes(self) -> ChangeNotes:
        """The change notes from old to new."""
        assert self.new.notes is not None
        return self.new.notes[0]


def random_pair(seed: int, *, size: int = 30, bare: bool = False) -> RandomPair:
    """Draw a pair of releases and a board.

    Parameters
    ----------
    seed
        The same seed gives the same pair.
    size
        Parameters of the old release, 4 to 120.
    bare
        Releases as bare factory listings tell them: no unit, no range, no meaning, no consequence.

    Raises
    ------
    ValueError
        When the size is out of range.
    """
    if not 4 <= size <= 120:
        raise ValueError(f"size is 4 to 120, got {size}")
    rng = random.Random(seed)
    names = iter(draw_names(rng, min(192, 2 * size)))
    banks = rng.choice(((), (), ("nest 1", "nest 2"), ("leaf 1", "leaf 2", "leaf 3")))
    drawn = [_drawn(rng, next(names), banks) for _ in range(size)]
    parameters = ask_of_each_other(rng, sorted(drawn, key=lambda item: bool(item.banks)))
    old = Firmware("drawn-1", "1", parameters, family="drawn")
    became = _became(rng, parameters, lambda: next(names))
    added = tuple(draw_parameter(rng, next(names)) for _ in range(rng.randint(0, 3)))
    new = Firmware("drawn-2", "2", _remade(became, added), family="drawn")
    terminal = draw_terminal(rng)
    board = SimulatedBoard(old, _found(rng, old), board="drawn-board", grammar=terminal)
    notes = _notes(became)
    return RandomPair(
        seed,
        release_of(old, bare=bare),
        release_of(new, notes, bare=bare),
        old,
        new,
        board,
        terminal,
        Truth(became, added),
    )


def random_board(seed: int, *, size: int = 30) -> SimulatedBoard:
    """A board nobody designed, at drawn values; the same board for the same seed."""
    return random_pair(seed, size=size).board


def _drawn(rng: random.Random, name: str, banks: tuple[str, ...]) -> Parameter:
    return draw_parameter(rng, name, banks=banks if rng.random() < 0.3 else ())


def _became(
    rng: random.Random, parameters: Sequence[Parameter], fresh: Callable[[], str]
) -> tuple[Became, ...]:
    makers, shares = zip(*MAKERS, strict=True)
    noted = rng.choice((1.0, 0.8, 0.5))
    waiting: list[Parameter] = []
    made: list[Became] = []
    for item in parameters:
        if may_merge(item) and rng.random() < 0.2:
            waiting.append(item)
        else:
            # a renamed or joined setting takes at most two fresh names
            made.append(rng.choices(makers, shares)[0](rng, item, fresh))
        if len(waiting) == 2:
            made.append(merge(waiting[0], waiting[1], fresh()))
            waiting = []
    made += [Became("same", (item,), (item,)) for item in waiting]
    return tuple(replace(item, is_noted=_is_noted(rng, item, noted)) for item in made)


def _is_noted(rng: random.Random, item: Became, share: float) -> bool:
    """A changed meaning is always told: nothing else could show it."""
    return item.note is not None and (item.kind == "meaning" or rng.random() < share)


def _remade(became: Sequence[Became], added: Sequence[Parameter]) -> tuple[Parameter, ...]:
    """New definitions; what they need and ask of others goes by the new names, outside banks first."""
    names = {old.name: item for item in became for old in item.old}

    def renamed(need: str) -> str | None:
        """Its new name; none where it is gone, or where no value of it can be called right any more."""
        fate = names[need]
        return fate.new[0].name if fate.new and fate.kind != "meaning" else None

    made: list[Parameter] = []
    for item in [new for one in became for new in one.new]:
        needs = tuple(name for need in item.needs if (name := renamed(need)))
        asks = tuple((word, name) for word, need in item.asks if (name := renamed(need)))
        made.append(replace(item, needs=needs, asks=asks))
    return tuple(sorted([*made, *added], key=lambda item: bool(item.banks)))


def _found(rng: random.Random, firmware: Firmware) -> Mapping[Key, str]:
    """Drawn values for two in three settings; what is asked of others holds."""
    made = dict(firmware.factory)
    for key in made:
        if rng.random() < 0.66:
            made[key] = draw_value(rng, firmware.by_name[key.name])
    for item in firmware.parameters:
        for _, name in item.asks:
            if Decimal(made[Key(name)]) == 0:
                made[Key(item.name)] = item.printed("0")
    return made


def _notes(became: Sequence[Became]) -> ChangeNotes:
    told = tuple(_told(became))
    changed = [item for item in became if item.kind not in ("same", "default")]
    return ChangeNotes("drawn-1", "drawn-2", told, complete=all(item.is_noted for item in changed))


def _told(became: Sequence[Became]) -> Iterator[ChangeNote]:
    for item in became:
        if item.is_noted and item.note is not None:
            yield item.note
