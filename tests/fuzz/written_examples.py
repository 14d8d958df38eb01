"""Valid files of every kind people write, invented, to be read, checked against schemas and mutated."""

from __future__ import annotations

import lzma

MAVLINK = b"""{"version": 1, "parameters": [
 {"name": "QUAY_TRIM", "type": "Float", "shortDesc": "trim of the quay", "units": "deg", "default": 0.15,
  "decimalPlaces": 3, "min": -5, "max": 5, "increment": 0.05, "group": "Quay", "category": "Standard"},
 {"name": "QUAY_MODE", "type": "Uint8", "default": 1, "values": [{"value": 0, "description": "off"},
  {"value": 1, "description": "slow"}], "rebootRequired": true, "group": "Quay"},
 {"name": "QUAY_BITS", "type": "Uint16", "bitmask": [{"index": 0, "description": "horn"},
  {"index": 3, "description": "lamp"}], "volatile": true},
 {"name": "HULL{n}_LOAD", "type": "Int32", "min": -1, "max": 2000, "default": -1, "units": "g",
  "values": [{"value": -1, "description": "automatic"}], "readOnly": false, "longDesc": "load of a hull"}]}
"""
MAVLINK_XZ = lzma.compress(MAVLINK)
CSV = b"""name,group,type,units,min,max,default,choices,description,role,factor,consequence,belonging,decimals,banks,indexes,plain
hush.wait,link,float,s,0,10,1.5,,time until the link counts as lost,link.timeout,1,safety,airframe,2,,,0=off
lamp.colour,lamp,enum,,,,red,red|green|blue,colour of the lamp,,,comfort,pilot,,,,
sway.grip,sway,float,,0,200,45,,,,0.01,handling,airframe,1,calm|brisk,1;2;3,
"""
JSON_LIST = b"""[{"name": "hush.wait", "type": "float", "units": "s", "min": 0, "max": 10, "default": 1.5},
 {"name": "lamp.on", "type": "bool", "default": true, "choices": null},
 {"name": "lamp.colour", "type": "enum", "choices": [["r", "red"], {"value": "g", "label": "green"}, "blue"]},
 {"name": "call.sign", "type": "str", "default": null, "choices": {"a": "alpha"}}]
"""
OVERLAY = b"""[all]
consequence = "comfort"

[group."Quay"]
belonging = "airframe"

[parameter.QUAY_TRIM]
role = "trim.quay"
factor = "0.017453292519943295"
consequence = "safety"
why = "the quay tips over"
plain = { "0" = "off", "-1" = "automatic" }
unit_from = "QUAY_MODE"
needs = ["QUAY_MODE"]
decimals = 2
private = true

[parameter."HULL{n}_LOAD"]
indexes = ["1", "2"]
banks = ["calm", "brisk"]
redo = "weigh the hull again"
slots = false
"""
NOTES = b"""from = "reed-3.1"
to = "reed-3.2"
complete = true

[[change]]
kind = "rename"
old = "hush.wait"
new = "hush.limit"
why = "a clearer word"

[[change]]
kind = "convert"
old = "sway.grip"
factor = "0.01"
offset = 2
consequence = "handling"

[[change]]
kind = "convert"
old = "tilt.most"
new = "tilt.limit"
unit = { from = "deg", to = "rad" }

[[change]]
kind = "convert"
old = "lamp.colour"
choices = { "0" = "2", 1 = 0 }

[[change]]
kind = "split"
old = "idle"
new = ["idle.calm", "idle.brisk"]
expression = { "idle.calm" = "old * 10", "idle.brisk" = "if(old < 5, 5, max(old, 7)) + 1" }

[[change]]
kind = "merge"
old = ["left", "right"]
new = "both"
expression = "left + right / 2"

[[change]]
kind = "retire"
old = ["horn.tone", "horn.loud"]
why = "the horn is gone"
consequence = "comfort"

[[change]]
kind = "default"
old = "motor.idle"

[[change]]
kind = "meaning"
old = "filter.kind"
"""
RELEASE = b"""firmware = "reed"
version = "3.2"
id = "reed-3.2"
boards = ["quill", "quill mini"]
follows = ["reed-3.1"]
"""
FUNCTIONS = b"""base = 300000

[[function]]
name = "timer"
flash = 100

[[function]]
name = "lamp strip"
flash = 5120
needs = ["timer"]
description = "lamps that show the state"

[[protocol]]
name = "swift words"
device = "receiver"
role = "receiver.protocol"
value = 3
port_does = 1
baud = [115200, 420000]
inverted = false
half_duplex = false
to_device = false
from_device = true
dma = "better"
function = "timer"
update_hz = 50.5
"""
IMAGE_WORDS = b"""[[word]]
kind = "board"
offset = 0x200
value = "QUILL"
[[word]]
kind = "version"
offset = 528
value = 3.2
"""
DEVICES = b"""[[need]]
device = "speed controller"
statement = "takes 600 kHz signals only from its own version 4 on"
least_version = "4.0"
consequence = "safety"
"""
AIRCRAFT = b"""id = "plover"
title = "Plover, the small one"
board = "quill"
release = "reed-3.1"
mass_kg = 0.412
owner = "the bird count"

[motors]
count = 4
layout = "quad X"
poles = 14

[propellers]
diameter_m = 0.127
pitch_m = 0.1016
blades = 3

[battery]
cells = 4
capacity_ah = 1.3
chemistry = "Li-ion polymer"

[[device]]
name = "escs"
kind = "speed controller"
version = "3.9"
port = "outputs 1 to 4"
"""
FACTORY = b"hush.wait = 1.5\nhush.limit = 2\nsway.grip[1] = 45.0\nsway.grip[2] = 45.0\nlamp = red\n"

