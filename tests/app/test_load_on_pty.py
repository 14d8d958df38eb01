"""Loads over a real pseudo-terminal, through pyserial: bytes are dropped, doubled, spoilt, held back, and the line cut.

100 loads with faults; the seed is printed (``pytest -s``). Each one that does not end well is followed by one without
faults, which has to.
"""

from __future__ import annotations

import random
import time
from collections import Counter

import pytest
from load_world import CHIP, NEW, OLD, bench, fresh_store, load, refit_of

from asflown.adapters.load.rom_session import RomSession
from asflown.adapters.load.serial_line import SerialLine
from asflown.app.needs import Plugged
from asflown.core.refit import State
from asflown.demo.board_file import PtyBoard
from asflown.demo.rom_loader import SimulatedLoader
from asflown.errors import DeviceError

SEED = 20261127
KINDS = ("drop", "double", "corrupt", "hold", "swallow", "cut")


class FaultyBoard(SimulatedLoader):
    """Answers over a terminal; the readings whose numbers are given go wrong."""

    def __init__(self, flash, faults, numbers):
        super().__init__(flash, CHIP)
        self.faults, self.numbers = faults, numbers
        self.readings = 0
        self.is_cut = False

    def feed(self, data):
        self.readings += 1
        kind = self.faults.pop(self.readings, "")
        self.is_cut = self.is_cut or kind == "cut"
        if self.is_cut or kind == "swallow":
            return b""
        at = self.numbers.randrange(len(data))
        if kind == "drop":
            data = data[:at] + data[at + 1 :]
        elif kind == "double":
            data = data[: at + 1] + data[at:]
        elif kind == "corrupt":
            data = data[:at] + bytes((data[at] ^ self.numbers.randrange(1, 256),)) + data[at + 1 :]
        answer = super().feed(data)
        if kind == "hold":
            time.sleep(0.15)
        return answer


class PtyPorts:
    """The board behind a pseudo-terminal that is made anew each time it is plugged in."""

    def __init__(self, flash, faults, numbers):
        self.flash, self.faults, self.numbers = flash, faults, numbers
        self.boards = []

    def plugged(self):
        return (Plugged("/dev/pts/x", "a pseudo-terminal"),)

    def open(self, name):
        self.boards.append(PtyBoard(FaultyBoard(self.flash, self.faults, self.numbers)))
        return RomSession(SerialLine(self.boards[-1].device), patience=0.1)

    def seconds(self):
        return time.monotonic()

    def close(self):
        for board in self.boards:
            board.close()
        self.boards.clear()


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_loads_over_a_real_terminal(part):
    numbers = random.Random(SEED + part)
    outcomes: Counter[str] = Counter()
    for _ in range(25):
        flash = bench("serial").flash
        faults = {numbers.randint(1, 150): numbers.choice(KINDS) for _ in range(numbers.choice((1, 1, 2, 4)))}
        ports, store = PtyPorts(flash, faults, numbers), fresh_store()
        outcome, said = "done", "boot loader"
        try:
            load(store, ports)
        except DeviceError as error:
            outcome, said = "told", error.next_step or ""
        assert "boot loader" in said
        assert all(board.loader.refused == [] for board in ports.boards)
        ports.close()
        outcomes[outcome] += 1
        if outcome == "done":
            assert bytes(flash.memory) == NEW
            continue
        assert refit_of(store).is_half_loaded or bytes(flash.memory) in (OLD, NEW)
        faults.clear()
        load(store, ports)
        ports.close()
        assert bytes(flash.memory) == NEW
        assert refit_of(store).state is State.DECIDED
    print(f"seed {SEED + part}: 25 faulted loads over a pseudo-terminal: {dict(outcomes)}")
    assert outcomes["done"]
