"""Fuzz the readers: half mutations of valid files, half random bytes; counts what each stage sees.

    python tools/fuzz_readers.py [--count 100000] [--seed 1] [--reader NAME]

Only errors of asflown's own family may come out of a reader. Anything else, or an input that takes longer
than two seconds, ends the run with exit code 1, the seed, the number and the input.
"""

from __future__ import annotations

import argparse
import json
import lzma
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from asflown.core.catalog import Catalog, CatalogSource
from asflown.demo import releases, scenario
from asflown.errors import AsflownError
from asflown.formats import (
    aircraft_toml,
    catalog_mavlink,
    catalog_table,
    listing,
    notes,
    overlay,
    release_folder,
)

SECONDS = 2.0
LONGEST = 20_000
Stage = str
Reader = Callable[[bytes], Iterator[Stage]]


class TookTooLong(Exception):
    """An input that hangs a reader."""


def _alarm(*_: object) -> None:
    raise TookTooLong


def _decoded(data: bytes) -> Iterator[Stage]:
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return
    yield "decoded"


def _toml(read: Callable[[bytes], object]) -> Reader:
    def run(data: bytes) -> Iterator[Stage]:
        from asflown.formats.hand_written import load_toml

        yield from _decoded(data)
        load_toml(data, "fuzz")
        yield "parsed"
        read(data)
        yield "built"

    return run


def _json(read: Callable[[bytes], object]) -> Reader:
    def run(data: bytes) -> Iterator[Stage]:
        from asflown.formats.hand_written import load_json

        yield from _decoded(data)
        if data[:1] != b"\xfd":
            load_json(data, "fuzz")
            yield "parsed"
        read(data)
        yield "built"

    return run


def _table(data: bytes) -> Iterator[Stage]:
    yield from _decoded(data)
    catalog_table.read(data, "fuzz")
    yield "built"


def _listing(data: bytes) -> Iterator[Stage]:
    shown = listing.read(data)
    assert shown.lossless, "a listing was read with loss"
    pieces = b"".join(data[piece.start : piece.end] for piece in shown.pieces)
    assert pieces == data, "the pieces do not give the bytes back"
    yield "parsed"
    if shown.settings:
        yield "built"
        listing.write(shown, shown.settings)
        yield "written"


def _overlaid(data: bytes) -> object:
    return overlay.apply(data, "fuzz", Catalog(_CATALOG.parameters, CatalogSource.STATED))


def _folder(data: bytes) -> Iterator[Stage]:
    """One file of a release folder is replaced."""
    files = dict(releases.folders()["marram-5.0"])
    names = sorted(files)
    files[names[len(data) % len(names)]] = data
    release_folder.read(files, "fuzz")
    yield "built"


_FILES = releases.folders()
_CATALOG = catalog_mavlink.read(_FILES["marram-5.0"]["catalog.json"], "catalog.json")


def _small_catalog() -> bytes:
    tree = json.loads(_FILES["marram-5.0"]["catalog.json"])
    tree["parameters"] = tree["parameters"][:20]
    return json.dumps(tree, indent=1).encode()


def _small_table() -> bytes:
    rows = ["name,group,type,units,min,max,default,choices,description"]
    rows += [
        f"{p.name},{p.group},{p.type},{p.unit or ''},,,{p.default or ''},," for p in _CATALOG.parameters[:30]
    ]
    return "\n".join(rows).encode()


def _seeds() -> Mapping[str, list[bytes]]:
    own = [scenario.found_listing("plover")[:6000], scenario.found_listing("dunlin", changes_only=True)]
    real = Path(__file__).resolve().parents[1] / "tests" / "formats" / "listing" / "real"
    real_ones = [path.read_bytes()[:4000] for path in sorted(real.glob("*.txt"))[:20]]
    overlay_lines = _FILES["marram-5.0"]["overlay.toml"].split(b"\n\n")
    notes_files = [
        data for files in _FILES.values() for path, data in files.items() if path.startswith("notes/")
    ]
    return {
        "listing": own + real_ones,
        "catalog": [_small_catalog(), lzma.compress(_small_catalog())],
        "table": [_small_table(), json.dumps([{"name": "a", "min": 0, "choices": ["x", "y"]}]).encode()],
        "notes": notes_files,
        "overlay": [b"\n\n".join(overlay_lines[:30])],
        "aircraft": [craft.text.encode() for craft in scenario.CRAFTS],
        "folder": [_FILES["marram-5.0"]["release.toml"], _FILES["marram-5.0"]["devices.toml"]],
    }


