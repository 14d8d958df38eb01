"""How a board flies with its settings: the firmware's own reading of them, as the simulator takes it.

Written beside :mod:`asflown.demo.firmware.control`, which tells the same to others: asflown reads that
declaration, and a flight with this one shows whether it is right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from asflown.core.behaviour.simulate import Controller, FilterKind, LoopFilter
from asflown.core.behaviour.simulate.airframe import QUAD_MIXER
from asflown.core.record import Key
from asflown.core.signals import AXES
from asflown.demo.firmware.control import LEAD

if TYPE_CHECKING:
    from asflown.demo.firmware.releases import Firmware

#: Filters by the label of the choice.
_FILTERS = {
    "none": (),
    "one step": (FilterKind.ONE_POLE,),
    "two steps": (FilterKind.ONE_POLE, FilterKind.ONE_POLE),
    "sharp": (FilterKind.LOW_PASS,),
}
#: Steps between the gyro's sample and the motors' commands.
_STEPS = 1


@dataclass(frozen=True)
class _Settings:
    """The settings by role, of the bank in use."""

    firmware: Firmware
    values: Mapping[Key, str]
    bank: str | None

    def stored(self, role: str) -> str:
        item = next(item for item in self.firmware.parameters if item.role == role)
        return self.values[Key(item.name, self.bank if item.banks else None)]

    def number(self, role: str) -> float:
        """In the unit of the role."""
        item = next(item for item in self.firmware.parameters if item.role == role)
        return float(Decimal(self.stored(role)) * Decimal(item.factor or "1"))

    def label(self, role: str) -> str:
        item = next(item for item in self.firmware.parameters if item.role == role)
        return item.choices[self.stored(role)]

    def low_pass(self, role: str) -> tuple[LoopFilter, ...]:
        cutoff = self.number(f"{role}.cutoff")
        kinds = _FILTERS[self.label(f"{role}.kind")] if cutoff else ()
        return tuple(LoopFilter(kind, cutoff) for kind in kinds)

    def notches(self) -> tuple[LoopFilter, ...]:
        if self.stored("notch_filter.use") != "1":
            return ()
        made = []
        for which in "abc":
            centre, width = (self.number(f"notch_filter.{which}.{word}") for word in ("centre", "width"))
            if centre:
                made.append(LoopFilter(FilterKind.NOTCH, centre, centre / width))
        return tuple(made)

    def gains(self, term: str) -> tuple[float, float, float]:
        """Of the terms before the mix, by the axis' share in it."""
        roll, pitch, yaw = (
            self.number(f"mixer.{axis}.share") * self.number(f"rate_loop.{axis}.{term}_gain") for axis in AXES
        )
        return roll, pitch, yaw


def controller(firmware: Firmware, values: Mapping[Key, str], bank: str | None = None) -> Controller:
    """The rate controller of a board.

    Parameters
    ----------
    values
        Every setting as the terminal prints it.
    bank
        The set in use.
    """
    read = _Settings(firmware, values, bank)
    yaw = read.number("yaw_filter.cutoff")
    return Controller(
        loop_rate=read.number("rate_loop.rate"),
        kp=read.gains("proportional"),
        ki=read.gains("integral"),
        kd=read.gains("derivative"),
        kf=tuple(LEAD * gain for gain in read.gains("feedforward")),  # type: ignore[arg-type]
        gyro_filters=(*read.notches(), *read.low_pass("gyro_filter")),
        yaw_filters=(LoopFilter(FilterKind.ONE_POLE, yaw),) if yaw else (),
        d_filters=read.low_pass("derivative_filter"),
        computation_steps=_STEPS,
        mixer=QUAD_MIXER,
    )
