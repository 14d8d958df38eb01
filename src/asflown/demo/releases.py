"""The release folders of marram, made from its definitions: catalog, overlay, notes, factory listing."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any

from asflown.demo.firmware import control, listing, releases
from asflown.demo.firmware.boards import BOARD, OTHER_BOARD, for_board
from asflown.demo.firmware.changes import MIDDLE, NEW, OLD, Change, changes
from asflown.demo.firmware.functions import FUNCTIONS
from asflown.demo.firmware.parameter import Parameter
from asflown.demo.firmware.releases import Firmware

_TYPES = {
    "u8": "Uint8", "i8": "Int8", "u16": "Uint16", "i16": "Int16", "u32": "Uint32", "i32": "Int32",
}  # fmt: skip
#: Image: 1 KiB of vectors, then a block of words that names what it is for.
WORDS_AT = 1024


@cache
def folders() -> Mapping[str, Mapping[str, bytes]]:
    """Every release folder: release identifier to relative path to bytes. The same bytes each time."""
    return {
        OLD: _stated(releases.old(), follows=()),
        MIDDLE: {
            "release.toml": _release_toml("4.2", MIDDLE, (OLD,)),
            f"notes/{OLD}.toml": _notes(MIDDLE, OLD),
        },
        NEW: {
            **_stated(releases.new(), follows=(MIDDLE,)),
            f"notes/{MIDDLE}.toml": _notes(NEW, MIDDLE),
            "devices.toml": _DEVICES.encode(),
            "functions.toml": FUNCTIONS.encode(),
        },
    }


@cache
def bare_folders() -> Mapping[str, Mapping[str, bytes]]:
    """The hard case: two bare factory listings, no catalog, no notes."""
    return {
        f"{firmware.id}-bare": {
            "release.toml": _release_toml(firmware.version, f"{firmware.id}-bare", ()),
            "factory.txt": factory_listing(firmware),
        }
        for firmware in (releases.old(), releases.new())
    }


def factory_listing(firmware: Firmware, board: str = BOARD) -> bytes:
    """The listing of a board at its factory values."""
    firmware = for_board(firmware, board)
    in_use = firmware.banks[0] if firmware.banks else None
    rows = listing.lines(firmware, firmware.factory, board=board, in_use=in_use)
    return ("\n".join(rows) + "\n").encode()


def _stated(firmware: Firmware, follows: tuple[str, ...]) -> Mapping[str, bytes]:
    return {
        "release.toml": _release_toml(firmware.version, firmware.id, follows),
        "catalog.json": _catalog(firmware),
        "overlay.toml": _overlay(firmware),
        "factory.txt": factory_listing(firmware),
        "image_words.toml": _image_words(firmware),
        "control.toml": control.declared(firmware),
    }


def _release_toml(version: str, release: str, follows: tuple[str, ...]) -> bytes:
    return (
        f'firmware = "marram"\nversion = "{version}"\nid = "{release}"\n'
        f"boards = {_texts((BOARD, OTHER_BOARD))}\nfollows = {_texts(follows)}\n"
    ).encode()


def _texts(items: tuple[str, ...]) -> str:
    return "[" + ", ".join(f'"{item}"' for item in items) + "]"


def _number(value: Decimal | str) -> int | float:
    number = Decimal(value)
    return int(number) if number == number.to_integral_value() else float(number)


def _catalog(firmware: Firmware) -> bytes:
    """The open parameter metadata JSON, with the standard's keys alone."""
    body = {"version": 3, "parameters": [_catalog_item(item) for item in firmware.parameters]}
    return (json.dumps(body, indent=1) + "\n").encode()


