"""Whole-process times of ``asflown --help``, ``found`` and ``plan``, as a person waits for them.

Writes its own release folders and listing (names and values drawn from a seed), starts the installed
program, and takes the best of several runs. Prints a table, and draws benchmarks/whole_process.svg.

Limits for 1,500 settings: --help 150 ms, found 0.7 s, plan 1.5 s.

    python benchmarks/bench_whole_process.py [--sizes 1500,5000,20000] [--runs 3] [--no-chart]
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ASFLOWN = Path(sys.executable).with_name("asflown")
CHART = Path(__file__).with_name("whole_process.svg")
LIMITS = {"--help": 0.15, "found": 0.7, "plan": 1.5}
AREAS = ("hover", "climb", "turn", "link", "pack", "lamp", "sound", "frame", "tilt", "brake", "drift", "log")
THINGS = ("gain", "limit", "delay", "floor", "slope", "trim", "rate", "hold", "mode", "width")
UNITS = (None, "s", "deg", "V", "Hz", "m")


def parameters(number: int, seed: int) -> list[dict[str, object]]:
    """A catalog: areas, things and a count, with the share of risky ones a real one may have."""
    draw = random.Random(seed)
    made = []
    for n in range(number):
        kind = draw.choices(("Float", "Uint16", "Uint8"), (5, 3, 2))[0]
        default = f"{draw.uniform(0, 50):.2f}" if kind == "Float" else str(draw.randrange(0, 200))
        made.append(
            {
                "name": f"{AREAS[n % 12]}.{THINGS[n // 12 % 10]}{n // 120}",
                "group": AREAS[n % 12],
                "type": kind,
                "units": draw.choice(UNITS),
                "min": 0,
                "max": 1000,
                "default": default,
                "description": f"the {THINGS[n // 12 % 10]} of {AREAS[n % 12]}, set {n // 120}",
                "consequence": draw.choices(("none", "comfort", "handling", "safety"), (50, 25, 15, 10))[0],
            }
        )
    return made


def newer(old: list[dict[str, object]], seed: int) -> tuple[list[dict[str, object]], str]:
    """The next release: 4 % renamed by a note, 3 % in other units, 2 % gone, 3 % moved, 3 % new."""
    draw = random.Random(seed)
    made, notes = [], ['from = "bench-1.0"\nto = "bench-2.0"\ncomplete = true\n']
    for parameter in old:
        chance, now = draw.random(), dict(parameter)
        if chance < 0.04:
            now["name"] = f"{now['group']}.x{str(now['name']).partition('.')[2]}"
            notes.append(f'[[change]]\nkind = "rename"\nold = "{parameter["name"]}"\nnew = "{now["name"]}"\n')
        elif chance < 0.07 and parameter["units"] == "s":
            now.update(units="ms", max=1000000, default=f"{float(str(now['default'])) * 1000:.0f}")
            unit = 'unit = {from = "s", to = "ms"}'
            notes.append(f'[[change]]\nkind = "convert"\nold = "{parameter["name"]}"\n{unit}\n')
        elif chance < 0.09:
            notes.append(f'[[change]]\nkind = "retire"\nold = "{parameter["name"]}"\nwhy = "taken out"\n')
            continue
        elif chance < 0.12 and parameter["consequence"] in ("none", "comfort"):
            now["default"] = str(draw.randrange(0, 200))
        made.append(now)
    for n in range(len(old) // 33):
        made.append({**old[n], "name": f"fresh.{THINGS[n % 10]}{n // 10}", "consequence": "comfort"})
    return made, "\n".join(notes)


def listing(old: list[dict[str, object]], seed: int) -> str:
    """A full listing: an aligned table with units, a fifth of the values changed."""
    draw = random.Random(seed)
    lines = ["# settings of board brant-h7, release bench-1.0", ""]
    for parameter in old:
        value = str(parameter["default"])
        if draw.random() < 0.2:
            value = f"{draw.uniform(0, 50):.2f}" if "." in value else str(draw.randrange(0, 200))
        unit = parameter["units"]
        lines.append(f"  {parameter['name']:<16} : {value:>10}{f' [{unit}]' if unit else ''}")
    return "\n".join(lines) + "\n"


def prepare(folder: Path, number: int) -> None:
    """Write both releases and the listing."""
    old = parameters(number, seed=number)
    new, notes = newer(old, seed=number + 1)
    for name, catalog in (("bench-1.0", old), ("bench-2.0", new)):
        place = folder / name
        place.mkdir()
        (place / "catalog.json").write_text(json.dumps(catalog))
        version = name.rpartition("-")[2]
        (place / "release.toml").write_text(f'firmware = "bench"\nversion = "{version}"\n')
    (folder / "bench-2.0" / "notes.toml").write_text(notes)
    (folder / "before.txt").write_text(listing(old, seed=number + 2))


def run(store: Path, *words: str, codes: tuple[int, ...] = (0,)) -> float:
    """Run the program once; the time it took, s."""
    env = {**os.environ, "ASFLOWN_STORE": str(store), "ASFLOWN_TRACE": "1"}
    before = time.perf_counter()
    done = subprocess.run([ASFLOWN, *words], capture_output=True, text=True, check=False, env=env)
    took = time.perf_counter() - before
    if done.returncode not in codes:
        raise SystemExit(
            f"asflown {' '.join(words)} ended with {done.returncode}:\n{done.stdout}{done.stderr}"
        )
    return took


def measure(number: int, runs: int) -> dict[str, float]:
    """Best of several runs of each command, each in a store of its own."""
    best: dict[str, float] = {}
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            prepare(folder, number)
            store = folder / "store"
            made = {"--help": run(store, "--help")}
            made["release add"] = run(store, "release", "add", str(folder / "bench-1.0"))
            run(store, "release", "add", str(folder / "bench-2.0"))
            run(store, "aircraft", "new", "bench", "--set", "release=bench-1.0", "board=brant-h7")
            made["found"] = run(store, "found", str(folder / "before.txt"))
            made["plan"] = run(store, "plan", "--to", "bench-2.0", codes=(0, 2))
            made["plan --json"] = run(store, "plan", "--json", codes=(0, 2))
        for command, took in made.items():
            best[command] = min(took, best.get(command, took))
    return best


def chart(results: dict[int, dict[str, float]]) -> str:
    """Time against settings, both axes logarithmic, as SVG."""
    import math

    commands = ("found", "plan")
    sizes = sorted(results)
    low, high = min(sizes) * 0.8, max(sizes) * 1.25
    times = [results[size][command] for size in sizes for command in commands]
    bottom, top = min(times) / 1.6, max(times) * 1.6

    def x(size: float) -> float:
        return 80 + 480 * math.log(size / low) / math.log(high / low)

    def y(took: float) -> float:
        return 300 - 250 * math.log(took / bottom) / math.log(top / bottom)

    colours, dashes = ("#0072B2", "#D55E00"), ("", ' stroke-dasharray="8 4"')
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 660 360"'
        ' font-family="sans-serif" font-size="12">'
    ]
    parts.append('<rect width="660" height="360" fill="#FFFEFB"/>')
    parts.append('<path d="M80 50V300H560" fill="none" stroke="#6B6A63"/>')
    for size in sizes:
        parts.append(f'<text x="{x(size):.0f}" y="318" text-anchor="middle">{size:,}</text>')
    for command, colour, dash in zip(commands, colours, dashes, strict=True):
        points = " ".join(f"{x(size):.0f},{y(results[size][command]):.0f}" for size in sizes)
        parts.append(f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2"{dash}/>')
        for size in sizes:
            took = results[size][command]
            parts.append(f'<circle cx="{x(size):.0f}" cy="{y(took):.0f}" r="3" fill="{colour}"/>')
            parts.append(f'<text x="{x(size) + 6:.0f}" y="{y(took) - 6:.0f}">{took:.2f}</text>')
        last = results[sizes[-1]][command]
        parts.append(f'<text x="{x(sizes[-1]) + 40:.0f}" y="{y(last):.0f}" fill="{colour}">{command}</text>')
    parts.append('<text x="320" y="345" text-anchor="middle">settings (number)</text>')
    parts.append('<text x="16" y="36">whole process (s), both axes logarithmic</text></svg>')
    return "\n".join(parts) + "\n"


def main() -> int:
    """Measure, print, draw; 1 when a limit is not held."""
    said = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    said.add_argument("--sizes", default="1500,5000,20000")
    said.add_argument("--runs", type=int, default=3)
    said.add_argument("--no-chart", action="store_true")
    words = said.parse_args()
    results = {size: measure(size, words.runs) for size in map(int, words.sizes.split(","))}
    commands = list(next(iter(results.values())))
    print(f"{'settings':>8}  " + "  ".join(f"{command:>12}" for command in commands))
    for size, made in results.items():
        print(f"{size:>8}  " + "  ".join(f"{made[command]:>10.3f} s" for command in commands))
    if len(results) > 1:
        first, last = min(results), max(results)
        growth = {c: results[last][c] / results[first][c] for c in ("found", "plan")}
        says = ", ".join(f"{command} {times:.1f} times" for command, times in growth.items())
        print(f"{last / first:.1f} times the settings: {says} the time")
        if not words.no_chart:
            CHART.write_text(chart(results))
    broken = [c for c, limit in LIMITS.items() if results.get(1500, {}).get(c, 0.0) > limit]
    for command in broken:
        print(f"{command} takes longer than {LIMITS[command]} s")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