READERS: Mapping[str, Reader] = {
    "listing": _listing,
    "catalog": _json(lambda data: catalog_mavlink.read(data, "fuzz")),
    "table": _table,
    "notes": _toml(lambda data: notes.read(data, "fuzz")),
    "overlay": _toml(_overlaid),
    "aircraft": _toml(lambda data: aircraft_toml.read(data, "fuzz")),
    "folder": _folder,
}
#: A release folder is many files; it gets a smaller share of the runs.
WEIGHTS = {"folder": 0.02}

_TOKENS = [
    b"=", b"[", b"]", b"[[", b"]]", b"{", b"}", b'"', b"'", b"\\", b"\n", b"\r\n", b"\t", b",", b":", b"#",
    b"\x00",
    b"nan", b"inf", b"-0", b"1e999", b"9" * 50, b"0x", b"true", b"null", b"\xff", b"\xef\xbb\xbf", b"\x1b[2J",
    b"\xed\xa0\x80", "µ°→".encode(), b"name", b"old", b"kind", b"[" * 30, b"{" * 30, b"a." * 20, b"--More--",
]  # fmt: skip


def mutated(data: bytes, rng: random.Random) -> bytes:
    """One to five random edits of a valid file."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 5))):
        data = _EDITS[rng.randrange(len(_EDITS))](data, rng)
    return data[:LONGEST]


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes([rng.randrange(256)]) + data[at + 1 :]


def _insert(data: bytes, rng: random.Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + rng.choice(_TOKENS) + data[at:]


def _delete(data: bytes, rng: random.Random) -> bytes:
    at = rng.randint(0, len(data))
    return data[:at] + data[at + rng.randint(1, 40) :]


def _lines(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    way = rng.randrange(3)
    if way == 0:
        lines.insert(j, lines[i])
    elif way == 1:
        del lines[i]
    else:
        lines[i], lines[j] = lines[j], lines[i]
    return b"\n".join(lines)


def _cut(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randint(0, len(data))]


def _recode(data: bytes, rng: random.Random) -> bytes:
    try:
        return data.decode().encode(rng.choice(["utf-16", "utf-16-le", "latin-1", "utf-8-sig"]))
    except UnicodeError:
        return data


_EDITS = (_flip, _insert, _delete, _lines, _lines, _cut, _insert, _recode, _flip)


def invented(rng: random.Random) -> bytes:
    """Random bytes, or random tokens that look a little like a file."""
    if rng.random() < 0.3:
        return rng.randbytes(rng.randint(0, 400))
    words = [b"name", b"value", b"gain", b"set 1", b"3", b"-1.5", b" ", b"  ", b" = ", b"\n", *_TOKENS]
    return b"".join(rng.choice(words) for _ in range(rng.randint(1, 200)))[:LONGEST]


def run(count: int, seed: int, only: str | None = None, say: Callable[[str], None] = print) -> int:
    """Run and print the shares; 0 when nothing but asflown's own errors came out."""
    rng = random.Random(seed)
    seeds = _seeds()
    names = [only] if only else list(READERS)
    weights = [WEIGHTS.get(name, 1.0) for name in names]
    reached: dict[str, Counter[str]] = {name: Counter() for name in names}
    began = time.monotonic()
    signal.signal(signal.SIGALRM, _alarm)
    for number in range(count):
        name = rng.choices(names, weights)[0]
        data = mutated(rng.choice(seeds[name]), rng) if number % 2 else invented(rng)
        stages = reached[name]
        stages["inputs"] += 1
        signal.setitimer(signal.ITIMER_REAL, SECONDS)
        try:
            for stage in READERS[name](data):
                stages[stage] += 1
        except AsflownError:
            stages["refused in words"] += 1
        except BaseException as error:
            signal.setitimer(signal.ITIMER_REAL, 0)
            say(f"{name}: seed {seed} input {number}: {type(error).__name__}: {error}\n{data!r}")
            return 1
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
    _tell(reached, count, seed, time.monotonic() - began, say)
    return 0


def _tell(
    reached: Mapping[str, Counter[str]], count: int, seed: int, took: float, say: Callable[[str], None]
) -> None:
    columns = ("inputs", "decoded", "parsed", "built", "written", "refused in words")
    say(f"{'reader':<10}" + "".join(f"{column:>18}" for column in columns))
    for name, stages in reached.items():
        total = stages["inputs"] or 1
        cells = [str(stages["inputs"])]
        cells += [f"{100 * stages[c] / total:.1f} %" if stages[c] else "-" for c in columns[1:]]
        say(f"{name:<10}" + "".join(f"{cell:>18}" for cell in cells))
    say(f"{count} inputs, seed {seed}, {took:.0f} s; no traceback, no hang")


def main() -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--reader", choices=list(READERS))
    given = parser.parse_args()
    return run(given.count, given.seed, given.reader)


if __name__ == "__main__":
    sys.exit(main())
