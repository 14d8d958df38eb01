"""What asflown's own time adds to writing a board: beyond the wire's and the flash's time, in a whole load.

``python benchmarks/loading.py [--out FILE]``. Wire: 11 bits a byte at 115,200 bits a second (8E1), and
full-speed USB control transfers of 64-byte packets, one a 125 µs slot, 1 ms for each request (USB 2.0; from
memory). Flash: typical times of the STM32F407's data sheet (16 µs a word of 32 bits, 0.25 s to erase 16
KiB, 0.55 s 64 KiB, 1 s 128 KiB; from memory). The simulator's own time is taken off: it is not there on
the bench; neither is the time of pyserial and pyusb counted, which pass the bytes on.
"""

from __future__ import annotations

import argparse
import json
import random
import struct
import sys
import time
from pathlib import Path

from asflown.adapters.load.dfu_session import DfuSession
from asflown.adapters.load.rom_session import RomSession
from asflown.app.load.flashing import Flashing
from asflown.core.image.flash import FlashMap
from asflown.core.image.processors import processor
from asflown.core.load.target import image_target
from asflown.demo.dfu_device import SimulatedDfu
from asflown.demo.flash import SimulatedFlash
from asflown.demo.rom_loader import SimulatedLoader
from asflown.formats.image.reading import read

F407 = processor("STM32F407xG")
ERASE = {16: 0.25, 64: 0.55, 128: 1.0}
WORD = 16e-6
SIZE = 700_000


class Clock:
    """Seconds of the wire and the flash, and seconds the simulator took."""

    def __init__(self) -> None:
        self.outside, self.simulated = 0.0, 0.0


class TimedFlash(SimulatedFlash):
    clock: Clock

    def erase(self, numbers):
        wanted = tuple(numbers)
        self.clock.outside += sum(ERASE[self.sectors[number][1] // 1024] for number in wanted)
        return super().erase(wanted)

    def write(self, at, data):
        self.clock.outside += len(data) / 4 * WORD
        return super().write(at, data)


class Line:
    def __init__(self, loader: SimulatedLoader, clock: Clock) -> None:
        self.loader, self.clock, self.came = loader, clock, b""

    def send(self, data: bytes) -> None:
        self.clock.outside += len(data) * 11 / 115_200
        begun = time.perf_counter()
        self.came += self.loader.feed(data)
        self.clock.simulated += time.perf_counter() - begun

    def receive(self, count: int, seconds: float) -> bytes:
        data, self.came = self.came[:count], self.came[count:]
        self.clock.outside += len(data) * 11 / 115_200
        return data

    def close(self) -> None:
        return None


class Pipe:
    def __init__(self, dfu: SimulatedDfu, clock: Clock) -> None:
        self.dfu, self.clock = dfu, clock

    def _count(self, size: int) -> None:
        self.clock.outside += 0.001 + -(-size // 64) * 125e-6

    def send(self, request: int, value: int, data: bytes) -> None:
        self._count(len(data))
        begun = time.perf_counter()
        self.dfu.take(request, value, data)
        self.clock.simulated += time.perf_counter() - begun

    def ask(self, request: int, value: int, count: int) -> bytes:
        self._count(count)
        begun = time.perf_counter()
        data = self.dfu.give(request, value, count)
        self.clock.simulated += time.perf_counter() - begun
        return data

    def close(self) -> None:
        return None


def load(way: str) -> dict[str, float]:
    """One load of a 1 MB board with a 700 kB image: read twice, write, read back."""
    clock = Clock()
    flash = TimedFlash(tuple((sector.start, sector.size) for sector in F407.sectors))
    flash.clock = clock
    flash.put(F407.start, random.Random(1).randbytes(900_000))
    body = bytearray(random.Random(2).randbytes(SIZE))
    body[:8] = struct.pack("<II", 0x20020000, F407.start + 0x189)
    target = image_target(read(bytes(body), "new.bin", at=F407.start), FlashMap(F407, None, F407.start))
    if way == "serial":
        loader = RomSession(Line(SimulatedLoader(flash, 0x413), clock))
    else:
        dfu = SimulatedDfu(flash)
        dfu.wait_ms = dict.fromkeys(dfu.wait_ms, 0)
        loader = DfuSession(Pipe(dfu, clock), dfu.layout, dfu.block, 0x0B, 0x011A, lambda seconds: None)
    begun = time.perf_counter()
    told = loader.connect()
    flashing = Flashing(loader, told, F407, time.perf_counter, lambda step: step.says)
    held = flashing.look("reading")
    flashing.bring(target, held, lambda: None)
    host = time.perf_counter() - begun - clock.simulated
    assert bytes(flash.memory)[: len(body)] == body
    return {
        "wire_and_flash_s": round(clock.outside, 2),
        "host_s": round(host, 3),
        "share": round(host / clock.outside, 4),
    }


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=Path)
    args = parser.parse_args()
    measured = {way: load(way) for way in ("serial", "usb")}
    text = json.dumps({"what": __doc__.splitlines()[0], "image_bytes": SIZE, **measured}, indent=1) + "\n"
    sys.stdout.write(text)
    if args.out:
        args.out.write_text(text)


if __name__ == "__main__":
    main()
