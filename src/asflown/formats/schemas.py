"""The files people write, as models: one source for checking and for the published JSON Schemas."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from asflown.core.catalog import Belonging, Consequence, NoteKind
from asflown.core.control import BlockKind
from asflown.core.layout import Origin
from asflown.core.signals import signal
from asflown.core.stick import DeadBand, StickForm
from asflown.formats.schemas_board import BoardFile
from asflown.formats.schemas_terminal import TerminalFile
from asflown.formats.written import (
    Finite,
    Flag,
    Names,
    OneName,
    Text,
    TextList,
    Texts,
    Volts,
    Whole,
    Written,
    as_text,
)


class UnitChange(Written):
    """From one unit to another."""

    from_: str = Field(alias="from", description="unit before, e.g. s")
    to: str = Field(description="unit now, e.g. ms")


class Change(Written):
    """One published change."""

    kind: NoteKind = Field(description="what happened")
    old: Names = Field(min_length=1, description="name or names before")
    new: Names = Field(default=[], description="name or names now")
    factor: Finite | None = Field(default=None, description="new = old * factor + offset")
    offset: Finite = Field(default=Decimal(0))
    unit: UnitChange | None = None
    choices: Texts = Field(default={}, description="value before -> value now")
    expression: str | dict[str, str] | None = Field(
        default=None, description="arithmetic over the old names; a single old value is also `old`"
    )
    why: str | None = Field(default=None, description="the reason, shown on every line it decides")
    consequence: Consequence | None = None

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Change:
        old, new = len(self.old), len(self.new)
        wanted: dict[NoteKind, tuple[bool, str]] = {
            NoteKind.RENAME: (old == 1 and new == 1, "a rename has one old and one new name"),
            NoteKind.CONVERT: (old == 1 and new <= 1, "a convert has one old name and at most one new name"),
            NoteKind.SPLIT: (old == 1 and new >= 2, "a split has one old name and at least two new names"),
            NoteKind.MERGE: (old >= 2 and new == 1, "a merge has at least two old names and one new name"),
            NoteKind.RETIRE: (new == 0, "a retire has no new name"),
            NoteKind.DEFAULT: (new == 0, "a default has no new name"),
            NoteKind.MEANING: (new <= 1, "a meaning has at most one new name"),
        }
        fits, says = wanted[self.kind]
        ways = [
            self.factor is not None,
            self.unit is not None,
            bool(self.choices),
            self.expression is not None,
        ]
        if not fits:
            raise ValueError(f"{says}; this one has {old} old and {new} new")
        if sum(ways) > 1:
            raise ValueError("more than one of factor, unit, choices and expression is given")
        if self.kind is NoteKind.CONVERT and not any(ways):
            raise ValueError("a convert says how: factor, unit, choices or expression")
        if len(set(self.old)) < old or len(set(self.new)) < new:
            raise ValueError("a name stands twice")
        return self


class NotesFile(Written):
    """Change notes from one release to the next."""

    from_: str = Field(alias="from", min_length=1, description="release before, e.g. reed-3.1")
    to: str = Field(min_length=1, description="release now")
    complete: Flag = Field(
        default=False, description="whether every renamed, rescaled and removed parameter is named"
    )
    change: list[Change] = []


class OverlayEntry(Written):
    """What a catalog's standard has no key for."""

    role: str | None = Field(default=None, description="meaning whatever the name, e.g. rate_loop.roll.gain")
    factor: Finite | None = Field(default=None, description="from the stored number to SI")
    consequence: Consequence | None = None
    why: str | None = Field(default=None, description="what the consequence is, in words")
    belonging: Belonging | None = None
    plain: Texts = Field(default={}, description='values that are words, e.g. {"0" = "off"}')
    unit_from: str | None = Field(default=None, description="parameter its unit depends on")
    slots: Flag | None = Field(default=None, description="values are numbered slots or modes")
    redo: str | None = Field(default=None, description="how it is made on the aircraft (a calibration)")
    needs: TextList = Field(default=[], description="names written before it")
    banks: TextList = []
    indexes: TextList = []
    decimals: Whole | None = Field(default=None, ge=0, le=12)
    private: Flag | None = Field(default=None, description="says something about a person or a place")


