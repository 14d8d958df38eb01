#!/usr/bin/env python3
"""Fuzz the readers: half mutations of valid files, half structured or random bytes; counts how far each came.

    python tools/fuzz_readers.py [--count 100000] [--seed 1] [--reader NAME] [--first N]

Only errors of asflown's own family may come out of a reader. Anything else, or an input that takes more
than two seconds of processor time, ends the run with exit code 1 and the reader, seed, number and input. An
input depends on the reader, the seed and its number alone: ``--reader NAME --seed S --first N --count 1``
makes it again.
"""

from __future__ import annotations

import argparse
import io
import json
import lzma
import mmap
import os
import random
import re
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from asflown.adapters.log_file import LogBytes
from asflown.core.catalog import Catalog, CatalogSource
from asflown.core.log_table import LogTable
from asflown.demo import releases, scenario
from asflown.errors import AsflownError
from asflown.formats import (
    aircraft_toml,
    catalog_mavlink,
    catalog_table,
    documents,
    listing,
    notes,
    overlay,
    release_folder,
)
from asflown.formats.flightlog import read_log
from asflown.formats.flightlog.container import Container, container_of
from asflown.formats.hand_written import checked, load_json, load_toml, text_of, toml_lines
from asflown.formats.listing.text import decode
from asflown.formats.schemas import FILES
from inputs_made_up import invented, mutated
from logs_made_up import invented_log, valid_logs

#: Longest processor time one input may take, and the time after which a reader that no alarm reaches is
#: ended, seconds.
SECONDS, LAST_SECONDS = 2.0, 30.0
STAGES = ("decoded", "parsed", "validated", "built", "written")
Reader = Callable[[bytes], Iterator[str]]

_FILES = releases.folders()["marram-5.0"]
_REAL = Path(__file__).resolve().parents[1] / "tests" / "formats" / "listing" / "real"


class TookTooLong(BaseException):
    """An input that hangs a reader; no reader catches it by mistake."""


def _alarm(*_: object) -> None:
    raise TookTooLong(f"more than {SECONDS:.0f} s of processor time")


# -- the readers, stage by stage ----------------------------------------------------------------------------


def _toml(word: str, read: Callable[[bytes], object], write: Callable[[Any], bytes] | None) -> Reader:
    def run(data: bytes) -> Iterator[str]:
        text_of(data, "fuzz")
        yield "decoded"
        tree = load_toml(data, "fuzz")
        yield "parsed"
        checked(FILES[word], tree, "fuzz", toml_lines(data))
        yield "validated"
        made = read(data)
        documents.dump(made)
        yield "built"
        if write is not None:
            again = read(write(made))
            assert _without_lines(again) == _without_lines(made), "what was written does not read back"
            yield "written"

    return run


def _without_lines(made: object) -> str:
    return re.sub(r"\bline=\d+", "", repr(made))


def _catalog(data: bytes) -> Iterator[str]:
    if not data.startswith(b"\xfd7zXZ"):
        text_of(data, "fuzz")
        yield "decoded"
        load_json(data, "fuzz")
        yield "parsed"
    documents.dump(catalog_mavlink.read(data, "fuzz"))
    if data.startswith(b"\xfd7zXZ"):
        yield from ("decoded", "parsed")
    yield from ("validated", "built")


def _table(data: bytes) -> Iterator[str]:
    text_of(data, "fuzz")
    yield "decoded"
    if data.lstrip()[:1] in (b"[", b"{"):
        load_json(data, "fuzz")
        yield "parsed"
    documents.dump(catalog_table.read(data, "fuzz"))
    if data.lstrip()[:1] not in (b"[", b"{"):
        yield "parsed"
    yield from ("validated", "built")


def _listing(data: bytes) -> Iterator[str]:
    decode(data)
    yield "decoded"
    shown = listing.read(data)
    pieces = b"".join(data[piece.start : piece.end] for piece in shown.pieces)
    assert shown.lossless, "a listing was read with loss"
    assert pieces == data, "the pieces do not give the bytes back"
    if shown.shapes:
        yield "parsed"
    if shown.settings:
        documents.dump(shown.settings[0])
        yield from ("validated", "built")
        again = listing.read(listing.write(shown, shown.settings))
        rows = [sorted((str(s.key), s.value) for s in one.settings) for one in (shown, again)]
        assert rows[0] == rows[1], "what was written does not read back"
        yield "written"


def _overlaid(data: bytes) -> Catalog:
    return overlay.apply(data, "fuzz", _few())


def _folder(data: bytes) -> Iterator[str]:
    """One file of a release folder is replaced; which one, the last byte says."""
    files = dict(_small_folder())
    names = sorted(files)
    files[names[data[-1] % len(names)] if data else names[0]] = data[:-1]
    documents.dump(release_folder.read(files, "fuzz"))
    yield "built"


