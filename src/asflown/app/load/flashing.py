"""Look at a flash, write what differs, look again: the one way a flash is changed.

What is on the board is always found out by looking, never taken from what was kept: so a load that was cut
off anywhere goes on by the same three steps.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TypeVar

from asflown.app.load.progress import Say, Step
from asflown.app.needs import BootLoader
from asflown.core.image.flash import Flash, Sector
from asflown.core.load.target import ERASED, Held, Target, Want
from asflown.core.load.told import Told
from asflown.errors import DeviceError

T = TypeVar("T")

#: Bytes read in one piece; readings of a piece until two in a row agree; tries of one act; rounds of writing.
PIECE, READINGS, TRIES, ROUNDS = 4096, 6, 3, 3
_WORN = (
    "its flash may be write protected or worn out; asflown lifts no protection, because that erases: have the"
    " board looked at, or put the old flash back"
)


class _Spoilt(Exception):
    """A block holds neither what was written nor erased bytes: its sector has to be erased again."""


class Flashing:
    """A board's flash, by its boot loader.

    Attributes
    ----------
    written
        Bytes written so far.
    sectors
        Numbers of the sectors erased so far; those a load that was cut off may have erased too.
    again
        How often something had to be done again because of the link.
    """

    def __init__(
        self,
        loader: BootLoader,
        told: Told,
        flash: Flash,
        seconds: Callable[[], float],
        say: Say,
        erased: Collection[int] = (),
    ) -> None:
        self.loader, self.told, self.flash = loader, told, flash
        self.seconds, self.say = seconds, say
        self.written, self.again = 0, 0
        self.sectors = list(erased)
        self._begun = 0.0

    def look(self, what: str, expected: Held | None = None) -> Held:
        """Read the whole flash.

        Parameters
        ----------
        expected
            What should be there: a piece that is so needs no second reading. Every other piece is read until
            two readings in a row agree, since the link may spoil a byte unnoticed.

        Raises
        ------
        DeviceError
            When the flash cannot be read, or reads differently every time.
        """
        made = bytearray()
        self._begun = self.seconds()
        while len(made) < self.flash.size:
            at = self.flash.start + len(made)
            count = min(PIECE, self.flash.end - at)
            wanted = None if expected is None else expected.data[len(made) : len(made) + count]
            made += self._piece(at, count, wanted)
            self._tell(what, len(made), self.flash.size)
        return Held(self.flash.start, bytes(made))

    def _piece(self, at: int, count: int, wanted: bytes | None) -> bytes:
        last = wanted
        for _ in range(READINGS):
            found = self._patiently(lambda: self.loader.read(at, count))
            if found == last:
                return found
            last = found
        raise DeviceError(f"reading {count} bytes at 0x{at:08X}", "no two readings in a row agree")

    def bring(self, target: Target, held: Held, before_erasing: Callable[[], None]) -> Held:
        """Make the flash hold what is wanted, and prove it by reading all of it again.

        Parameters
        ----------
        held
            What it holds now.
        before_erasing
            Called once, before anything is erased; not at all where nothing has to be written.

        Raises
        ------
        DeviceError
            When it does not come to hold it.
        """
        for number in range(ROUNDS):
            wants = target.to_write(held, self.sectors)
            if not wants:
                return held
            if not number:
                before_erasing()
            self._write(wants, target)
            held = self.look("reading back", _expected(held, wants))
        want = target.differing(held, self.sectors)
        if not want:
            return held
        at = want[0].first_difference(held.of(want[0].sector))
        raise DeviceError(
            f"reading sector {want[0].sector.number} back",
            f"it holds something else at 0x{at:08X}, after {ROUNDS} rounds of writing",
            trouble="refused",
            next_step=_WORN,
        )

    def _write(self, wants: tuple[Want, ...], target: Target) -> None:
        """Erase the sector with the vectors first, and write it last, its vectors last of all."""
        total = sum(len(block) for want in wants for _, block in want.blocks(self.told.block))
        done = 0
        self._begun = self.seconds()
        first = target.with_vectors
        if first is not None:
            self._erase(first.sector, done, total)
        for want in wants:
            if want is not first:
                done = self._fill(want, target.vectors, done, total, is_erased=False)
        if first is not None:
            self._fill(first, target.vectors, done, total, is_erased=True)

    def _erase(self, sector: Sector, done: int, total: int) -> None:
        self._tell(f"erasing sector {sector.number}", done, total)
        self._patiently(lambda: self.loader.erase(sector))
        if sector.number not in self.sectors:
            self.sectors.append(sector.number)

    def _fill(self, want: Want, vectors: int, done: int, total: int, *, is_erased: bool) -> int:
        """Erase a sector and write its blocks; bytes done then."""
        size = self.told.block
        blocks = sorted(want.blocks(size), key=lambda item: (item[0] <= vectors < item[0] + size, item[0]))
        for _ in range(TRIES):
            if not is_erased:
                self._erase(want.sector, done, total)
            is_erased, now = False, done
            try:
                for at, data in blocks:
                    self._block(at, data)
                    now += len(data)
                    self._tell("writing", now, total)
            except _Spoilt:
                continue
            self.written += now - done
            return now
        raise DeviceError(
            f"writing sector {want.sector.number}",
            f"it does not take what is written, after {TRIES} tries",
            trouble="refused",
            next_step=_WORN,
        )

    def _block(self, at: int, data: bytes) -> None:
        """Write a block; where the answer was lost, what is there says whether it was written."""
        for left in reversed(range(TRIES)):
            try:
                self.loader.write(at, data)
                return
            except DeviceError as error:
                if error.trouble == "lost" or not left:
                    raise
                self._recover()
            found = self._patiently(lambda: self.loader.read(at, len(data)))
            if found == data:
                return
            if found != bytes([ERASED]) * len(data):
                raise _Spoilt

    def _patiently(self, act: Callable[[], T]) -> T:
        """Do something; where the link spoilt it, bring the talk back into step and do it again."""
        for left in reversed(range(TRIES)):
            try:
                return act()
            except DeviceError as error:
                if error.trouble == "lost" or not left:
                    raise
                self._recover()
        raise AssertionError

    def _recover(self) -> None:
        self.again += 1
        self.loader.recover()

    def _tell(self, what: str, done: int, total: int) -> None:
        self.say(Step(what, done, total, self.seconds() - self._begun))


def _expected(held: Held, wants: tuple[Want, ...]) -> Held:
    """What the flash holds once some sectors are written."""
    made = bytearray(held.data)
    for want in wants:
        low = want.sector.start - held.start
        made[low : low + want.sector.size] = want.data
    return Held(held.start, bytes(made))