class OverlayFile(Written):
    """Role, factor, consequence and needs beside a catalog."""

    parameter: dict[str, OverlayEntry] = {}
    group: dict[str, OverlayEntry] = Field(
        default={}, description="the same keys for every member of a group"
    )
    all: OverlayEntry = Field(default=OverlayEntry(), description="the same keys for every parameter")


class ReleaseFile(Written):
    """A release's identity."""

    firmware: str = Field(min_length=1, max_length=60)
    version: Annotated[str, BeforeValidator(as_text), Field(min_length=1, max_length=60)]
    id: str | None = Field(default=None, pattern=r"^[a-z0-9][a-z0-9._-]{0,79}$")
    boards: TextList | None = Field(default=None, description="boards an image is made for")
    follows: TextList = Field(default=[], description="releases it comes after")


class Need(Written):
    """What a release needs of a fitted device."""

    device: str = Field(description="kind of device, e.g. speed controller")
    statement: str
    least_version: Text | None = None
    consequence: Consequence = Consequence.UNKNOWN


class DevicesFile(Written):
    """What a release needs of fitted devices and of the transmitter."""

    need: list[Need] = []


class Function(Written):
    """An optional function."""

    name: str
    flash: Whole | None = Field(default=None, ge=0, description="bytes of flash")
    needs: TextList = []
    description: str | None = None


#: Symbols a second on a serial line: one number, or the least and the most.
_Baud = Annotated[int, Field(strict=True, ge=300, le=12_500_000)]
Baud = _Baud | Annotated[list[_Baud], Field(min_length=2, max_length=2)]
_DmaWord = Literal["no", "better", "needed"]


class SerialWords(Written):
    """What a serial device needs of a port."""

    baud: Baud | None = Field(default=None, description="one number, or least and most")
    inverted: Flag | None = Field(default=None, description="levels turned round")
    half_duplex: Flag | None = Field(default=None, description="both ways on one line")
    to_device: Flag | None = Field(default=None, description="the board sends to it")
    from_device: Flag | None = Field(default=None, description="it sends to the board")
    dma: _DmaWord | None = None


class ProtocolTable(SerialWords):
    """A way a release talks with a kind of device."""

    name: OneName = Field(description="as the release calls it")
    device: OneName = Field(description="kind of device, e.g. receiver")
    port_does: Text | None = Field(
        default=None, description="value of a port's setting (role serial.<id>.does)"
    )
    role: str | None = Field(
        default=None, description="role of the setting that chooses it, e.g. receiver.protocol"
    )
    value: Text | None = Field(default=None, description="that setting's value for it")
    function: str | None = Field(default=None, description="optional function it needs in the image")
    update_hz: Positive | None = Field(default=None, description="of outputs: how often")

    @model_validator(mode="after")
    def _role_has_a_value(self) -> ProtocolTable:
        if (self.role is None) != (self.value is None):
            raise ValueError("role and value belong together")
        return self


class FunctionsFile(Written):
    """Functions that may be left out of an image, and the protocols of a release."""

    base: Whole | None = Field(default=None, ge=0, description="bytes of an image without any of them")
    function: list[Function] = []
    protocol: list[ProtocolTable] = []


class Word(Written):
    """A word at a known place of an image."""

    kind: Literal["board", "version", "build"]
    offset: Whole = Field(ge=0, description="bytes from the image's start")
    value: Text


class ImageWordsFile(Written):
    """Where an image names its board, version and build."""

    word: list[Word] = []


Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Real = Annotated[float, Field(allow_inf_nan=False, ge=-1e30, le=1e30)]
_Axis = Literal["roll", "pitch", "yaw"]
_Cases = dict[str, Annotated[list[Real], Field(min_length=1)]]