def _read_notes(data: bytes) -> object:
    return notes.read(data, "fuzz")


def _read_aircraft(data: bytes) -> object:
    return aircraft_toml.read(data, "fuzz")


def _flightlog(data: bytes) -> Iterator[str]:
    """Stages: decoded as text, layout told (parsed), header found (validated), numbers read (built), the same
    numbers after a way through Parquet (written).
    """
    from asflown.formats.flightlog import delimited
    from asflown.formats.flightlog.stream import TextStream

    source = LogBytes("fuzz", data)
    container = container_of(data[:64], "fuzz")
    if container in (Container.TEXT, Container.GZIP):
        with source.open() as raw:
            stream = TextStream(raw, container, source)
            yield "decoded"
            sniffed = delimited.sniffed_of(stream, "fuzz")
            yield "parsed"
            if sniffed.has_header:
                yield "validated"
    table = read_log(source)
    if container not in (Container.TEXT, Container.GZIP):
        yield from ("decoded", "parsed", "validated")
    _sound(table, source)
    if any(
        column.numbers is not None and (column.numbers == column.numbers).any() for column in table.columns
    ):
        yield "built"
        _same(table, read_log(LogBytes("fuzz", _as_parquet(table))))
        yield "written"
    assert read_log(source, rows=3).rows == min(3, table.rows), "a head has other rows"
    _sound(read_log(source, limit_bytes=400), source)


def _sound(table: LogTable, source: LogBytes) -> None:
    assert table.sha256 == source.sha256()
    assert all(fact.statement and fact.count >= 0 for fact in table.facts)
    assert len(set(column.name for column in table.columns)) == len(table.columns), "a name stands twice"
    for column in table.columns:
        if column.numbers is None:
            assert len(column.words) == table.rows, "words are missing"
            continue
        assert column.numbers.shape == (table.rows,), "numbers are missing"
        assert not column.numbers.flags.writeable
        assert not (abs(column.numbers) == float("inf")).any(), "an infinite number"


def _as_parquet(table: LogTable) -> bytes:
    import polars as pl

    made = io.BytesIO()
    columns = {
        f"{number}": pl.Series(list(column.words), dtype=pl.String)
        if column.numbers is None
        else column.numbers
        for number, column in enumerate(table.columns)
    }
    pl.DataFrame(columns).write_parquet(made)
    return made.getvalue()


def _same(one: LogTable, other: LogTable) -> None:
    assert one.rows == other.rows
    for left, right in zip(one.columns, other.columns, strict=True):
        if left.numbers is None or right.numbers is None:
            assert left.words == right.words, "words differ after Parquet"
        else:
            with np.errstate(invalid="ignore"):  # a signalling NaN of a damaged file is a NaN like others
                same = abs(left.numbers - right.numbers) <= 1e-6 * abs(left.numbers) + 1e-30
            assert (same | (left.numbers != left.numbers)).all(), "numbers differ after Parquet"


READERS: dict[str, Reader] = {
    "listing": _listing,
    "catalog": _catalog,
    "table": _table,
    "notes": _toml("notes", _read_notes, notes.write),
    "overlay": _toml("overlay", _overlaid, None),
    "aircraft": _toml("aircraft", _read_aircraft, aircraft_toml.write),
    "folder": _folder,
    "flightlog": _flightlog,
}
INVENTORS: Mapping[str, Callable[[random.Random], bytes]] = {"flightlog": invented_log}

# -- valid files to begin with ------------------------------------------------------------------------------


def _small_catalog() -> bytes:
    tree = json.loads(_FILES["catalog.json"])
    tree["parameters"] = tree["parameters"][:20]
    return json.dumps(tree, indent=1).encode()


@cache
def _few() -> Catalog:
    few = catalog_mavlink.read(_small_catalog(), "catalog.json")
    return Catalog(few.parameters, CatalogSource.STATED)


def _small_table() -> bytes:
    rows = ["name,group,type,units,min,max,default,choices,description"]
    rows += [
        f"{p.name},{p.group},{p.type},{p.unit or ''},,,{p.default or ''},0=off|1=on,"
        for p in _few().parameters
    ]
    return "\n".join(rows).encode()


def _small_overlay() -> bytes:
    entries = _FILES["overlay.toml"].split(b"\n\n")
    names = {f'[parameter."{p.name}"]'.encode() for p in _few().parameters}
    return b"\n\n".join(entry for entry in entries if entry.strip().split(b"\n")[0] in names)


@cache
def _small_folder() -> Mapping[str, bytes]:
    lines = _FILES["factory.txt"].split(b"\n")
    return {
        **_FILES,
        "catalog.json": _small_catalog(),
        "overlay.toml": _small_overlay(),
        "factory.txt": b"\n".join(lines[:30]),
    }


