"""Time to read settings listings of three sizes, beside the standard library reading the same data.

usage: python benchmarks/listing.py

Prints one row per size and shape: milliseconds of the best of five runs. The reference column is configparser
(INI), csv (CSV), json (JSON) or a bare ``line.partition`` loop, which know the shape beforehand and keep no
line numbers, no bytes and no repeats.
"""

from __future__ import annotations

import configparser
import csv
import io
import json
import random
import time
from collections.abc import Callable

from asflown.formats.listing import read, write

SIZES = (1_500, 5_000, 20_000)


def settings(count: int) -> list[tuple[str, str]]:
    draw = random.Random(7)
    words = [
        "gain",
        "rate",
        "limit",
        "span",
        "tilt",
        "drift",
        "pulse",
        "lamp",
        "horn",
        "crest",
        "vane",
        "rotor",
        "mast",
        "heel",
    ]
    pairs = enumerate(draw.choices(words, k=2) for _ in range(count))
    return [(f"{one}_{two}_{number}", str(draw.randint(-99, 4000))) for number, (one, two) in pairs]


def best(work: Callable[[], object]) -> float:
    times = []
    for _ in range(5):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * min(times)


def shapes(pairs: list[tuple[str, str]]) -> dict[str, tuple[bytes, Callable[[str], object]]]:
    def ini(text: str) -> object:
        parser = configparser.ConfigParser(interpolation=None)
        parser.read_string(text)
        return parser

    def banked(step: int) -> str:
        lines = []
        for number, (name, value) in enumerate(pairs):
            if number % step == 0:
                lines.append(f"[part{number // step}]")
            lines.append(f"{name} = {value}")
        return "\n".join(lines) + "\n"

    table = "Parameter                 Value  Unit\n" + "".join(f"{n:<24}{v:>8}  ms\n" for n, v in pairs)
    return {
        "put name = value": (
            "".join(f"put {n} = {v}\n" for n, v in pairs).encode(),
            lambda text: [line.partition("=") for line in text.splitlines()],
        ),
        "ini, 200 a section": (banked(200).encode(), ini),
        "csv with titles": (
            ("name,value,unit\n" + "".join(f"{n},{v},ms\n" for n, v in pairs)).encode(),
            lambda text: list(csv.reader(io.StringIO(text))),
        ),
        "aligned table": (table.encode(), lambda text: [line.split() for line in text.splitlines()]),
        "name value": (
            "".join(f"{n} {v}\n" for n, v in pairs).encode(),
            lambda text: [line.split() for line in text.splitlines()],
        ),
        "json": (json.dumps(dict(pairs), indent=1).encode(), json.loads),
    }


def main() -> None:
    print(f"{'shape':<22}{'settings':>9}{'read ms':>10}{'write ms':>10}{'reference ms':>14}")
    for count in SIZES:
        for name, (data, reference) in shapes(settings(count)).items():
            listing = read(data)
            assert len(listing.settings) == count, (name, len(listing.settings))
            times = (
                best(lambda data=data: read(data)),
                best(lambda listing=listing: write(listing, listing.settings)),
            )
            other = best(lambda data=data, reference=reference: reference(data.decode()))
            print(f"{name:<22}{count:>9}{times[0]:>10.1f}{times[1]:>10.1f}{other:>14.1f}")


if __name__ == "__main__":
    main()
