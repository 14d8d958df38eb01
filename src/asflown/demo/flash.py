"""A simulated processor's flash: sectors that are erased as a whole, bits that writing only clears."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any


@dataclass
class SimulatedFlash:
    """Flash in sectors.

    Attributes
    ----------
    sectors
        Start and size of each.
    memory
        What it holds; anything with the face of a bytearray, a mapped file say.
    protected
        Whether reading is refused.
    write_protected
        Sectors that can be neither erased nor written.
    stuck
        Sectors that do not erase, though they say so.
    erased, written
        How often, for tests.
    """

    sectors: tuple[tuple[int, int], ...]
    memory: Any = None
    protected: bool = False
    write_protected: frozenset[int] = frozenset()
    stuck: frozenset[int] = frozenset()
    erased: int = field(default=0, init=False)
    written: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.start = self.sectors[0][0]
        if self.memory is None:
            self.memory = bytearray(b"\xff" * self.size)

    @property
    def size(self) -> int:
        """Bytes in it."""
        return sum(size for _, size in self.sectors)

    @property
    def end(self) -> int:
        """First address after it."""
        return self.start + self.size

    def put(self, at: int, data: bytes) -> None:
        """What was in it before."""
        self.memory[at - self.start : at - self.start + len(data)] = data

    def holds(self, at: int, count: int) -> bool:
        """Whether a range lies in it."""
        return self.start <= at and at + count <= self.end

    def read(self, at: int, count: int) -> bytes | None:
        """Bytes, ``None`` where reading is refused."""
        if self.protected or not self.holds(at, count):
            return None
        return bytes(self.memory[at - self.start : at - self.start + count])

    def erase(self, numbers: Iterable[int]) -> bool:
        """Erase sectors; whether it is allowed."""
        wanted = tuple(numbers)
        if any(number >= len(self.sectors) or number in self.write_protected for number in wanted):
            return False
        for number in wanted:
            self.erased += 1
            start, size = self.sectors[number]
            if number not in self.stuck:
                self.memory[start - self.start : start - self.start + size] = b"\xff" * size
        return True

    def write(self, at: int, data: bytes) -> bool:
        """Clear bits; whether it is allowed. A bit that is 0 stays 0 until its sector is erased."""
        if not self.holds(at, len(data)) or self.sector_of(at) in self.write_protected:
            return False
        self.written += 1
        low = at - self.start
        held = int.from_bytes(self.memory[low : low + len(data)], "big")
        cleared = held & int.from_bytes(data, "big")
        self.memory[low : low + len(data)] = cleared.to_bytes(len(data), "big")
        return True

    def sector_of(self, at: int) -> int:
        """Number of the sector an address lies in."""
        return next(number for number, (start, size) in enumerate(self.sectors) if start <= at < start + size)
