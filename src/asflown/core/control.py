"""A release's control structure as data: declared blocks with roles. Computed with by later parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


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
    """One block.

    Attributes
    ----------
    inputs
        Names of the blocks or signals it takes.
    parameters
        What it needs (``gain``, ``cutoff`` …) to the role of the setting that gives it.
    """

    name: str
    kind: BlockKind
    inputs: tuple[str, ...] = ()
    parameters: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ControlStructure:
    """The blocks of one axis, and the loop's rate in hertz (``None``: given by a setting's role)."""

    axis: str
    blocks: tuple[Block, ...]
    rate_hz: float | None = None
    rate_role: str | None = None