class ControlBlock(Written):
    """One block of the controller; what goes into it is the sum of its inputs."""

    name: str = Field(
        pattern=r"^[A-Za-z][A-Za-z0-9_. -]{0,39}$", description="the one called drive is the output"
    )
    kind: BlockKind
    inputs: TextList = Field(
        min_length=1,
        max_length=50,
        description='blocks or the signals command and rate; "-rate" takes it away',
    )
    roles: dict[str, str] = Field(
        default={}, description="what it needs, to the role that gives it; {axis} stands for the axis"
    )
    constants: dict[str, Real | str] = Field(default={}, description="what it needs that no setting gives")
    when: _Cases = Field(default={}, description="there only when these roles have one of these values")
    unless: _Cases = Field(default={}, description="not there when one of these roles has such a value")
    axes: list[_Axis] = Field(default=["roll", "pitch", "yaw"], min_length=1)


class ControlStick(Written):
    """How the stick's deflection, -1 to 1, becomes a commanded rate."""

    form: StickForm
    roles: dict[str, str] = Field(
        default={},
        description="full_rate, centre_rate, expo, dead_band, limit to the role that gives it; {axis} stands"
        " for the axis",
    )
    constants: dict[str, Real] = Field(
        default={}, description="those of them that no setting gives, in rad/s and shares of 1"
    )
    points: list[tuple[Annotated[float, Field(ge=-1, le=1)], Real | str]] = Field(
        default=[],
        max_length=100,
        description="of a table: deflection, and share of the full rate or the role that gives it",
    )
    dead_band_rule: DeadBand = Field(
        default=DeadBand.STRETCHED, description="what becomes of the way beyond the dead band"
    )
    axes: list[_Axis] = Field(default=["roll", "pitch", "yaw"], min_length=1)


class ControlFile(Written):
    """How a release controls the turning rates: from command and measured rate to the drive."""

    rate: Positive | None = Field(default=None, description="Hz, of the loop")
    rate_role: str | None = Field(default=None, description="role of the setting that gives the loop's rate")
    latency_steps: float | None = Field(
        default=None,
        ge=0,
        le=100,
        description="steps of the loop from the gyro's sample to the motors' command that are in no block",
    )
    axes: list[_Axis] = Field(default=["roll", "pitch", "yaw"], min_length=1)
    holds: _Cases = Field(
        default={}, description="roles and the values, as stored, for which this is declared"
    )
    block: list[ControlBlock] = Field(default=[], max_length=200)
    stick: list[ControlStick] = Field(default=[], max_length=10)

    @model_validator(mode="after")
    def _declares_something(self) -> ControlFile:
        if not self.block and not self.stick:
            raise ValueError("neither a block nor a stick is declared")
        return self


class MotorsTable(Written):
    """The motors."""

    count: Whole | None = Field(default=None, ge=1, le=32)
    layout: str | None = Field(default=None, description="e.g. quad X")
    model: str | None = None
    poles: Whole | None = Field(default=None, ge=2, le=100)


class PropellersTable(Written):
    """The propellers."""

    diameter_m: Positive | None = None
    pitch_m: Positive | None = None
    blades: Whole | None = Field(default=None, ge=2, le=8)
    model: str | None = None


class BatteryTable(Written):
    """The pack."""

    cells: Whole | None = Field(default=None, ge=1, le=24, description="in series")
    capacity_ah: Positive | None = None
    chemistry: str | None = None


class DeviceTable(Written):
    """A fitted device."""

    name: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")
    kind: str
    model: str | None = None
    version: Text | None = None
    port: Text | None = Field(
        default=None, description="where it is wired: a name of the board's description"
    )
    speaks: TextList = Field(default=[], description="protocols it speaks, as releases call them")
    volts: Volts | None = Field(default=None, description="level of its signals")
    outputs: Annotated[int, Field(strict=True, ge=0, le=32)] | None = Field(
        default=None, description="outputs it needs (servos, lights)"
    )
    serial: SerialWords | None = Field(default=None, description="what its port needs, where it is special")