def _catalog_item(item: Parameter) -> dict[str, Any]:
    made: dict[str, Any] = {
        "name": item.name,
        "type": "Float" if item.is_float else _TYPES[item.type],
        "shortDesc": item.text,
        "group": item.group,
        "default": _number(item.default[0]),
        "min": _number(item.low),
        "max": _number(item.high),
    }
    if item.unit:
        made["units"] = item.unit
    if item.is_float:
        made["decimalPlaces"] = item.decimals
    if item.choices:
        made["values"] = [{"value": int(v), "description": label} for v, label in item.choices.items()]
    if item.bits:
        made["bitmask"] = [{"index": int(v), "description": label} for v, label in item.bits.items()]
    flags = {"rebootRequired": item.reboot, "volatile": item.volatile, "readOnly": item.read_only}
    return made | {key: True for key, value in flags.items() if value}


def _overlay(firmware: Firmware) -> bytes:
    """What the standard has no key for."""
    return "\n".join(line for item in firmware.parameters for line in _overlay_entry(item)).encode() + b"\n"


def _overlay_entry(item: Parameter) -> Iterator[str]:
    yield f'[parameter."{item.name}"]'
    yield f'consequence = "{item.consequence}"'
    yield f'belonging = "{item.belonging}"'
    for word, text in (
        ("why", item.why), ("role", item.role), ("unit_from", item.unit_from), ("redo", item.redo),
    ):  # fmt: skip
        if text:
            yield f'{word} = "{text}"'
    if item.factor:
        yield f"factor = {item.factor}"
    if item.plain:
        yield "plain = { " + ", ".join(f'"{v}" = "{label}"' for v, label in item.plain.items()) + " }"
    for word, items in (("needs", item.needs), ("banks", item.banks), ("indexes", item.indexes)):
        if items:
            yield f"{word} = {_texts(items)}"
    for word, is_set in (("slots", item.slots), ("private", item.private)):
        if is_set:
            yield f"{word} = true"
    yield ""


def _notes(step: str, before: str) -> bytes:
    head = f'from = "{before}"\nto = "{step}"\ncomplete = false\n'
    told = [change for change in changes() if change.step == step and change.noted]
    return (head + "".join("\n" + "\n".join(_change(item)) + "\n" for item in told)).encode()


def _change(change: Change) -> Iterator[str]:
    yield "[[change]]"
    yield f'kind = "{change.kind}"'
    for word, names in (("old", change.old), ("new", change.new)):
        if names:
            yield f'{word} = "{names[0]}"' if len(names) == 1 else f"{word} = {_texts(names)}"
    if change.factor:
        yield f"factor = {change.factor}"
    if change.unit:
        yield f'unit = {{ from = "{change.unit[0]}", to = "{change.unit[1]}" }}'
    if change.choices:
        yield "choices = { " + ", ".join(f'"{a}" = "{b}"' for a, b in change.choices.items()) + " }"
    if len(change.expressions) == 1:
        yield f'expression = "{next(iter(change.expressions.values()))}"'
    elif change.expressions:
        pairs = ", ".join(f'"{name}" = "{text}"' for name, text in change.expressions.items())
        yield f"expression = {{ {pairs} }}"
    if change.why:
        yield f'why = "{change.why}"'
    if change.consequence:
        yield f'consequence = "{change.consequence}"'


def _image_words(firmware: Firmware) -> bytes:
    words = (("board", WORDS_AT, BOARD), ("version", WORDS_AT + 32, f"marram {firmware.version}"))
    return "\n".join(
        f'[[word]]\nkind = "{kind}"\noffset = {offset}\nvalue = "{value}"\n' for kind, offset, value in words
    ).encode()


_DEVICES = """\
[[need]]
device = "speed controller"
statement = "drive words of 300 come twice as often by factory value; older ones lose every second word"
least_version = "1.9"
consequence = "safety"

[[need]]
device = "receiver"
statement = "the receiver must report its strength on every radio word"
least_version = "2.3"
consequence = "safety"

[[need]]
device = "transmitter"
statement = "the sticks come in the order roll, nod, lift, swing; check the transmitter's model memory"
consequence = "safety"
"""