#: Our own TOML files by the word of their schema.
LAYOUT = b"""fingerprint = "0123456789abcdef"
confirmed = true
rate_filter = "low-pass 90 Hz"
unused = ["tide"]

[[column]]
column = "sway p"
signal = "rate.roll"
unit = "deg/s"
factor = 0.017453292519943295
offset = 0.5
origin = "name and data"
certainty = 0.98
reasons = ["it follows 'helm p' by 8.0 ms"]

[[doubt]]
subject = "tide"
question = "in which unit?"
choices = ["V", "mV"]
why = "nothing states its unit"
"""
CONTROL = b"""rate_role = "sway_loop.rate"
axes = ["roll", "yaw"]
holds = { "hush_filter.kind" = [0, 1] }

[[block]]
name = "hushed"
kind = "one-pole low-pass"
inputs = "rate"
roles = { cutoff = "hush_filter.cutoff" }
constants = { rule = "impulse", stages = 2 }
when = { "hush_filter.kind" = [1] }
unless = { "hush_filter.cutoff" = [0] }

[[block]]
name = "drive"
kind = "gain"
inputs = ["command", "-hushed"]
roles = { gain = "sway_loop.{axis}.grip" }
axes = ["roll", "yaw"]

[[stick]]
form = "table"
roles = { full_rate = "sway_loop.{axis}.most" }
points = [[0, 0], [0.5, "sway_loop.{axis}.half"], [1, 1.0]]
constants = { dead_band = 0.02 }
dead_band_rule = "cut"
axes = ["roll", "yaw"]
"""
BOARD = b"""board = "bench-board-a"
processor = "STM32F407xG"
image_at = 0x08000000
settings_elsewhere = false

[[area]]
what = "settings"
name = "settings"
start = 0x080E0000
size = 0x20000

[pads]
T1 = "PA9"
R1 = "PA10"

[[serial]]
name = "port 1"
id = "a"
number = 1
unit = "USART1"
tx = "T1"
rx = "R1"
inverter = "no"
most_volts = 3.6
connector = "J1"

[[output]]
name = "M1"
id = "1"
pin = "PB0"
timer = "TIM3_CH3"
connector = "J2"

[[input]]
name = "pack voltage"
pin = "PC1"
measures = "voltage"
connector = "J3"

[[bus]]
name = "sensor plug"
unit = "I2C1"
clock = "PB8"
data = "PB9"
connector = "J4"

[[used]]
name = "gyro"
pins = ["PA5", "PA6", "PA7"]
units = ["SPI1"]
dma = ["SPI1_RX", "SPI1_TX"]
"""
TERMINAL = b"""\
firmware = "reed"
listing = "print all"
store = "keep"
restart = "again"
enter = "settings"
prompt = "reed: "
complaint = ["cannot", "unknown"]
never = ["^test "]
line_end = "crlf"
quiet = 1.0
restarts_in = 20.0
speed = 115200
"""
OURS = {
    "aircraft": AIRCRAFT,
    "notes": NOTES,
    "overlay": OVERLAY,
    "release": RELEASE,
    "devices": DEVICES,
    "functions": FUNCTIONS,
    "image_words": IMAGE_WORDS,
    "board": BOARD,
    "layout": LAYOUT,
    "control": CONTROL,
    "terminal": TERMINAL,
}
FOLDER = {
    "release.toml": RELEASE,
    "catalog.json": MAVLINK,
    "overlay.toml": OVERLAY,
    "notes.toml": NOTES,
    "functions.toml": FUNCTIONS,
    "image_words.toml": IMAGE_WORDS,
    "devices.toml": DEVICES,
    "control.toml": CONTROL,
    "images/quill.bin": b"\x00\x01\x02",
}
