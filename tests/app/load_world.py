"""A small board with a simulated flash behind faulty links, on a clock that only moves when something waits.

One load touches few bytes, so that thousands of loads with faults run in a test.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from memory_store import MemoryStore
from small_world import World, planned, world

from asflown.adapters.load.dfu_session import DfuSession
from asflown.adapters.load.rom_session import RomSession
from asflown.app import state
from asflown.app.load.prepare import Ask, Prepared
from asflown.app.load.run import Loaded, run
from asflown.app.needs import Plugged
from asflown.core.image.check import Question, check
from asflown.core.image.flash import Flash, FlashMap, Region, Sector
from asflown.core.load.journal import What
from asflown.core.load.target import Held, flash_target, image_target
from asflown.demo.dfu_device import SimulatedDfu, Stall
from asflown.demo.flash import SimulatedFlash
from asflown.demo.rom_loader import SimulatedLoader
from asflown.errors import DeviceError
from asflown.formats.image.reading import read

START, CHIP = 0x08000000, 0x499
SIZES = (256, 256, 256, 512, 512, 512)
IMAGE_AT = START + 512


def _sectors() -> Iterator[Sector]:
    at = START
    for number, size in enumerate(SIZES):
        yield Sector(number, at, size)
        at += size


FLASH = Flash(
    "a small one", tuple(_sectors()), (Region("RAM", 0x20000000, 0x20008000),), 16, "made up", chip_id=CHIP
)
BOARD = FlashMap(
    FLASH,
    "small",
    IMAGE_AT,
    (Region("settings", START + 256, START + 512),),
    (Region("loader", START, START + 256),),
)


def image_bytes(seed: int, length: int = 900) -> bytes:
    """An image with a vector table."""
    body = bytearray(random.Random(seed).randbytes(length))
    words = [0x20008000, *(0 if n in (7, 8, 9, 10, 13) else IMAGE_AT + 0x101 for n in range(1, 32))]
    body[:128] = struct.pack("<32I", *words)
    return bytes(body)


OLD_IMAGE, NEW_IMAGE = image_bytes(1, 1100), image_bytes(2)


def old_flash() -> bytes:
    """What the board holds before."""
    made = bytearray(b"\xff" * FLASH.size)
    made[:356] = random.Random(3).randbytes(356)
    made[512 : 512 + len(OLD_IMAGE)] = OLD_IMAGE
    return bytes(made)


OLD = old_flash()
TARGET = image_target(read(NEW_IMAGE, "new.bin", at=IMAGE_AT), BOARD)


class Killed(BaseException):
    """The program is gone, in the middle of a line."""


@dataclass
class Time:
    """A clock that moves when something waits."""

    now: float = 0.0

    def wait(self, seconds: float) -> None:
        self.now += seconds


@dataclass
class FaultyFlash(SimulatedFlash):
    """Flash that lies, tears or reads wrongly at the acts whose numbers are given.

    Attributes
    ----------
    faults
        Kind by number of the act: ``lie`` (says done, did nothing), ``tear`` (half done, then power is gone),
        ``flip`` (one bit read wrongly).
    """

    faults: dict[int, str] = field(default_factory=dict)
    acts: int = 0
    numbers: random.Random = field(default_factory=lambda: random.Random(0))

    def _next(self) -> str:
        self.acts += 1
        return self.faults.pop(self.acts, "")

    def erase(self, numbers):
        wanted = tuple(numbers)
        fault = self._next()
        if fault == "lie":
            return True
        if fault == "tear":
            for number in wanted:
                start, size = self.sectors[number]
                half = self.numbers.randrange(size)
                self.memory[start - self.start : start - self.start + half] = b"\xff" * half
            raise DeviceError("erasing", "power is gone", trouble="lost")
        return super().erase(wanted)

    def write(self, at, data):
        fault = self._next()
        if fault == "lie":
            return True
        if fault == "tear":
            super().write(at, data[: self.numbers.randrange(len(data))])
            raise DeviceError("writing", "power is gone", trouble="lost")
        return super().write(at, data)

    def read(self, at, count):
        data = super().read(at, count)
        if self._next() != "flip" or not data:
            return data
        place = self.numbers.randrange(len(data))
        return data[:place] + bytes((data[place] ^ (1 << self.numbers.randrange(8)),)) + data[place + 1 :]


SERIAL_KINDS = ("drop", "double", "corrupt", "stall", "mute", "unplug", "kill")
USB_KINDS = ("refuse", "mute", "deaf", "unplug", "kill")
FLASH_KINDS = ("lie", "tear", "flip")


class FaultyLine:
    """Bytes into the simulated serial loader; the steps whose numbers are given go wrong."""

    def __init__(self, loader: SimulatedLoader, time: Time, faults: dict[int, str], numbers: random.Random):
        self.loader, self.time, self.faults, self.numbers = loader, time, faults, numbers
        self.steps = 0
        self.came, self.late = b"", b""
        self.gone = False

    def _fault(self) -> str:
        self.steps += 1
        kind = self.faults.pop(self.steps, "")
        if kind == "kill":
            raise Killed
        self.gone = self.gone or kind == "unplug"
        if self.gone:
            raise DeviceError("talking", "unplugged", trouble="lost")
        return kind

    def _spoilt(self, kind: str, data: bytes) -> bytes:
        if not data or kind not in ("drop", "double", "corrupt"):
            return data
        at = self.numbers.randrange(len(data))
        if kind == "drop":
            return data[:at] + data[at + 1 :]
        if kind == "double":
            return data[: at + 1] + data[at:]
        return data[:at] + bytes((data[at] ^ self.numbers.randrange(1, 256),)) + data[at + 1 :]

    def send(self, data: bytes) -> None:
        kind = self._fault()
        self.time.wait(len(data) * 11 / 115_200)
        try:
            answer = self.loader.feed(self._spoilt(kind, data))
        except DeviceError:
            self.gone = True
            raise
        if kind == "stall":
            self.late += answer
        elif kind != "mute":
            self.came += answer

    def receive(self, count: int, seconds: float) -> bytes:
        kind = self._fault()
        if kind == "stall":
            self.came, self.late = b"", self.late + self.came
        elif kind == "mute":
            self.came = b""
        else:
            self.came = self._spoilt(kind, self.came)
        data, self.came = self.came[:count], self.came[count:]
        self.time.wait(len(data) * 11 / 115_200 if len(data) == count else seconds)
        if len(data) < count:
            self.came, self.late = self.late, b""
        return data

    def close(self) -> None:
        self.gone = True


class FaultyPipe:
    """Requests to the simulated DFU device; the steps whose numbers are given go wrong."""

    def __init__(self, dfu: SimulatedDfu, time: Time, faults: dict[int, str]):
        self.dfu, self.time, self.faults = dfu, time, faults
        self.steps = 0
        self.gone = False

    def _do(self, act):
        self.steps += 1
        kind = self.faults.pop(self.steps, "")
        if kind == "kill":
            raise Killed
        self.gone = self.gone or kind == "unplug" or self.dfu.started is not None
        if self.gone:
            raise DeviceError("talking", "unplugged", trouble="lost")
        if kind == "deaf":  # the request does not arrive
            self.time.wait(5)
            raise DeviceError("talking", "no answer", trouble="silent")
        self.time.wait(0.001)
        try:
            if kind == "refuse":
                raise self.dfu._stall()
            data = act()
        except Stall:
            raise DeviceError("talking", "refused", trouble="refused") from None
        except DeviceError:
            self.gone = True
            raise
        if kind == "mute":  # it arrives, and the answer does not
            self.time.wait(5)
            raise DeviceError("talking", "no answer", trouble="silent")
        return data

    def send(self, request: int, value: int, data: bytes) -> None:
        self._do(lambda: self.dfu.take(request, value, data))

    def ask(self, request: int, value: int, count: int) -> bytes:
        return self._do(lambda: self.dfu.give(request, value, count))

    def close(self) -> None:
        self.gone = True


@dataclass
class Bench:
    """A board on the bench: its flash stays, whatever becomes of the link.

    Attributes
    ----------
    way
        ``serial`` or ``usb``.
    """

    way: str
    flash: FaultyFlash
    time: Time = field(default_factory=Time)
    faults: dict[int, str] = field(default_factory=dict)
    numbers: random.Random = field(default_factory=lambda: random.Random(0))
    link: FaultyLine | FaultyPipe | None = None
    forbidden: list[int] = field(default_factory=list)
    started: int | None = None

    def plugged(self):
        return (Plugged("usb:1-1" if self.way == "usb" else "/dev/ttyS9", "a simulated board"),)

    def open(self, name):
        """Plugged in again: the loader begins anew, the flash is as it was left."""
        if self.way == "usb":
            dfu = SimulatedDfu(self.flash, block=256)
            dfu.refused = self.forbidden
            self.link = FaultyPipe(dfu, self.time, self.faults)
            return DfuSession(self.link, dfu.layout, 256, 0x0B, 0x011A, self.time.wait)
        loader = SimulatedLoader(self.flash, CHIP)
        loader.refused = self.forbidden
        self.link = FaultyLine(loader, self.time, self.faults, self.numbers)
        return RomSession(self.link)

    def seconds(self):
        return self.time.now


def bench(way: str, seed: int = 0) -> Bench:
    """A board that holds the old flash."""
    sectors = tuple((sector.start, sector.size) for sector in FLASH.sectors)
    flash = FaultyFlash(sectors, bytearray(OLD), numbers=random.Random(seed))
    return Bench(way, flash, numbers=random.Random(seed + 1))


_MADE: list[World] = []


def fresh_store() -> MemoryStore:
    """A store with an open refit of the aircraft ``wren``; made once, then copied."""
    if not _MADE:
        made = world()
        planned(made)
        _MADE.append(made)
    first = _MADE[0].store
    copy = MemoryStore(first.clock, first.who)
    copy.kept, copy.sheets, copy.memories = dict(first.kept), dict(first.sheets), dict(first.memories)
    copy.docs = {name: list(rows) for name, rows in first.docs.items()}
    copy.logs = {name: list(rows) for name, rows in first.logs.items()}
    return copy


ASK = Ask(propellers_off=True, pack_unplugged=True)


def _prepared(work, *, back: bool = False) -> Prepared:
    from asflown.app.load.prepare import half_load

    job = state.last_job(work, "wren")
    half = half_load(work, job)
    said = "said by nobody"
    if back:
        before = job.refit.on_board.before
        data = work.store.original(before.sha256)
        target = flash_target(Held(START, data), BOARD)
        return Prepared(job, What.OLD_FLASH, BOARD, target, data, before.name, START, None, (), said, half)
    image = read(NEW_IMAGE, "new.bin", at=IMAGE_AT)
    checked = check(Question(image, BOARD))
    assert not checked.refused
    return Prepared(job, What.IMAGE, BOARD, TARGET, NEW_IMAGE, "new.bin", IMAGE_AT, checked, (), said, half)


def load(store: MemoryStore, at: Bench, *, back: bool = False) -> Loaded:
    """Load the new image, or put the old flash back."""
    work = replace(_MADE[0].work, store=store)
    return run(work, _prepared(work, back=back), ASK, at, lambda step: None)


def refit_of(store: MemoryStore):
    """The refit as it is kept."""
    return state.last_job(replace(_MADE[0].work, store=store), "wren").refit


def wanted_flash() -> bytes:
    """What the flash shall hold after the new image was written."""
    made = bytearray(OLD)
    for want in TARGET.wants:
        low = want.sector.start - START
        made[low : low + want.sector.size] = want.data
    return bytes(made)


NEW = wanted_flash()
