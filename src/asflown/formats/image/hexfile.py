"""Intel HEX, strictly: "Hexadecimal Object File Format Specification", revision A, January 6, 1988.

The well-kept library for this format takes files without an end record, with data after it, and empty
ones; here each of these is refused, with its line.
"""

from __future__ import annotations

import re
from binascii import unhexlify
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from asflown.core.image.model import ADDRESS_SPACE, joined
from asflown.errors import InputError
from asflown.formats.image.parts import Content, hexed, refused

DATA, END, SEGMENT, START_SEGMENT, LINEAR, START_LINEAR = range(6)
_LENGTHS = {END: 0, SEGMENT: 2, START_SEGMENT: 4, LINEAR: 2, START_LINEAR: 4}
_NAMES = {
    DATA: "data",
    END: "end",
    SEGMENT: "extended segment address",
    START_SEGMENT: "start segment address",
    LINEAR: "extended linear address",
    START_LINEAR: "start linear address",
}
_DIGITS = re.compile(rb"[0-9A-Fa-f]*\Z")
#: Lines of as many data bytes each are taken many at a time: at least so many lines, at least so wide.
_LEAST_LINES, _LEAST_BYTES = 16, 16
_OVERHEAD = 5


@dataclass
class _Read:
    """Where the reader stands."""

    where: str
    base: int = 0
    wraps: bool = False
    pieces: list[tuple[int, bytes]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    entry: int | None = None
    entry_line: int = 0
    end_line: int = 0
    records: int = 0


def read(data: bytes, name: str) -> Content:
    """Read an Intel HEX file.

    Raises
    ------
    InputError
        Naming the line: a bad checksum, length, type or figure, overlapping data that differ, data past the
        end of the address space or after the end record, no end record, no data at all.
    """
    state = _Read(name)
    position, line, slow_until = 0, 1, 0
    while position < len(data):
        may_run = position >= slow_until and not state.end_line and not state.wraps
        run = _run_at(data, position) if may_run else None
        if run is not None:
            if _take_run(state, run, line):
                position, line = position + len(run.text), line + run.lines
                continue
            slow_until = position + len(run.text)
        stop = data.find(b"\n", position)
        stop = len(data) if stop < 0 else stop
        text = data[position:stop].strip(b" \t\r")
        try:
            _take_line(state, text, line)
        except InputError as error:
            if stop < len(data) or state.end_line:
                raise
            raise refused(
                f"{error.what}; it is the last line: the file is cut short", str(error.where)
            ) from None
        position, line = stop + 1, line + 1
    return _finished(state, line - 1)


def _finished(state: _Read, lines: int) -> Content:
    if not state.end_line:
        raise refused(
            f"ends after line {lines} without an end record (:00000001FF): the file is cut short",
            state.where,
        )
    if not state.pieces:
        raise refused("has an end record but not one byte of data", state.where)
    segments, clash = joined(state.pieces)
    remarks: tuple[str, ...] = ()
    if clash is not None:
        first, second = state.lines[clash.first], state.lines[clash.second]
        said = f"lines {first} and {second} both give {hexed(clash.address)}"
        if clash.differs:
            raise refused(f"{said}, and want different bytes there", state.where)
        remarks = (f"{said}, with the same bytes",)
    checked = f"{state.records} records, every checksum right, end record on line {state.end_line}"
    return Content(segments, checked, state.entry, remarks=remarks)


class _Run(NamedTuple):
    """Lines as long as the first one, as far as their ends tell.

    Attributes
    ----------
    size
        Data bytes of each.
    """

    text: bytes
    lines: int
    size: int


def _run_at(data: bytes, position: int) -> _Run | None:
    """Lines that seem to be data records as long as the first; ``None`` where they are few."""
    try:
        size = int(data[position + 1 : position + 3], 16)
    except ValueError:
        return None
    wide = data.find(b"\n", position, position + 2 * (size + _OVERHEAD) + 3) + 1 - position
    if size < _LEAST_BYTES or wide < 2 * (size + _OVERHEAD) + 2:
        return None
    stop = data.find(b"\n:0", position)
    lines = ((len(data) if stop < 0 else stop + 1) - position) // wide
    if lines < _LEAST_LINES:
        return None
    return _Run(data[position : position + lines * wide], lines, size)


def _take_run(state: _Read, run: _Run, line: int) -> bool:
    """Take a run of full data records at one stroke; ``False`` where anything asks for a closer look."""
    blob = _records(run)
    if blob is None:
        return False
    count, size, step = run.lines, run.size, run.size + _OVERHEAD + 1
    first = blob[1] << 8 | blob[2]
    high, low = _offsets(first, count, size)
    if blob[0::step] != bytes([size]) * count or blob[1::step] != high or blob[2::step] != low:
        return False
    if any(blob[3::step]) or not _sums_are_zero(blob, step):
        return False
    made = bytearray(size * count)
    for column in range(size):
        made[column::size] = blob[4 + column :: step]
    _keep(state, state.base + first, bytes(made), line)
    state.records += count
    return True


def _records(run: _Run) -> bytes | None:
    """The bytes of each record with one zero byte behind it; ``None`` where the lines are not all alike."""
    text, wide = run.text, len(run.text) // run.lines
    figures = 2 * (run.size + _OVERHEAD)
    end = b"\r\n" if wide == figures + 3 else b"\n"
    if text[0::wide] != b":" * run.lines:
        return None
    for place, letter in enumerate(end, figures + 1):
        if text[place::wide] != bytes([letter]) * run.lines:
            return None
    bare = bytearray(text[1:] + b"0")
    if len(end) == 2:
        del bare[figures::wide]
    # the line's end and the next colon become the two figures of a zero byte
    bare[figures :: figures + 2] = bare[figures + 1 :: figures + 2] = b"0" * run.lines
    try:
        return unhexlify(bare)
    except ValueError:
        return None


@lru_cache(maxsize=4)
def _offsets(first: int, count: int, size: int) -> tuple[bytes, bytes]:
    """High and low bytes of the offsets of records one after another; empty where they pass 64 K."""
    offsets = range(first, first + size * count, size)
    if offsets.stop > 0x10000:
        return b"", b""
    return bytes(a >> 8 for a in offsets), bytes(a & 255 for a in offsets)


def _sums_are_zero(blob: bytes, step: int) -> bool:
    """Whether the bytes of every record add up to 0 (mod 256).

    Columns are added as long numbers, each byte by itself: seven low bits with carry, the highest without.
    """
    count = len(blob) // step
    low, high = int.from_bytes(b"\x7f" * count, "little"), int.from_bytes(b"\x80" * count, "little")
    total = 0
    for column in range(step - 1):
        added = int.from_bytes(blob[column::step], "little")
        total = ((total & low) + (added & low)) ^ ((total ^ added) & high)
    return not total


def _keep(state: _Read, address: int, data: bytes, line: int) -> None:
    if address + len(data) > ADDRESS_SPACE:
        raise refused(
            f"data at {hexed(address)} go past the end of the address space", f"{state.where}:{line}"
        )
    state.pieces.append((address, data))
    state.lines.append(line)


def _take_line(state: _Read, text: bytes, line: int) -> None:
    if not text:
        return
    where = f"{state.where}:{line}"
    if state.end_line:
        raise refused(f"something follows the end record of line {state.end_line}", where)
    record = _record(text, where)
    state.records += 1
    length, offset, kind, body = record[0], record[1] << 8 | record[2], record[3], record[4:-1]
    if kind == DATA:
        _take_data(state, offset, body, line)
        return
    if kind not in _LENGTHS:
        raise refused(f"record type {kind:02X} is not one of 00 to 05", where)
    if length != _LENGTHS[kind] or offset:
        raise refused(
            f"a record of type {kind:02X} ({_NAMES[kind]}) has {_LENGTHS[kind]} bytes at offset 0000,"
            f" got {length} at {offset:04X}",
            where,
        )
    _take_address(state, kind, body, line)


def _record(text: bytes, where: str) -> bytes:
    """The bytes of one record, its form and checksum right."""
    if text[:1] != b":":
        raise refused(f"a record starts with ':', got {_shown(text)}", where)
    figures = text[1:]
    if not _DIGITS.match(figures):
        raise refused(f"holds something that is no hexadecimal figure: {_shown(text)}", where)
    if len(figures) % 2:
        raise refused(f"has an odd number of figures ({len(figures)})", where)
    record = bytes.fromhex(figures.decode("ascii"))
    if len(record) < 5:
        raise refused(f"has {len(record)} bytes; the shortest record has 5", where)
    if len(record) != record[0] + 5:
        raise refused(f"says {record[0]} data bytes and holds {len(record) - 5}", where)
    if sum(record) & 0xFF:
        right = -sum(record[:-1]) & 0xFF
        raise refused(f"has the checksum {record[-1]:02X}; its bytes give {right:02X}", where)
    return record


def _shown(text: bytes) -> str:
    return repr(text[:24].decode("ascii", "backslashreplace"))


def _take_data(state: _Read, offset: int, body: bytes, line: int) -> None:
    # in a segment addresses wrap at 64 K; after a linear address they carry on (specification, 00 record)
    over = offset + len(body) - 0x10000
    if state.wraps and over > 0:
        _keep(state, state.base, body[-over:], line)
        body = body[:-over]
    _keep(state, state.base + offset, body, line)


def _take_address(state: _Read, kind: int, body: bytes, line: int) -> None:
    value = int.from_bytes(body, "big")
    if kind == END:
        state.end_line = line
    elif kind == SEGMENT:
        state.base, state.wraps = value << 4, True
    elif kind == LINEAR:
        state.base, state.wraps = value << 16, False
    else:
        entry = value if kind == START_LINEAR else ((value >> 16) << 4) + (value & 0xFFFF)
        if state.entry is not None and entry != state.entry:
            raise refused(
                f"starts at {hexed(entry)}; line {state.entry_line} says {hexed(state.entry)}",
                f"{state.where}:{line}",
            )
        state.entry, state.entry_line = entry, line
