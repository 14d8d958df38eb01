"""Releases and their catalogs: parameter definitions as data, with their source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from functools import cached_property

from asflown.core.control import ControlStructure
from asflown.core.ports.needs import SerialNeed
from asflown.core.record import Key, Original, Setting
from asflown.core.stick import StickShape


class Consequence(StrEnum):
    """What a change of this parameter can do to the aircraft. Unknown is treated like safety."""

    SAFETY = "safety"
    HANDLING = "handling"
    COMFORT = "comfort"
    NONE = "none"
    UNKNOWN = "unknown"

    @property
    def is_risky(self) -> bool:
        """Whether nothing may be inferred here without a person."""
        return self in (Consequence.SAFETY, Consequence.HANDLING, Consequence.UNKNOWN)

    @property
    def rank(self) -> int:
        """Order for showing: safety first."""
        return ("safety", "unknown", "handling", "comfort", "none").index(self.value)


def worst(*consequences: Consequence) -> Consequence:
    """The consequence to be taken most seriously."""
    return min(consequences, key=lambda c: c.rank, default=Consequence.UNKNOWN)


class Belonging(StrEnum):
    """What a parameter belongs to; decides what may be copied to another board or aircraft."""

    WIRING = "wiring"
    BOARD = "board"
    AIRFRAME = "airframe"
    PILOT = "pilot"
    DEVICE = "device"
    PLACE = "place"
    UNKNOWN = "unknown"


class ValueKind(StrEnum):
    """How a value is to be understood."""

    INTEGER = "integer"
    REAL = "real"
    FLAG = "flag"
    CHOICE = "choice"
    BITS = "bits"
    TEXT = "text"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Choice:
    """One allowed value (or one bit) and what it means."""

    value: str
    label: str


@dataclass(frozen=True)
class ParameterDef:
    """One parameter of a release.

    Attributes
    ----------
    name
        As the firmware prints it. In an index group the name without the index.
    kind, type
        How the value is understood, and the type word the catalog states (``Uint8``, ``Float`` …).
    unit
        Unit text as stated; SI or trade.
    minimum, maximum
        Inclusive, in the parameter's own unit.
    decimals, increment
        Digits after the point and step the device stores.
    role, factor
        What it means whatever its name, and the factor from the stored number to SI.
    belonging
        What it belongs to (see :class:`Belonging`).
    plain_values
        Values that are not numbers (``0`` = off, ``-1`` = automatic); never scaled.
    unit_from
        The parameter this one's unit depends on.
    slots
        Values are numbered slots or modes: matched by meaning, never scaled.
    redo
        How the value is made on the aircraft (a calibration); then it is never copied to other hardware.
    needs
        Names that must be written before this one.
    banks, indexes
        Where it stands: one setting per bank and index; empty means outside banks / no index.
    private
        Says something about a person or a place; left out of a hand-over unless wanted.
    """

    name: str
    group: str | None = None
    kind: ValueKind = ValueKind.UNKNOWN
    type: str | None = None
    unit: str | None = None
    minimum: Decimal | None = None
    maximum: Decimal | None = None
    default: str | None = None
    choices: tuple[Choice, ...] = ()
    bits: tuple[Choice, ...] = ()
    decimals: int | None = None
    increment: Decimal | None = None
    description: str | None = None
    role: str | None = None
    factor: Decimal | None = None
    consequence: Consequence = Consequence.UNKNOWN
    consequence_why: str | None = None
    belonging: Belonging = Belonging.UNKNOWN
    plain_values: tuple[Choice, ...] = ()
    unit_from: str | None = None
    slots: bool = False
    redo: str | None = None
    needs: tuple[str, ...] = ()
    banks: tuple[str, ...] = ()
    indexes: tuple[str, ...] = ()
    volatile: bool = False
    read_only: bool = False
    reboot: bool = False
    private: bool = False

    def keys(self) -> tuple[Key, ...]:
        """Every setting this parameter stands for: one per bank and index."""
        banks: tuple[str | None, ...] = self.banks or (None,)
        indexes: tuple[str | None, ...] = self.indexes or (None,)
        return tuple(Key(self.name, bank, index) for bank in banks for index in indexes)

    def choice_label(self, value: str) -> str | None:
        """What a value means: a choice's or plain value's label, ``None`` where it has none."""
        for choice in (*self.choices, *self.plain_values):
            if choice.value == value:
                return choice.label
        return None


class CatalogSource(StrEnum):
    """Where the definitions came from."""

    STATED = "stated catalog"
    FACTORY_LISTING = "factory listing"
    PROVISIONAL = "provisional: notes or another aircraft's listing"


@dataclass(frozen=True)
class Catalog:
    """The parameters of one release.

    Attributes
    ----------
    factory
        Factory values read from a factory listing; they win over stated defaults.
    remarks
        What was passed over while reading, in words.
    """

    parameters: tuple[ParameterDef, ...]
    source: CatalogSource
    factory: tuple[Setting, ...] = ()
    originals: tuple[Original, ...] = ()
    remarks: tuple[str, ...] = ()

    @cached_property
    def by_name(self) -> Mapping[str, ParameterDef]:
        """Definition by name."""
        return {parameter.name: parameter for parameter in self.parameters}

    @cached_property
    def keys(self) -> tuple[Key, ...]:
        """Every setting the release has, in catalog order."""
        return tuple(key for parameter in self.parameters for key in parameter.keys())

    @cached_property
    def factory_values(self) -> Mapping[Key, str]:
        """Factory values by key, as a listing showed them."""
        return {setting.key: setting.value for setting in self.factory}

    def factory_value(self, key: Key) -> str | None:
        """The factory value of a setting, ``None`` where not stated."""
        if key in self.factory_values:
            return self.factory_values[key]
        parameter = self.by_name.get(key.name)
        return parameter.default if parameter else None


@dataclass(frozen=True, slots=True)
class DeviceNeed:
    """What a release needs of a fitted device or of the transmitter.

    Attributes
    ----------
    device
        Kind of device, e.g. ``speed controller``, ``receiver``, ``transmitter``.
    statement
        What is needed, in one sentence.
    least_version
        The least version of the device's own firmware, where one is needed.
    """

    device: str
    statement: str
    consequence: Consequence
    least_version: str | None = None


@dataclass(frozen=True, slots=True)
class OptionalFunction:
    """A function that may be left out of an image, with the flash it takes (bytes)."""

    name: str
    flash: int | None = None
    needs: tuple[str, ...] = ()
    description: str | None = None


@dataclass(frozen=True, slots=True)
class Protocol:
    """A way a release talks with a kind of device.

    Attributes
    ----------
    device
        Kind of device.
    port_does
        Value of a port's setting (role ``serial.<id>.does``) that means it.
    role, value
        The setting that chooses it, by role, and its value for it.
    need
        What the serial port needs; what it does not say is as the kind of device usually needs it.
    function
        Optional function it needs in the image.
    update_hz
        Of outputs: how often.
    dma
        Of outputs: ``no``, ``better``, ``needed``; ``None`` where not stated.
    """

    name: str
    device: str
    port_does: str | None = None
    role: str | None = None
    value: str | None = None
    need: SerialNeed | None = None
    function: str | None = None
    update_hz: float | None = None
    dma: str | None = None


@dataclass(frozen=True, slots=True)
class ImageWord:
    """A word at a known place of an image that names a board, a version or a build."""

    kind: str
    offset: int
    value: str


@dataclass(frozen=True)
class Release:
    """One version of one firmware. Every room may be ``None``: *not stated*.

    Attributes
    ----------
    id
        ``<firmware>-<version>`` in lower case, e.g. ``marram-4.1``.
    order
        Releases it comes directly after, for chaining change notes.
    base_flash
        Bytes of an image without optional functions.
    protocols
        How it talks with kinds of devices.
    control
        Declared control structure (blocks with roles) by axis.
    stick
        Declared curve from the stick to a commanded rate, by axis.
    """

    id: str
    firmware: str
    version: str
    catalog: Catalog | None = None
    notes: tuple[ChangeNotes, ...] | None = None
    functions: tuple[OptionalFunction, ...] | None = None
    base_flash: int | None = None
    protocols: tuple[Protocol, ...] | None = None
    image_words: tuple[ImageWord, ...] | None = None
    images: tuple[Original, ...] | None = None
    device_needs: tuple[DeviceNeed, ...] | None = None
    boards: tuple[str, ...] | None = None
    control: Mapping[str, ControlStructure] | None = None
    stick: Mapping[str, StickShape] | None = None
    originals: tuple[Original, ...] = ()
    remarks: tuple[str, ...] = ()


class NoteKind(StrEnum):
    """What a change note says happened."""

    RENAME = "rename"
    CONVERT = "convert"
    SPLIT = "split"
    MERGE = "merge"
    RETIRE = "retire"
    DEFAULT = "default"
    MEANING = "meaning"


@dataclass(frozen=True)
class ConversionSpec:
    """How old values become new ones; at most one of the ways is set. None set: copied as they are.

    Attributes
    ----------
    factor, offset
        ``new = old * factor + offset``, exact decimals.
    unit_from, unit_to
        Unit change, e.g. ``s`` to ``ms``.
    choices
        Old value to new value, both as text.
    expressions
        New name to an expression over the old names in the small safe arithmetic.
    """

    factor: Decimal | None = None
    offset: Decimal = Decimal(0)
    unit_from: str | None = None
    unit_to: str | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    expressions: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_copy(self) -> bool:
        """Whether the value is copied as it is."""
        return self.factor is None and self.unit_to is None and not self.choices and not self.expressions


@dataclass(frozen=True)
class ChangeNote:
    """One published change.

    Attributes
    ----------
    old, new
        Parameter names; ``old`` has several in a merge, ``new`` in a split.
    why
        The note's own words.
    consequence
        What the change does to the aircraft, where the note says so.
    line
        1-based line in the notes file.
    """

    kind: NoteKind
    old: tuple[str, ...]
    new: tuple[str, ...] = ()
    conversion: ConversionSpec = field(default_factory=ConversionSpec)
    why: str | None = None
    consequence: Consequence | None = None
    line: int | None = None


@dataclass(frozen=True)
class ChangeNotes:
    """The changes from one release to the next.

    Attributes
    ----------
    from_release, to_release
        Release identifiers.
    complete
        Whether the notes claim to name every renamed or removed parameter.
    """

    from_release: str
    to_release: str
    changes: tuple[ChangeNote, ...]
    complete: bool = False
    original: Original | None = None
