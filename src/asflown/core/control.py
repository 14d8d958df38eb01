"""A release's control structure as data: blocks with roles, and what such a declaration must hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

#: Signals every structure starts from, and the block it ends in.
INPUTS = ("command", "rate")
OUTPUT = "drive"


class BlockKind(StrEnum):
    """The small set of blocks a controller is composed of (trade and textbook terms)."""

    GAIN = "gain"
    SUM = "sum"
    INTEGRATOR = "integrator"
    DERIVATIVE = "derivative"
    ONE_POLE = "one-pole low-pass"
    BIQUAD = "biquad low-pass"
    NOTCH = "notch"
    DELAY = "delay"
    LIMIT = "limit"
    SHAPING = "command shaping"
    MIXER = "mixer"
    MOTOR_CURVE = "motor linearisation"


@dataclass(frozen=True, slots=True)
class Block:
    """One block. What goes into it is the sum of its inputs.

    Attributes
    ----------
    inputs
        Names of the blocks or signals it takes; a minus before a name takes it away.
    parameters
        What it needs (``gain``, ``cutoff`` …) to the role of the setting that gives it.
    constants
        What it needs that no setting gives, by the same words: numbers in SI (frequencies in Hz), and the
        ``rule`` of a discrete block.
    when, unless
        Role to values as they are stored: the block is there only when every role of ``when`` has one of its
        values and no role of ``unless`` has; otherwise what goes in comes out.
    """

    name: str
    kind: BlockKind
    inputs: tuple[str, ...] = ()
    parameters: Mapping[str, str] = field(default_factory=dict)
    constants: Mapping[str, float | str] = field(default_factory=dict)
    when: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    unless: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class ControlStructure:
    """The blocks of one axis, and the loop's rate in hertz (``None``: given by a setting's role).

    Attributes
    ----------
    holds
        Role to values as they are stored: with other values the aircraft is not controlled as declared.
    latency_steps
        Steps of the loop from the gyro's sample to the motors' command, beside the hold of half a step and
        what delay blocks say; ``None``: not declared.
    """

    axis: str
    blocks: tuple[Block, ...]
    rate_hz: float | None = None
    rate_role: str | None = None
    holds: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    latency_steps: float | None = None


@dataclass(frozen=True, slots=True)
class Needs:
    """What a kind of block takes.

    Attributes
    ----------
    every, one_of, may
        Parameters it must have, of which it must have exactly one, and may have; all of them numbers.
    rules
        Words its ``rule`` may be.
    """

    every: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()

    @property
    def numbers(self) -> tuple[str, ...]:
        """Every parameter it may be given."""
        return (*self.every, *self.one_of, *self.may)


#: What each kind takes; ``mixer`` and ``motor linearisation`` come after the drive and are not computed with.
NEEDS: Mapping[BlockKind, Needs] = {
    BlockKind.GAIN: Needs(every=("gain",), may=("times",)),
    BlockKind.SUM: Needs(),
    BlockKind.INTEGRATOR: Needs(rules=("backward", "forward", "trapezoid")),
    BlockKind.DERIVATIVE: Needs(),
    BlockKind.ONE_POLE: Needs(every=("cutoff",), may=("stages",), rules=("backward", "impulse", "exact")),
    BlockKind.BIQUAD: Needs(every=("cutoff",), may=("quality",)),
    BlockKind.NOTCH: Needs(every=("centre",), one_of=("quality", "width")),
    BlockKind.DELAY: Needs(one_of=("seconds", "steps")),
    BlockKind.LIMIT: Needs(may=("limit",)),
    BlockKind.SHAPING: Needs(),
}


def source(name: str) -> tuple[str, float]:
    """The block or signal an input names, and its sign.

    Examples
    --------
    >>> source("-rate")
    ('rate', -1.0)
    """
    return (name[1:].strip(), -1.0) if name.startswith("-") else (name, 1.0)


def faults(structure: ControlStructure) -> Iterator[tuple[int | None, str, str]]:
    """What keeps a structure from being computed with, whatever the settings are.

    Yields
    ------
    tuple
        Number of the block (``None``: the structure itself), the field, and what is wrong with it.
    """
    if (structure.rate_hz is None) == (structure.rate_role is None):
        yield None, "rate", "the loop's rate is a number or a role, one of them"
    names = [block.name for block in structure.blocks]
    for number, block in enumerate(structure.blocks):
        yield from ((number, where, what) for where, what in _parameter_faults(block))
        yield from ((number, where, what) for where, what in _input_faults(block, names))
        if block.name in (*INPUTS, *names[:number]):
            yield number, "name", f"'{block.name}' is taken"
    if OUTPUT not in names:
        yield None, "block", f"no block is called '{OUTPUT}', which is where the controller ends"
    for number in _in_circles(structure.blocks):
        yield number, "inputs", f"'{names[number]}' takes what it makes itself, by way of its inputs"


def _input_faults(block: Block, names: list[str]) -> Iterator[tuple[str, str]]:
    if not block.inputs:
        yield "inputs", f"'{block.name}' takes nothing"
    for written in block.inputs:
        name = source(written)[0]
        if name not in INPUTS and name not in names:
            yield "inputs", f"'{name}' is neither a block nor one of {', '.join(INPUTS)}"


def _parameter_faults(block: Block) -> Iterator[tuple[str, str]]:
    needs = NEEDS.get(block.kind)
    if needs is None:
        yield "kind", f"a {block.kind} comes after the drive and is not computed with"
        return
    rule = block.constants.get("rule")
    given = [*block.parameters, *(word for word in block.constants if word != "rule")]
    for word in dict.fromkeys(given):
        if word not in needs.numbers:
            known = ", ".join(needs.numbers) or "nothing"
            yield "parameters", f"a {block.kind} has no {word}; it takes {known}"
        elif given.count(word) > 1:
            yield "parameters", f"{word} is given by a role and as a constant"
        elif isinstance(block.constants.get(word), str):
            yield "constants", f"{word} is a number"
    for word in needs.every:
        if word not in given:
            yield "parameters", f"a {block.kind} needs its {word}"
    if needs.one_of and sum(word in given for word in needs.one_of) != 1:
        yield "parameters", f"a {block.kind} needs one of {', '.join(needs.one_of)}"
    if "rule" in (*block.parameters, *block.constants) and rule not in needs.rules:
        known = f"one of {', '.join(needs.rules)}" if needs.rules else "none"
        yield "constants", f"the rule of a {block.kind} is {known}"


def _in_circles(blocks: tuple[Block, ...]) -> Iterator[int]:
    """Blocks that feed themselves."""
    takes = {block.name: {source(name)[0] for name in block.inputs} for block in blocks}
    for number, block in enumerate(blocks):
        reached: set[str] = set()
        ahead = set(takes[block.name])
        while ahead:
            reached |= ahead
            ahead = {name for one in ahead for name in takes.get(one, ())} - reached
        if block.name in reached:
            yield number


def in_order(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The blocks the drive is made of, each after what it takes.

    Raises
    ------
    KeyError
        When an input or the drive is not there (see :func:`faults`, which also finds circles).
    """
    by_name = {block.name: block for block in blocks}
    made: dict[str, Block] = {}
    stack = [OUTPUT]
    while stack:
        name = stack[-1]
        left = [
            other
            for written in by_name[name].inputs
            if (other := source(written)[0]) not in INPUTS and other not in made
        ]
        if left:
            stack += left
        else:
            made.setdefault(name, by_name[name])
            stack.pop()
    return tuple(made.values())
