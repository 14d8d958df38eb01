"""An image: bytes with the addresses they belong to, whatever file they came in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

#: One more than the last address of a 32-bit processor.
ADDRESS_SPACE = 1 << 32


class Container(StrEnum):
    """The kind of file an image came in."""

    RAW = "raw binary"
    HEX = "Intel HEX"
    ELF = "ELF"
    UF2 = "UF2"


@dataclass(frozen=True, slots=True)
class Segment:
    """Bytes that belong to consecutive addresses.

    Attributes
    ----------
    address
        Of the first byte.
    """

    address: int
    data: bytes

    @property
    def end(self) -> int:
        """One more than the last address."""
        return self.address + len(self.data)


@dataclass(frozen=True, slots=True)
class Suffix:
    """A USB DFU suffix (USB DFU 1.1, appendix B): for which device a file is meant.

    Attributes
    ----------
    vendor, product, device
        As in a USB device descriptor; ``0xFFFF`` means any.
    standard
        ``bcdDFU``: ``0x0100`` for a plain file.
    """

    vendor: int
    product: int
    device: int
    standard: int

    #: What stands for any vendor, product or device.
    ANY = 0xFFFF

    def is_for(self, vendor: int, product: int) -> bool:
        """Whether the file is meant for such a device; what is not stated fits every one."""
        return self.vendor in (self.ANY, vendor) and self.product in (self.ANY, product)


@dataclass(frozen=True)
class Image:
    """What a file wants to have in flash.

    Attributes
    ----------
    segments
        By address; none overlaps another and none touches another.
    checked
        What the container proved by itself (record checksums, block numbers); empty: it proves nothing.
    entry
        Where it says execution starts, ``None`` where it does not say.
    family
        Processor family word of a UF2 file.
    size, sha256
        Of the file as it was brought.
    """

    name: str
    container: Container
    segments: tuple[Segment, ...]
    size: int
    sha256: str
    checked: str = ""
    entry: int | None = None
    family: int | None = None
    suffix: Suffix | None = None
    remarks: tuple[str, ...] = ()

    @property
    def start(self) -> int:
        """The lowest address."""
        return self.segments[0].address

    @property
    def end(self) -> int:
        """One more than the highest address."""
        return self.segments[-1].end

    @cached_property
    def length(self) -> int:
        """Bytes in all segments."""
        return sum(len(segment.data) for segment in self.segments)

    @cached_property
    def _starts(self) -> tuple[int, ...]:
        return tuple(segment.address for segment in self.segments)

    def holds(self, address: int) -> bool:
        """Whether the image has a byte for that address."""
        place = bisect_right(self._starts, address) - 1
        return place >= 0 and address < self.segments[place].end

    def at(self, address: int, length: int) -> bytes | None:
        """The bytes of an address range; ``None`` where any of them is in no segment."""
        place = bisect_right(self._starts, address) - 1
        if place < 0 or address + length > self.segments[place].end:
            return None
        segment = self.segments[place]
        return segment.data[address - segment.address : address - segment.address + length]

    def word(self, address: int) -> int | None:
        """The 32-bit word at an address, least byte first; ``None`` where the image has none."""
        data = self.at(address, 4)
        return None if data is None else int.from_bytes(data, "little")

    def filled(self, start: int, end: int, fill: int = 0xFF) -> bytes:
        """What flash would hold from ``start`` up to ``end``; where the image says nothing, the fill byte."""
        made = bytearray([fill]) * (end - start)
        for segment in self.between(start, end):
            made[segment.address - start : segment.end - start] = segment.data
        return bytes(made)

    def meets(self, start: int, end: int) -> bool:
        """Whether the image has any byte from ``start`` up to ``end``."""
        place = bisect_right(self._starts, start) - 1
        if place >= 0 and start < min(end, self.segments[place].end):
            return True
        return place + 1 < len(self.segments) and self.segments[place + 1].address < end

    def between(self, start: int, end: int) -> Iterator[Segment]:
        """The parts of the segments that lie from ``start`` up to ``end``."""
        for place in range(max(0, bisect_right(self._starts, start) - 1), len(self.segments)):
            segment = self.segments[place]
            low, high = max(segment.address, start), min(segment.end, end)
            if segment.address >= end:
                return
            if low < high:
                yield Segment(low, segment.data[low - segment.address : high - segment.address])


@dataclass(frozen=True, slots=True)
class Clash:
    """Two pieces of one file that want the same addresses.

    Attributes
    ----------
    first, second
        Positions of the pieces in the order given.
    differs
        Whether they want different bytes there.
    """

    address: int
    first: int
    second: int
    differs: bool


def joined(pieces: Iterable[tuple[int, bytes]]) -> tuple[tuple[Segment, ...], Clash | None]:
    """Pieces in any order as segments, and the first clash where pieces overlap (differing ones first).

    Where pieces overlap with the same bytes they are joined; the segments are of no use when they differ.
    """
    order = sorted(enumerate(pieces), key=lambda item: (item[1][0], item[0]))
    runs: list[tuple[int, bytearray]] = []
    clash: Clash | None = None
    last = 0
    for number, (address, data) in order:
        if not data:
            continue
        if not runs or address > runs[-1][0] + len(runs[-1][1]):
            runs.append((address, bytearray(data)))
            last = number
            continue
        start, run = runs[-1]
        shared = start + len(run) - address
        if shared > 0:
            common = min(shared, len(data))
            differs = run[address - start : address - start + common] != data[:common]
            if clash is None or (differs and not clash.differs):
                clash = Clash(address, last, number, differs)
        if shared < len(data):
            run += data[max(shared, 0) :]
            last = number
    return tuple(Segment(address, bytes(run)) for address, run in runs), clash
