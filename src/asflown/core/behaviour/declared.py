"""A controller whose structure a release declares and whose numbers a record gives: its exact response.

Discrete blocks run at the loop's rate; their formulas are those of :mod:`asflown.core.signal.filters`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asflown.core.control import INPUTS, OUTPUT, Block, BlockKind, ControlStructure, faults, in_order, source
from asflown.core.signal import filters
from asflown.errors import Fault, InputError

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Kinds that are passed over in a linear response, and what to say of them.
PASSED_OVER = {
    BlockKind.LIMIT: "taken as if it were never reached",
    BlockKind.SHAPING: "taken as done before the command is logged",
}
_NEXT = "measure without a declared controller, or complete the record and the release"


@dataclass(frozen=True, slots=True)
class Stage:
    """One block with its numbers: ``gain`` times the digital filters in a row of the sum of its inputs.

    Attributes
    ----------
    inputs
        Name and sign.
    """

    name: str
    inputs: tuple[tuple[str, float], ...]
    gain: float = 1.0
    filters: tuple[filters.Block, ...] = ()


@dataclass(frozen=True)
class KnownController:
    """The controller of one axis with its numbers: ``drive = Cr command - Cy rate``.

    Attributes
    ----------
    rate_hz
        Hz, rate of the loop.
    stages
        In the order of computing; the last one makes the drive.
    remarks
        What is not in the response, in words.
    scale
        Multiplies the drive. The gains are per unit of the firmware's own drive. The drive that a plant is
        measured with is what the log or a mixer gives (``control.*`` columns in their own scale, or motor
        commands divided by a mixer of the caller's choice). The caller must bring both to one scale: a drive
        read with a mixer of entries 0.5 where the firmware mixes with 1 is twice as large and needs 2 here.
        Otherwise ``P Cy`` is wrong by the ratio, and with it crossover, margins and sensitivity.
    latency_steps
        Steps of the loop from sample to motors that are in no block; ``None``: not declared.
    """

    axis: str
    rate_hz: float
    stages: tuple[Stage, ...]
    remarks: tuple[str, ...] = ()
    scale: float = 1.0
    latency_steps: float | None = None

    @property
    def latency(self) -> float | None:
        """S from the gyro's sample to the middle of the motors' hold; ``None`` where it is not declared."""
        return None if self.latency_steps is None else (self.latency_steps + 0.5) / self.rate_hz

    def response(self, frequencies: npt.ArrayLike) -> tuple[Complex, Complex]:
        """Responses of the drive for the command, and for the measured rate taken away.

        Parameters
        ----------
        frequencies
            (nf,) Hz, above 0 and at most half the loop's rate.

        Returns
        -------
        tuple of ndarray
            Cr and Cy, (nf,) complex each; ``drive = Cr command - Cy rate``.

        Raises
        ------
        ValueError
            For a frequency outside of that.
        """
        at = np.atleast_1d(np.asarray(frequencies, dtype=np.float64))
        if at.size and not (np.all(at > 0.0) and np.all(at <= 0.5 * self.rate_hz)):
            raise ValueError(f"frequencies above 0 and up to {0.5 * self.rate_hz:g} Hz are wanted")
        one, none = np.ones(at.shape, dtype=np.complex128), np.zeros(at.shape, dtype=np.complex128)
        made: dict[str, tuple[Complex, Complex]] = dict(zip(INPUTS, ((one, none), (none, one)), strict=True))
        for stage in self.stages:
            own = stage.gain * filters.cascade_response(stage.filters, at, self.rate_hz)
            made[stage.name] = (self._part(stage, made, 0, own), self._part(stage, made, 1, own))
        command, rate = made[OUTPUT]
        return self.scale * command, -self.scale * rate

    @staticmethod
    def _part(stage: Stage, made: Mapping[str, tuple[Complex, Complex]], side: int, own: Complex) -> Complex:
        return np.asarray(own * sum(sign * made[name][side] for name, sign in stage.inputs))

    def scaled(self, scale: float) -> KnownController:
        """The same controller with its drive in another scale."""
        return replace(self, scale=scale)


def controller_of(
    structure: ControlStructure,
    values: Mapping[str, float],
    *,
    stored: Mapping[str, float] | None = None,
    unusable: Mapping[str, str] | None = None,
    scale: float = 1.0,
) -> KnownController:
    """The controller of one axis from what a release declares and what the settings say.

    Parameters
    ----------
    values
        Number by role in SI (frequencies in Hz); words among numbers (0 = off) are not in it.
    stored
        Number by role as it is stored, for ``when``, ``unless`` and ``holds``; ``values`` when not given.
    unusable
        Why a role has no number, in words, where that is known.
    scale
        See :class:`KnownController`.

    Raises
    ------
    InputError
        Naming everything that is missing or not computed with.
    """
    return _Assembly(structure, values, values if stored is None else stored, unusable or {}).made(scale)


def is_there(block: Block, stored: Mapping[str, float]) -> bool:
    """Whether a block is in the loop with these settings (see :class:`asflown.core.control.Block`)."""
    wanted = all(stored.get(role) in allowed for role, allowed in block.when.items())
    return wanted and not any(stored.get(role) in allowed for role, allowed in block.unless.items())


def with_numbers(stage: Stage, block: Block, values: Mapping[str, float], rate_hz: float) -> Stage:
    """The stage of a block that is in the loop, with other numbers.

    Raises
    ------
    KeyError
        When a role has no number.
    ValueError
        For a number that the block cannot have.
    """
    numbers = {word: values[role] for word, role in block.parameters.items()}
    numbers |= {word: float(value) for word, value in block.constants.items() if word != "rule"}
    if block.kind is BlockKind.GAIN:
        return replace(stage, gain=numbers["gain"] * numbers.get("times", 1.0))
    return replace(stage, filters=_MADE[block.kind](numbers, _rule(block), rate_hz))


class _Assembly:
    """Fills in the numbers, collecting faults until every block is looked at."""

    def __init__(
        self,
        structure: ControlStructure,
        values: Mapping[str, float],
        stored: Mapping[str, float],
        unusable: Mapping[str, str],
    ) -> None:
        self.structure, self.values, self.stored, self.unusable = structure, values, stored, unusable
        self.faults: dict[Fault, None] = {}
        self.remarks: list[str] = []

    def made(self, scale: float) -> KnownController:
        structure = self.structure
        for number, where, what in faults(structure):
            block = "" if number is None else f"block '{structure.blocks[number].name}' "
            self._fault(what, f"{block}{where}")
        self._refuse_if_faulty()
        self._holds()
        rate = (
            structure.rate_hz if structure.rate_hz is not None else self._number(structure.rate_role, "rate")
        )
        if rate is not None and not 0.0 < rate < math.inf:
            self._fault(f"the loop's rate is above 0 Hz, got {rate:g}", "rate")
            rate = None
        stages = [self._stage(block, rate) for block in in_order(structure.blocks)]
        self._refuse_if_faulty()
        assert rate is not None
        return KnownController(
            structure.axis, rate, tuple(stages), tuple(self.remarks), scale, structure.latency_steps
        )

    def _refuse_if_faulty(self) -> None:
        if self.faults:
            raise InputError(
                "the declared controller cannot be computed",
                where=f"control structure, {self.structure.axis}",
                faults=tuple(self.faults),
                next_step=_NEXT,
            )

    def _fault(self, what: str, where: str) -> None:
        self.faults[Fault(what, where)] = None

    def _holds(self) -> None:
        for role, allowed in self.structure.holds.items():
            value = self._stored(role, "holds")
            if value is not None and value not in allowed:
                listed = " or ".join(f"{one:g}" for one in allowed)
                self._fault(f"{role} is {value:g}; the structure is declared for {listed} alone", "holds")

    def _stored(self, role: str, where: str) -> float | None:
        if role not in self.stored:
            self._fault(self._why(role), where)
        return self.stored.get(role)

    def _number(self, role: str | None, where: str) -> float | None:
        if role is None:
            return None
        if role not in self.values:
            self._fault(self._why(role), where)
        return self.values.get(role)

    def _why(self, role: str) -> str:
        why = self.unusable.get(role)
        return f"{role}: {why}" if why else f"no setting has the role {role}"

    def _is_there(self, block: Block) -> bool:
        where = f"block '{block.name}'"
        wanted = [self._stored(role, where) in allowed for role, allowed in block.when.items()]
        barred = [self._stored(role, where) in allowed for role, allowed in block.unless.items()]
        return all(wanted) and not any(barred)

    def _stage(self, block: Block, rate: float | None) -> Stage:
        stage = Stage(block.name, tuple(source(name) for name in block.inputs))
        if not self._is_there(block):
            return stage
        if block.kind in PASSED_OVER:
            self.remarks.append(f"{block.kind} '{block.name}': {PASSED_OVER[block.kind]}")
            return stage
        where = f"block '{block.name}'"
        numbers = {word: self._number(role, f"{where} {word}") for word, role in block.parameters.items()}
        numbers |= {word: float(value) for word, value in block.constants.items() if word != "rule"}
        known = {word: value for word, value in numbers.items() if value is not None}
        if len(known) < len(numbers):
            return stage
        if block.kind is BlockKind.GAIN:
            return replace(stage, gain=known["gain"] * known.get("times", 1.0))
        if rate is None:
            return stage
        try:
            return replace(stage, filters=_MADE[block.kind](known, _rule(block), rate))
        except ValueError as error:
            self._fault(str(error), where)
            return stage


def _rule(block: Block) -> str:
    return str(block.constants.get("rule", "backward"))


_Filters = tuple[filters.Block, ...]


def _one_pole(numbers: Mapping[str, float], rule: str, rate: float) -> _Filters:
    stages = numbers.get("stages", 1.0)
    if stages != int(stages) or not 1 <= stages <= 8:
        raise ValueError(f"stages are a whole number from 1 to 8, got {stages:g}")
    return (filters.one_pole(numbers["cutoff"], rate, rule),) * int(stages)


def _biquad(numbers: Mapping[str, float], rule: str, rate: float) -> _Filters:
    return (filters.low_pass(numbers["cutoff"], rate, numbers.get("quality", filters.BUTTERWORTH_Q)),)


def _notch(numbers: Mapping[str, float], rule: str, rate: float) -> _Filters:
    centre = numbers["centre"]
    width = numbers.get("width", math.nan)
    if width <= 0.0:
        raise ValueError(f"a width above 0 Hz, got {width:g}")
    return (filters.notch(centre, rate, numbers.get("quality", centre / width)),)


def _delay(numbers: Mapping[str, float], rule: str, rate: float) -> _Filters:
    steps = numbers["steps"] if "steps" in numbers else numbers["seconds"] * rate
    if not 0.0 <= steps < math.inf:
        raise ValueError(f"a delay of 0 or more, got {steps:g} steps")
    return (filters.delay_samples(steps),)


_MADE: Mapping[BlockKind, Callable[[Mapping[str, float], str, float], _Filters]] = {
    BlockKind.SUM: lambda numbers, rule, rate: (),
    BlockKind.INTEGRATOR: lambda numbers, rule, rate: (filters.integrator(rate, rule),),
    BlockKind.DERIVATIVE: lambda numbers, rule, rate: (filters.derivative(rate),),
    BlockKind.ONE_POLE: _one_pole,
    BlockKind.BIQUAD: _biquad,
    BlockKind.NOTCH: _notch,
    BlockKind.DELAY: _delay,
}