@cache
def _seeds() -> Mapping[str, list[bytes]]:
    own = [scenario.found_listing("plover")[:6000], scenario.found_listing("dunlin", changes_only=True)]
    real = [
        path for path in sorted(_REAL.iterdir()) if path.suffix in (".txt", ".conf", ".service", ".timer")
    ]
    real += [path for path in sorted(_REAL.glob("*.json")) if ".expected" not in path.name]
    plain_list = [{"name": "a", "min": 0, "choices": ["x", "y"]}, {"name": "b", "consequence": "safety"}]
    folders = releases.folders().values()
    changes = [data for files in folders for path, data in files.items() if path.startswith("notes/")]
    return {
        "listing": own + [path.read_bytes()[:3000] for path in real],
        "catalog": [_small_catalog(), lzma.compress(_small_catalog())],
        "table": [_small_table(), json.dumps(plain_list, indent=1).encode()],
        "notes": changes,
        "overlay": [_small_overlay()],
        "aircraft": [craft.text.encode() for craft in scenario.CRAFTS],
        "folder": [data + bytes([place]) for place, (_, data) in enumerate(sorted(_small_folder().items()))],
        "flightlog": valid_logs(),
    }


def made(name: str, seed: int, number: int) -> bytes:
    """The input of a reader, a seed and a number: every second one a mutation."""
    rng = random.Random(f"{name} {seed} {number}")
    if number % 2:
        return mutated(rng.choice(_seeds()[name]), rng)
    own = INVENTORS.get(name)
    return own(rng) if own is not None and rng.random() < 0.8 else invented(rng)


# -- the run ------------------------------------------------------------------------------------------------


def run(
    count: int,
    seed: int,
    only: str | None = None,
    say: Callable[[str], None] = print,
    *,
    first: int = 0,
    at: Callable[[str, int], None] = lambda name, number: None,
) -> int:
    """Run and print the shares; 0 when nothing but asflown's own errors came out."""
    names = [only] if only else list(READERS)
    reached: dict[str, Counter[str]] = {name: Counter() for name in names}
    _seeds()  # what is imported for them shall not count as time of the first input
    began = time.monotonic()
    before = signal.signal(signal.SIGPROF, _alarm)
    try:
        for turn in range(count):
            name, number = names[turn % len(names)], first + turn // len(names)
            at(name, number)
            fault = _one(READERS[name], made(name, seed, number), reached[name], bool(number % 2))
            if fault is not None:
                say(f"{name}: seed {seed} input {number}: {fault}\n{made(name, seed, number)!r}")
                say(f"again: tools/fuzz_readers.py --reader {name} --seed {seed} --first {number} --count 1")
                return 1
    finally:
        signal.signal(signal.SIGPROF, before)
    _tell(reached, count, seed, time.monotonic() - began, say)
    return 0


def _one(reader: Reader, data: bytes, stages: Counter[str], is_mutation: bool) -> str | None:
    """Feed one input; what came out that may not, in words."""
    half = "mutated" if is_mutation else "made up"
    stages[half] += 1
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        for stage in reader(data):
            stages[f"{half} {stage}"] += 1
    except AsflownError:
        return None
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        return f"{type(error).__name__}: {error}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return None


def _tell(
    reached: Mapping[str, Counter[str]], count: int, seed: int, took: float, say: Callable[[str], None]
) -> None:
    say(f"{'reader':<10}{'half':<9}" + "".join(f"{column:>11}" for column in ("inputs", *STAGES)))
    for name, stages in reached.items():
        for half in ("mutated", "made up"):
            total = stages[half] or 1
            shares = [stages[f"{half} {stage}"] for stage in STAGES]
            cells = [
                str(stages[half]),
                *(f"{100 * share / total:.1f} %" if share else "-" for share in shares),
            ]
            say(f"{name:<10}{half:<9}" + "".join(f"{cell:>11}" for cell in cells))
    say(f"{count} inputs, seed {seed}, {took:.0f} s; no traceback, no hang")


def watched(count: int, seed: int, only: str | None, first: int) -> int:
    """Run in a child process: a reader caught in code that no alarm interrupts is ended and told as well."""
    place = mmap.mmap(-1, 64)

    def at(name: str, number: int) -> None:
        place[:64] = f"{name} input {number}".encode().ljust(64)

    child = os.fork()
    if child == 0:
        code = run(count, seed, only, first=first, at=at)
        sys.stdout.flush()
        os._exit(code)
    seen, since = b"", time.monotonic()
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        now = place[:64]
        if now != seen:
            seen, since = now, time.monotonic()
        elif time.monotonic() - since > LAST_SECONDS:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            print(f"{now.decode().strip()}: seed {seed}: still not done after {LAST_SECONDS:.0f} s")
            return 1
        time.sleep(0.05)


def main() -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--reader", choices=list(READERS))
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    given = parser.parse_args()
    return watched(given.count, given.seed, given.reader, given.first)


if __name__ == "__main__":
    sys.exit(main())
