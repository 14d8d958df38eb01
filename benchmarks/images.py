"""How long checking a 2 MB image takes, as a person waits for it, with the library for Intel HEX beside it.

``python benchmarks/images.py [--out FILE] [--runs 21]``. Each figure is of whole processes: ``asflown image
check`` for the same 2 MiB as raw binary, Intel HEX, ELF and UF2, against a board of 2 MiB, named by its
processor, described in a file that holds the flash part alone, and in one that also says what is led out.
The reference of the run is a process that reads the same HEX file with intelhex, which checks less: it takes
files without an end record. All kinds take turns, so that a busy moment meets each. The limit is 200 ms.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from asflown.formats.image.reading import read

SIZE, AT = 2 * 1024 * 1024, 0x08000000
LIMIT = 0.200
PYTHON = sys.executable
ASFLOWN = str(Path(PYTHON).with_name("asflown"))
PROCESSOR = "STM32H743xI"
FLASH = (
    f'board = "wrackline-7"\nprocessor = "{PROCESSOR}"\nimage_at = 0x08000000\nsettings_elsewhere = true\n'
)
PARTS = '[[serial]]\nname = "port A"\nid = "a"\nunit = "USART1"\ntx = "PA9"\nrx = "PA10"\n'
INTELHEX = "import sys; from intelhex import IntelHex; print(len(IntelHex(sys.argv[1]).tobinarray()))"


def firmware(seed: int = 7) -> bytes:
    """2 MiB by chance, with vectors a board would start from."""
    body = bytearray(random.Random(seed).randbytes(SIZE))
    body[:0x400] = bytes(0x400)
    struct.pack_into("<II", body, 0, 0x20010000, AT + 0x401)
    return bytes(body)


def as_hex(data: bytes) -> bytes:
    """As intelhex writes it."""
    from intelhex import IntelHex

    made = IntelHex()
    made.frombytes(data, AT)
    out = io.StringIO()
    made.write_hex_file(out)
    return out.getvalue().encode()


def as_uf2(data: bytes) -> bytes:
    """Blocks of 256 bytes, of the family the board's processor has."""
    count = len(data) // 256
    return b"".join(
        struct.pack("<8I", 0x0A324655, 0x9E5D5157, 0x2000, AT + 256 * n, 256, n, count, 0x6DB66082)
        + data[256 * n : 256 * n + 256].ljust(476, b"\0")
        + struct.pack("<I", 0x0AB16F30)
        for n in range(count)
    )


def as_elf(data: bytes) -> bytes:
    """One load segment."""
    head = b"\x7fELF\1\1\1" + bytes(9)
    head += struct.pack("<HHIIIIIHHHHHH", 2, 40, 1, AT + 0x401, 52, 0, 0x5000000, 52, 32, 1, 0, 0, 0)
    return head + struct.pack("<8I", 1, 84, AT, AT, len(data), len(data), 5, 4) + data


def timed(words: list[str], environment: dict[str, str]) -> float:
    start = time.perf_counter()
    done = subprocess.run(words, env=environment, capture_output=True, check=False)
    took = time.perf_counter() - start
    assert done.returncode == 0, done.stdout.decode() + done.stderr.decode()
    return took


def reading(data: dict[str, bytes], runs: int) -> dict[str, float]:
    """Reading alone, in this process."""
    made = {}
    for name, body in data.items():
        took = []
        for _ in range(runs):
            start = time.perf_counter()
            image = read(body, name, at=AT)
            took.append(time.perf_counter() - start)
        assert image.length == SIZE
        made[name] = statistics.median(took)
    return made


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--runs", type=int, default=21)
    words = parser.parse_args()
    body = firmware()
    files = {"raw binary": body, "Intel HEX": as_hex(body), "ELF": as_elf(body), "UF2": as_uf2(body)}
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        environment = {**os.environ, "ASFLOWN_STORE": str(folder / "store"), "ASFLOWN_WHO": "bench"}
        boards = {"flash alone": folder / "flash.toml", "with ports": folder / "ports.toml"}
        boards["flash alone"].write_text(FLASH)
        boards["with ports"].write_text(FLASH + PARTS)
        places = {}
        for name, data in files.items():
            places[name] = folder / f"{name.replace(' ', '-')}.img"
            places[name].write_bytes(data)
        described = {"processor named": PROCESSOR, **{name: str(file) for name, file in boards.items()}}
        asked = {
            f"asflown, {name}, {board}": [ASFLOWN, "image", "check", str(place), "--board", word]
            for board, word in described.items()
            for name, place in places.items()
        }
        asked["asflown --help"] = [ASFLOWN, "--help"]
        asked["python, nothing"] = [PYTHON, "-c", "pass"]
        asked["intelhex, Intel HEX"] = [PYTHON, "-c", INTELHEX, str(places["Intel HEX"])]
        took: dict[str, list[float]] = {name: [] for name in asked}
        for run in range(words.runs + 1):
            for name, command in asked.items():
                seconds = timed(command, environment)
                if run:  # the first writes what Python keeps of modules
                    took[name].append(seconds)
    rows = {
        name: {"median s": statistics.median(all_), "least s": min(all_), "most s": max(all_)}
        for name, all_ in took.items()
    }
    for name, row in rows.items():
        print(f"{name:<38}" + "".join(f"{key} {value:.3f}  " for key, value in row.items()))
    alone = reading(files, 9)
    print("reading alone, median s: " + ", ".join(f"{name} {seconds:.4f}" for name, seconds in alone.items()))
    over = [n for n, row in rows.items() if n.startswith("asflown, ") and row["median s"] > LIMIT]
    print(f"over {LIMIT * 1000:.0f} ms: {', '.join(over) or 'none'}")
    if words.out:
        result = {
            "bytes": SIZE,
            "runs": words.runs,
            "limit s": LIMIT,
            "whole process": rows,
            "reading alone, median s": alone,
        }
        words.out.write_text(json.dumps(result, indent=2) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