class AircraftFile(Written):
    """One aircraft."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$", description="short name for the command line")
    title: str = Field(min_length=1)
    board: str | None = None
    release: str | None = None
    mass_kg: Positive | None = Field(default=None, description="all-up, with the usual pack")
    owner: str | None = None
    remarks: str | None = None
    motors: MotorsTable = MotorsTable()
    propellers: PropellersTable = PropellersTable()
    battery: BatteryTable = BatteryTable()
    device: list[DeviceTable] = []

    @model_validator(mode="after")
    def _names_are_unique(self) -> AircraftFile:
        names = [device.name for device in self.device]
        twice = next((name for name in names if names.count(name) > 1 or name == "board"), None)
        if twice is not None:
            raise ValueError(f"the device name '{twice}' is taken")
        return self


class LayoutColumn(Written):
    """One column of a log."""

    column: str = Field(description="as the header writes it, without its unit")
    signal: str = Field(description="canonical name, e.g. rate.roll, motor.1")
    unit: str = Field(description="unit of the column, in words of the trade, e.g. deg/s")
    factor: Real | None = Field(
        default=None, description="SI value = (number - offset) * factor; left out: what the unit says"
    )
    offset: Real | None = None
    origin: Origin = Origin.PERSON
    certainty: Annotated[float, Field(ge=0, le=1)] = 1.0
    reasons: list[str] = []

    @model_validator(mode="after")
    def _is_known(self) -> LayoutColumn:
        if signal(self.signal) is None:
            raise ValueError(f"'{self.signal}' is no signal asflown knows")
        if self.factor == 0:
            raise ValueError("a factor is not 0")
        return self


class LayoutDoubt(Written):
    """A question that is open."""

    subject: str
    question: str
    choices: list[str] = []
    why: str = ""


class LayoutFile(Written):
    """What the columns of a log are."""

    fingerprint: str = Field(pattern=r"^[0-9a-f]{16}$", description="of the log's header")
    confirmed: Flag = Field(default=False, description="whether a person confirmed it")
    rate_filter: str | None = Field(
        default=None, description="filtering of the logged rates: none, or e.g. low-pass 90 Hz"
    )
    unused: list[str] = []
    column: list[LayoutColumn] = []
    doubt: list[LayoutDoubt] = []

    @model_validator(mode="after")
    def _once_each(self) -> LayoutFile:
        for what in ("column", "signal"):
            names = [getattr(line, what) for line in self.column]
            twice = next((name for name in names if names.count(name) > 1), None)
            if twice is not None:
                raise ValueError(f"the {what} '{twice}' stands in more than one line")
        return self


_Short = Annotated[str, Field(max_length=400)]
_Long = Annotated[str, Field(max_length=4000)]


class FieldValue(Written):
    """A value read at the field."""

    what: _Short
    value: _Short
    unit: _Short = ""


class FieldCard(Written):
    """An entry on a card."""

    card: _Short
    print: str = Field(pattern=r"^[0-9a-f]{64}$", description="of the card as it was filled in")
    result: Literal["pass", "fail", "not tested"]
    note: _Long = ""
    seen: list[_Short] = Field(default=[], max_length=1000)
    values: list[FieldValue] = Field(default=[], max_length=1000)
    at: _Short = ""


class FieldFlown(Written):
    """A flight of the test card."""

    number: Annotated[int, Field(strict=True, ge=1, le=1000)]
    log: _Short = ""
    seconds: _Short = ""
    note: _Long = ""
    at: _Short = ""


class FieldFile(Written):
    """What a field sheet saves; people do not write it themselves."""

    file: Literal["asflown field entries"]
    version: Literal[1]
    aircraft: _Short
    refit: _Short
    name: _Short = ""
    cards: list[FieldCard] = Field(default=[], max_length=1000)
    flown: list[FieldFlown] = Field(default=[], max_length=1000)


#: File word -> model; each has a JSON Schema under docs/schemas.
FILES: dict[str, type[Written]] = {
    "aircraft": AircraftFile,
    "notes": NotesFile,
    "overlay": OverlayFile,
    "release": ReleaseFile,
    "devices": DevicesFile,
    "functions": FunctionsFile,
    "image_words": ImageWordsFile,
    "board": BoardFile,
    "layout": LayoutFile,
    "control": ControlFile,
    "terminal": TerminalFile,
}


def json_schema(word: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one of :data:`FILES`.

    Raises
    ------
    KeyError
        When there is no such file.
    """
    made = FILES[word].model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}
