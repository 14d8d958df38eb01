"""Aircraft, board and fitted devices as a person describes them."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.core.ports.needs import SerialNeed


@dataclass(frozen=True, slots=True)
class FittedDevice:
    """A thing wired to the board.

    Attributes
    ----------
    kind
        ``speed controller``, ``current sensor``, ``receiver``, ``camera link``, ``barometer`` …
    version
        Version of the device's own firmware, ``None`` where not known.
    port
        Where it is wired, in the owner's words.
    speaks
        Protocols it speaks, as releases call them; empty where not stated.
    volts
        Level of its signals.
    outputs
        Outputs it needs, where the owner says how many.
    serial
        What its serial port needs, where it differs from what its kind usually needs.
    """

    name: str
    kind: str
    model: str | None = None
    version: str | None = None
    port: str | None = None
    speaks: tuple[str, ...] = ()
    volts: float | None = None
    outputs: int | None = None
    serial: SerialNeed | None = None


@dataclass(frozen=True, slots=True)
class Battery:
    """The pack: cells in series, capacity in ampere hours, chemistry."""

    cells: int | None = None
    capacity_ah: float | None = None
    chemistry: str | None = None


@dataclass(frozen=True, slots=True)
class Motors:
    """The motors: number, layout word, model, pole count."""

    count: int | None = None
    layout: str | None = None
    model: str | None = None
    poles: int | None = None


@dataclass(frozen=True, slots=True)
class Propellers:
    """The propellers: diameter and pitch in metres, blades."""

    diameter_m: float | None = None
    pitch_m: float | None = None
    blades: int | None = None
    model: str | None = None


@dataclass(frozen=True)
class Aircraft:
    """One airframe with its motors, propellers, battery, board and fitted devices.

    Attributes
    ----------
    id
        Short name used on the command line: lower case letters, digits, hyphens.
    mass_kg
        All-up mass with the usual pack.
    """

    id: str
    title: str
    board: str | None = None
    release: str | None = None
    mass_kg: float | None = None
    motors: Motors = Motors()
    propellers: Propellers = Propellers()
    battery: Battery = Battery()
    devices: tuple[FittedDevice, ...] = ()
    owner: str | None = None
    remarks: str | None = None

    def device(self, name: str) -> FittedDevice | None:
        """The fitted device of that name, ``None`` where there is none."""
        return next((device for device in self.devices if device.name == name), None)
