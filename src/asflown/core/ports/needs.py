"""What a fitted device needs of a board."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

#: How much a device wants DMA.
NO, BETTER, NEEDED = "no", "better", "needed"


@dataclass(frozen=True, slots=True)
class SerialNeed:
    """What a device needs of a serial port; ``None`` where it is not said.

    Attributes
    ----------
    least_baud, most_baud
        bit/s.
    inverted
        Levels turned round.
    half_duplex
        Both ways on one line.
    to_device, from_device
        Whether the board sends, and whether the device does.
    dma
        ``no``, ``better``, ``needed``.
    """

    least_baud: int | None = None
    most_baud: int | None = None
    inverted: bool | None = None
    half_duplex: bool | None = None
    to_device: bool | None = None
    from_device: bool | None = None
    dma: str | None = None

    def over(self, usual: SerialNeed) -> SerialNeed:
        """The need with its gaps filled from the usual one."""
        said = {f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) is not None}
        return replace(usual, **said)


@dataclass(frozen=True, slots=True)
class OutputNeed:
    """What a device needs of outputs.

    Attributes
    ----------
    count
        How many; ``None``: one for each motor.
    pace
        Outputs of one timer must all go at the same pace.
    dma
        ``no``, ``better``, ``needed``.
    """

    count: int | None = None
    pace: str = ""
    dma: str = NO


@dataclass(frozen=True, slots=True)
class Needs:
    """All that one device needs.

    Attributes
    ----------
    input
        What an analogue input must measure.
    bus
        Whether it sits on a shared bus.
    critical
        Whether the aircraft cannot fly safely without it.
    transmits
        Whether it sends by radio: a caution about the band.
    """

    serial: SerialNeed | None = None
    outputs: OutputNeed | None = None
    input: str | None = None
    bus: bool = False
    critical: bool = False
    transmits: bool = False
