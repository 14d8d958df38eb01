"""The invented boards: wrackline-2, which the aircraft carry, and wrackline-3, wired differently."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from asflown.demo.firmware.releases import Firmware

BOARD, OTHER_BOARD = "wrackline-2", "wrackline-3"

#: Factory values that differ on a board because its outputs, ports and sensors lie elsewhere.
_WIRED: Mapping[str, Mapping[str, str]] = {
    OTHER_BOARD: {
        "motor.a.pin": "5",
        "motor.b.pin": "6",
        "motor.c.pin": "7",
        "motor.d.pin": "8",
        "radio.port": "4",
        "sky.port": "1",
        "volt.pin": "3",
        "amp.pin": "4",
        "lamp.pin": "1",
        "mount.swing": "180",
        "volt.scale": "1210",
    }
}


def for_board(firmware: Firmware, board: str) -> Firmware:
    """A release as it comes on a board: the same names, some factory values of its own."""
    wired = _WIRED.get(board, {})
    if firmware.family != "marram" or not wired:
        return firmware
    parameters = tuple(
        replace(item, default=(wired[item.name],)) if item.name in wired else item
        for item in firmware.parameters
    )
    return replace(firmware, parameters=parameters)


#: Where wrackline-2 leads things out, as its maker states it. The processor is real; the board is invented.
DESCRIPTION = """\
board = "wrackline-2"
processor = "STM32F722RE"
image_at = 0x08008000

[[area]]
what = "kept"
name = "loader"
start = 0x08000000
size = 0x4000

[[area]]
what = "settings"
start = 0x08004000
size = 0x4000

[pads]
T1 = "PA9"
R1 = "PA10"
T2 = "PA2"
R2 = "PA3"
T3 = "PA0"
R3 = "PA1"
T4 = "PC12"
R4 = "PD2"
T5 = "PC10"
R5 = "PC11"
T6 = "PC6"
M1 = "PB0"
M2 = "PB1"
M3 = "PB4"
M4 = "PB5"
M5 = "PC8"
M6 = "PC9"
M7 = "PB6"
M8 = "PB7"
V = "PC1"
A = "PC2"

[[serial]]
name = "serial port a"
id = "a"
number = 1
unit = "USART1"
tx = "T1"
rx = "R1"
connector = "J1"

[[serial]]
name = "serial port b"
id = "b"
number = 2
unit = "USART2"
tx = "T2"
rx = "R2"
most_volts = 5
connector = "J2"

[[serial]]
name = "serial port c"
id = "c"
number = 3
unit = "UART4"
tx = "T3"
rx = "R3"
most_volts = 5
connector = "J3"

[[serial]]
name = "serial port d"
id = "d"
number = 4
unit = "UART5"
tx = "T4"
rx = "R4"
connector = "J3"

[[serial]]
name = "serial port e"
id = "e"
number = 5
unit = "USART3"
tx = "T5"
rx = "R5"
connector = "J4"

[[serial]]
name = "picture line"
id = "f"
number = 6
unit = "USART6"
tx = "T6"
connector = "J4"

[[output]]
name = "output 1"
id = "1"
pin = "M1"
timer = "TIM3_CH3"
connector = "J5"

[[output]]
name = "output 2"
id = "2"
pin = "M2"
timer = "TIM3_CH4"
connector = "J5"

[[output]]
name = "output 3"
id = "3"
pin = "M3"
timer = "TIM3_CH1"
connector = "J5"

[[output]]
name = "output 4"
id = "4"
pin = "M4"
timer = "TIM3_CH2"
connector = "J5"

[[output]]
name = "output 5"
id = "5"
pin = "M5"
timer = "TIM8_CH3"
connector = "J6"

[[output]]
name = "output 6"
id = "6"
pin = "M6"
timer = "TIM8_CH4"
connector = "J6"

[[output]]
name = "output 7"
id = "7"
pin = "M7"
timer = "TIM4_CH1"
connector = "J6"

[[output]]
name = "output 8"
id = "8"
pin = "M8"
timer = "TIM4_CH2"
connector = "J6"

[[input]]
name = "input 1"
pin = "V"
measures = "voltage"

[[input]]
name = "input 2"
pin = "A"
measures = "current"

[[bus]]
name = "sensor plug"
unit = "I2C1"
clock = "PB8"
data = "PB9"
connector = "J7"

[[used]]
name = "gyro"
pins = ["PA5", "PA6", "PA7"]
units = ["SPI1"]
dma = ["SPI1_RX", "SPI1_TX"]

[[used]]
name = "voltage and current"
units = ["ADC1"]
dma = ["ADC1"]
"""
