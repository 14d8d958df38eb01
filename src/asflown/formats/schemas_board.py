"""What a board's description may hold."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from asflown.formats.written import Text, TextList, Volts, Whole, Written

Address = Annotated[int, Field(strict=True, ge=0, le=0xFFFF_FFFF)]


class FlashArea(Written):
    """A range of flash the board uses for itself."""

    what: Literal["settings", "kept"] = Field(
        description="settings: where they are stored; kept: an image must never touch it"
    )
    start: Address = Field(description="first address")
    size: Annotated[int, Field(strict=True, gt=0, le=0xFFFF_FFFF)] = Field(description="bytes")
    name: Text | None = Field(default=None, description="what it is called on sheets")


_Pin = Annotated[
    str, Field(pattern=r"^P[A-Z][0-9]{1,2}$", description="as the processor's maker writes it, e.g. PB10")
]
_Unit = Annotated[str, Field(pattern=r"^[A-Z0-9_]{2,20}$")]
_Place = Annotated[str, Field(min_length=1, max_length=60)]


class BoardSerial(Written):
    """A serial port that is led out."""

    name: _Place = Field(description="as printed on the board or in its manual")
    id: _Place = Field(description="what settings call it: b in the role serial.b.does")
    number: Whole | None = Field(default=None, ge=0, le=99, description="where settings give ports numbers")
    unit: _Unit = Field(description="the processor's serial unit, e.g. USART3")
    tx: str | None = Field(default=None, description="pad or pin it sends on")
    rx: str | None = Field(default=None, description="pad or pin it receives on")
    inverter: Literal["no", "always", "switched"] = Field(
        default="no", description="a chip on the board that turns received levels round"
    )
    most_volts: Volts | None = Field(default=None, description="highest level its pads bear")
    connector: _Place | None = Field(default=None, description="the plug it is on")


class BoardOutput(Written):
    """An output for a motor, a servo or lights."""

    name: _Place
    id: _Place = Field(description="what settings call it: 1 in the value of the role motor.1.output")
    pin: str = Field(description="pad or pin")
    timer: Annotated[str, Field(pattern=r"^TIM\d+_CH\dN?$")] | None = Field(
        default=None,
        description="timer channel of the maker's image, e.g. TIM3_CH3; without it any of the pin",
    )
    connector: _Place | None = None


class BoardInput(Written):
    """An analogue input."""

    name: _Place
    pin: str = Field(description="pad or pin")
    measures: Literal["voltage", "current"] | None = None
    connector: _Place | None = None


class BoardBus(Written):
    """An I2C bus that is led out."""

    name: _Place
    unit: _Unit = Field(description="e.g. I2C1")
    clock: str = Field(description="pad or pin")
    data: str = Field(description="pad or pin")
    connector: _Place | None = None


class BoardUsed(Written):
    """What a thing on the board uses for itself."""

    name: _Place
    pins: TextList = []
    units: TextList = Field(default=[], description="serial, SPI, I2C units, converters, timers")
    dma: TextList = Field(default=[], description="DMA requests it needs, e.g. SPI1_RX")


class BoardFile(Written):
    """A board: its processor, its flash, and what is led out where."""

    board: Text | None = Field(default=None, description="the board's name, as releases say it")
    processor: Text = Field(description="part name, with or without package, e.g. STM32F407xG or STM32F405RG")
    image_at: Address | None = Field(default=None, description="address an image starts at")
    settings_elsewhere: bool = Field(default=False, description="settings lie in a memory of their own")
    area: list[FlashArea] = []
    pads: dict[_Place, _Pin] = Field(default={}, description="printed name to pin")
    serial: list[BoardSerial] = []
    output: list[BoardOutput] = []
    input: list[BoardInput] = []
    bus: list[BoardBus] = []
    used: list[BoardUsed] = []
