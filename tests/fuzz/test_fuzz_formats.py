"""Broken files never give a traceback and never hang: half are mutations of valid ones, half are made up.

``ASFLOWN_FUZZ`` says how many inputs are tried (default 3,000); how far they came is printed (``pytest -s``).
"""

from __future__ import annotations

import lzma
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import mutations
import written_examples as examples

from asflown.errors import AsflownError
from asflown.formats import (
    aircraft_toml,
    catalog_mavlink,
    catalog_table,
    notes,
    overlay,
    release_folder,
    terminal_toml,
)
from asflown.formats.hand_written import checked, load_json, load_toml, text_of, toml_lines
from asflown.formats.schemas import FILES

COUNT = int(os.environ.get("ASFLOWN_FUZZ", "3000"))
#: Longest one input may take, seconds. They are under 50 kB; the slowest measured took 0.05 s on a busy machine.
PATIENCE = 5.0
STAGES = ("decoded", "parsed", "validated", "built")
CATALOG = catalog_mavlink.read(examples.MAVLINK, "catalog.json")


@dataclass(frozen=True)
class Target:
    """A reader, a valid file for it, and its stages one by one."""

    name: str
    valid: bytes
    stages: tuple[Callable[[bytes], object], ...]


def _toml(word: str, build: Callable[[bytes], object]) -> Target:
    name = f"{word}.toml"

    def validated(data: bytes) -> object:
        if word == "aircraft":
            return aircraft_toml.read(data, name)
        return checked(FILES[word], load_toml(data, name), name, toml_lines(data))

    stages = (lambda data: text_of(data, name), lambda data: load_toml(data, name), validated, build)
    return Target(word, examples.OURS[word], stages)


def _json(name: str, valid: bytes, read: Callable[[bytes, str], object]) -> Target:
    def build(data: bytes) -> object:
        return read(data, name)

    return Target(name, valid, (lambda d: text_of(d, name), lambda d: load_json(d, name), build, build))


def _folder(name: str) -> Callable[[bytes], object]:
    return lambda data: release_folder.read({**examples.FOLDER, name: data}, "reed-3.2")


def _catalog_csv(data: bytes) -> object:
    return catalog_table.read(data, "catalog.csv")


TARGETS = (
    _toml("notes", lambda data: notes.read(notes.write(notes.read(data, "n")), "n")),
    _toml("overlay", lambda data: overlay.apply(data, "o", CATALOG)),
    _toml(
        "aircraft", lambda data: aircraft_toml.read(aircraft_toml.write(aircraft_toml.read(data, "a")), "a")
    ),
    _toml("release", _folder("release.toml")),
    _toml("functions", _folder("functions.toml")),
    _toml("devices", _folder("devices.toml")),
    _toml("image_words", _folder("image_words.toml")),
    _toml("control", _folder("control.toml")),
    _toml("terminal", lambda data: terminal_toml.read(data, "terminal.toml")),
    _json("catalog.json", examples.MAVLINK, catalog_mavlink.read),
    _json("list.json", examples.JSON_LIST, catalog_table.read),
    Target(
        "catalog.csv", examples.CSV, (lambda d: text_of(d, "c"), _catalog_csv, _catalog_csv, _catalog_csv)
    ),
    Target("catalog.json.xz", examples.MAVLINK_XZ, (lambda d: catalog_mavlink.read(d, "c.json.xz"),) * 4),
)


def reached(target: Target, data: bytes) -> int:
    """How many stages an input passes; anything but our own error comes out as it is."""
    for number, stage in enumerate(target.stages):
        try:
            stage(data)
        except AsflownError:
            return number
    return len(target.stages)


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_the_valid_files_reach_the_end(target):
    assert reached(target, target.valid) == len(STAGES)


@pytest.mark.slow
@pytest.mark.timeout(0)
def test_broken_files_are_refused_or_read():
    chance = random.Random(20260307)
    far: Counter[tuple[str, int]] = Counter()
    slowest = 0.0
    begin = time.monotonic()
    for turn in range(COUNT):
        is_mutation = turn % 2 == 0
        target = TARGETS[(turn // 2) % len(TARGETS)]
        data = _mutated(chance, target) if is_mutation else mutations.made_up(chance)
        started = time.monotonic()
        try:
            stage = reached(target, data)
        except Exception as error:
            pytest.fail(f"{target.name}, turn {turn}: {type(error).__name__}: {error}\n{data[:2000]!r}")
        took = time.monotonic() - started
        slowest = max(slowest, took)
        assert took < PATIENCE, f"{target.name}, turn {turn} took {took:.1f} s\n{data[:2000]!r}"
        far["mutated" if is_mutation else "made up", stage] += 1
    print(_shares(far, COUNT, time.monotonic() - begin, slowest))
    mutants = sum(n for (kind, _), n in far.items() if kind == "mutated")
    # mutations that all fail at once would test nothing but the first stage
    assert sum(far["mutated", stage] for stage in (2, 3, 4)) > 0.3 * mutants
    assert far["mutated", 4] > 0.05 * mutants


def _mutated(chance: random.Random, target: Target) -> bytes:
    """A changed valid file; every other packed one is changed inside its packing."""
    if target.valid is examples.MAVLINK_XZ and chance.random() < 0.5:
        return lzma.compress(mutations.mutated(chance, examples.MAVLINK))
    return mutations.mutated(chance, target.valid)


def _shares(far: Counter[tuple[str, int]], count: int, seconds: float, slowest: float) -> str:
    lines = [f"\n{count} inputs in {seconds:.0f} s, slowest {slowest * 1000:.0f} ms"]
    for kind in ("mutated", "made up"):
        total = sum(n for (k, _), n in far.items() if k == kind)
        shares = [
            sum(far[kind, s] for s in range(i + 1, len(STAGES) + 1)) / total for i in range(len(STAGES))
        ]
        told = " · ".join(f"{stage} {share:.1%}" for stage, share in zip(STAGES, shares, strict=True))
        lines.append(f"{kind}: {total} · {told}")
    return "\n".join(lines)
