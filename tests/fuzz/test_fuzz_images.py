"""Broken image files never give a traceback, never hang, and never take much more memory than they are long.

``ASFLOWN_FUZZ`` says how many inputs are tried (default 3,000), ``ASFLOWN_FUZZ_SEED`` which; how far they came, how long
the slowest took and what the hungriest took is printed (``pytest -s``). Each is read and, where it can be, checked
against a board beside an old image, and its sheet and JSON are made.
"""

from __future__ import annotations

import os
import random
import sys
import time
import tracemalloc
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import broken_images
from broken_images import RAW, VALID, Broken, record

from asflown.app.views.image_shown import image_json, image_sheet
from asflown.core.catalog import ImageWord, OptionalFunction, Release
from asflown.core.image.check import Question, check
from asflown.core.image.flash import FlashMap, Region
from asflown.core.image.model import Image
from asflown.core.image.processors import PROCESSORS
from asflown.errors import AsflownError
from asflown.formats.image.reading import read

COUNT = int(os.environ.get("ASFLOWN_FUZZ", "3000"))
SEED = int(os.environ.get("ASFLOWN_FUZZ_SEED", "20261127"))
#: Longest one input may take, seconds of this process's time.
PATIENCE = 2.0
#: Most memory: so many times the file's length (an Intel HEX file of single bytes takes 32, measured), and what any
#: file takes beside (a sector of 128 KiB as it is and as it will be, the sheet).
TIMES, PLUS = 40, 600_000
AT = 0x08000000
F407, H743 = PROCESSORS["STM32F407xG"], PROCESSORS["STM32H743xI"]
BOARDS = (
    FlashMap(F407, "wrackline-2", AT, (Region("settings", 0x080E0000, 0x08100000),)),
    FlashMap(F407, None, None, None),
    FlashMap(H743, "brant-h7", 0x08020000, (), (Region("loader", AT, 0x08020000),)),
)
RELEASE = Release(
    "marram-5.0",
    "marram",
    "5.0",
    functions=(OptionalFunction("lamps", 6144), OptionalFunction("x")),
    image_words=(ImageWord("board", 1024, "wrackline-2"), ImageWord("version", 1056, "marram 5.0")),
    boards=("wrackline-2",),
)
STAGES = ("read", "checked", "may be written")


def reached(data: bytes, board: FlashMap, old: Image | None) -> int:
    """How many stages an input passes; anything but our own error comes out as it is."""
    try:
        image = read(data, "f", at=board.raw_at)
    except AsflownError:
        return 0
    made = check(Question(image, board, RELEASE, old=old))
    image_sheet(made)
    image_json(made)
    return 2 if made.refused else 3


class Took:
    """How far inputs came, and the dearest of them."""

    def __init__(self) -> None:
        self.far: Counter[tuple[str, int]] = Counter()
        self.slowest = (0.0, "")
        self.hungriest = (0.0, "")
        self.most = (0, "")

    def one(self, number: int, given: Broken) -> None:
        """Try one input."""
        old = read(RAW, "old", at=AT) if number % 2 else None
        tracemalloc.reset_peak()
        before = tracemalloc.get_traced_memory()[0]
        begun = time.process_time()
        try:
            stage = reached(given.data, BOARDS[number % 3], old)
        except Exception as error:
            said = f"turn {number}, {given.of}, {given.how}"
            pytest.fail(f"{said}: {type(error).__name__}: {error}\n{given.data[:2000]!r}")
        seconds = time.process_time() - begun
        peak = tracemalloc.get_traced_memory()[1] - before
        said = f"turn {number}, {given.of}, {given.how}, {len(given.data)} bytes"
        assert seconds < PATIENCE, f"{said}: {seconds:.1f} s"
        assert peak < TIMES * len(given.data) + PLUS, f"{said}: {peak} bytes of memory"
        self.far[given.how, stage] += 1
        self.slowest = max(self.slowest, (seconds, said))
        self.most = max(self.most, (peak, said))
        if len(given.data) >= 4096:  # in a smaller one the sheet alone is a multiple of it
            self.hungriest = max(self.hungriest, (peak / len(given.data), said))

    def __str__(self) -> str:
        lines = [
            f"slowest {self.slowest[0] * 1000:.0f} ms: {self.slowest[1]}",
            f"most memory {self.most[0]} bytes: {self.most[1]}",
            f"of 4 KiB and more, hungriest for its length {self.hungriest[0]:.1f} times: {self.hungriest[1]}",
        ]
        for how in ("by its rules", "anyhow", "made up"):
            rows = [sum(n for (h, s), n in self.far.items() if h == how and s >= stage) for stage in range(4)]
            told = " · ".join(f"{name} {n / rows[0]:.1%}" for name, n in zip(STAGES, rows[1:], strict=True))
            lines.append(f"{how}: {rows[0]} · {told}")
        return "\n".join(lines)


@pytest.fixture
def traced():
    for_another = VALID["ELF"][:18] + b"\x3e" + VALID["ELF"][19:]
    for data in (*VALID.values(), for_another):  # what is imported on the way is not this file's
        reached(data, BOARDS[0], None)
    tracemalloc.start()
    yield
    tracemalloc.stop()


@pytest.mark.parametrize("name", VALID)
def test_the_valid_files_are_read(name):
    assert reached(VALID[name], BOARDS[0], None) > 1


@pytest.mark.slow
@pytest.mark.timeout(0)
def test_broken_images_are_refused_or_read(traced):
    chance = random.Random(SEED)
    took = Took()
    begun = time.monotonic()
    for number in range(COUNT):
        took.one(number, broken_images.broken(chance, number))
    print(f"\n{COUNT} inputs, seed {SEED}, {time.monotonic() - begun:.0f} s\n{took}")
    by_rules = {stage: n for (how, stage), n in took.far.items() if how == "by its rules"}
    # changes that are all refused at once would test nothing but the first lines of the readers
    assert sum(by_rules.get(stage, 0) for stage in (1, 2, 3)) > 0.2 * sum(by_rules.values())


def test_bytes_far_apart_are_not_filled_up(traced):
    """5,700 single bytes over 4 GB of addresses: memory goes with the file."""
    lines = []
    for high in range(0, 0x10000, 23):
        lines += [record(4, 0, high.to_bytes(2, "big")), record(0, 0x10, b"\x01"), record(0, 0x8000, b"\x02")]
    data = b"\n".join([*lines, record(4, 0, b"\xff\xff"), record(0, 0xFFFF, b"z"), record(1, 0, b"")])
    took = Took()
    took.one(1, Broken("HEX", "by its rules", data))
    assert took.far["by its rules", 2] == 1


def test_single_bytes_with_gaps(traced):
    """The dearest Intel HEX there is: a line for each byte, none beside another."""
    lines = [record(0, 2 * number, b"\x01") for number in range(8000)]
    took = Took()
    took.one(1, Broken("HEX", "by its rules", b"\n".join([*lines, record(1, 0, b"")])))
    assert took.hungriest[0] < TIMES
    assert took.far["by its rules", 2] == 1


def test_segments_that_share_the_files_bytes_are_refused(traced):
    """256 load segments that each say they are the whole file would be 256 times its length."""
    data = bytearray(VALID["ELF, 256 segments"])
    data += bytes(200_000)
    for number in range(256):
        at = 52 + 32 * number
        data[at + 4 : at + 8] = bytes(4)
        data[at + 16 : at + 20] = (200_000).to_bytes(4, "little")
    took = Took()
    took.one(1, Broken("ELF", "by its rules", bytes(data)))
    assert took.far["by its rules", 0] == 1
