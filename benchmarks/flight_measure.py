"""Time and memory of ``asflown flight measure FILE --accept-proposed --json`` on a log of a million rows.

Flies a simulated log of 27 columns at 1 kHz (or takes one), writes it as Parquet and CSV, and runs in one go:

- the command, several times; the middle of wall and CPU time, the largest resident set;
- the imports alone: a fresh process imports every module that the command had loaded at its end;
- for comparison, polars reads the same file and ``scipy.signal.welch`` averages every column;
- the stages of the command one after another, in a process where all is imported (wall and CPU time).

On a machine that does other work judge by the CPU time. Limits beyond the imports: 1.0 s from Parquet, 1.5 s
from CSV, 1.5 times the comparison.

    python benchmarks/flight_measure.py [--seconds 1000] [--runs 5] [--file LOG.parquet]
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

POPULATION = Path(__file__).parents[1] / "tools" / "flights" / "population.py"
LIMITS = {".parquet": 1.0, ".csv": 1.5}
RATIO = 1.5
_RUN = "from asflown.faces.cli.main import main; import sys; sys.argv = ['asflown', *sys.argv[1:]]"
_LOADED = f"""{_RUN}
import atexit
names = open(sys.argv.pop(), "w")
atexit.register(lambda: print(*[n for n in list(sys.modules) if n != "__main__"], sep="\\n", file=names))
sys.exit(main())"""
_IMPORTS = """import contextlib, importlib, os, sys, warnings
os.environ["OPENBLAS_NUM_THREADS"] = "1"
warnings.simplefilter("ignore")
for name in open(sys.argv[1]).read().split():
    with contextlib.suppress(Exception):
        importlib.import_module(name)"""
_BASELINE = """import sys, time
import polars
from scipy.signal import welch
wall, cpu = time.perf_counter(), time.process_time()
read = polars.read_parquet if sys.argv[1].endswith("parquet") else polars.read_csv
table = read(sys.argv[1])
rate = 1.0 / float(table["time"][1] - table["time"][0])
for name in table.columns:
    welch(table[name].to_numpy(), rate, nperseg=1024)
print(time.perf_counter() - wall, time.process_time() - cpu)"""

Cost = tuple[float, float, float]


def spent(words: list[str]) -> Cost:
    """Run a process: wall s, CPU s, largest resident set MB."""
    env = {**os.environ, "OMP_NUM_THREADS": "1", "ASFLOWN_STORE": str(Path(words[-1]).parent / "store")}
    before = time.perf_counter()
    with tempfile.TemporaryFile() as said:
        child = subprocess.Popen(words, stdout=said, stderr=subprocess.STDOUT, env=env)
        _, status, use = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        took = time.perf_counter() - before
        if child.returncode != 0:
            said.seek(0)
            raise SystemExit(f"ended with {child.returncode}: {said.read()[-2000:].decode()}")
    return took, use.ru_utime + use.ru_stime, use.ru_maxrss / 1024


def middle(made: list[Cost]) -> Cost:
    """The middle of wall and of CPU time, the largest memory."""
    return (
        statistics.median(one[0] for one in made),
        statistics.median(one[1] for one in made),
        max(one[2] for one in made),
    )


def command(file: Path, *, code: str = _RUN + "\nsys.exit(main())", further: str | None = None) -> list[str]:
    """The words that measure a file."""
    words = [sys.executable, "-c", code, "flight", "measure", str(file), "--accept-proposed", "--json"]
    return words + ([] if further is None else [further])


def imports(file: Path, runs: int) -> Cost:
    """What importing takes that a run on this file needs, the interpreter's start included."""
    names = file.with_suffix(".modules")
    spent(command(file, code=_LOADED, further=str(names)))
    return middle([spent([sys.executable, "-c", _IMPORTS, str(names)]) for _ in range(runs)])


def baseline(file: Path, runs: int) -> tuple[float, float]:
    """Wall and CPU s of reading and Welch-averaging all columns, beyond the imports."""
    made = []
    for _ in range(runs):
        words = [sys.executable, "-c", _BASELINE, str(file)]
        done = subprocess.run(words, capture_output=True, text=True, check=True)
        made.append([float(word) for word in done.stdout.split()])
    return statistics.median(one[0] for one in made), statistics.median(one[1] for one in made)


def stages(path: str) -> dict[str, tuple[float, float]]:
    """Wall and CPU s of each stage, one after another, in this process."""
    from asflown.app.flights import measure as job
    from asflown.app.flights import settle
    from asflown.app.flights.bench import FAMILIES, bench_of
    from asflown.app.flights.conditions import stated, with_measured
    from asflown.app.flights.open_log import NOTHING_STATED, KnownBy, Opened
    from asflown.app.views.flight_measured import measured_json
    from asflown.core.columns.propose import propose
    from asflown.core.fitness import fitness
    from asflown.core.segments import segments
    from asflown.core.signal.stamps import examine
    from asflown.faces.wiring import log_source
    from asflown.formats.flightlog import read_log

    made: dict[str, tuple[float, float]] = {}

    def timed(name: str, work: Callable[[], Any]) -> Any:
        wall, cpu = time.perf_counter(), time.process_time()
        result = work()
        made[name] = (time.perf_counter() - wall, time.process_time() - cpu)
        return result

    source = log_source(path)
    table = timed("read", lambda: read_log(source))
    layout = timed("propose", lambda: propose(table, assume={}))
    opened = settle.accept(Opened(source.name, source.size, table, layout, KnownBy.PROPOSED), {})
    known = stated(NOTHING_STATED, opened.table)
    flight = timed("apply", lambda: opened.flight(known.conditions))
    known = with_measured(known, flight)
    clock = timed("examine", lambda: examine(flight.traces["time"].time))
    found = timed("segments", lambda: segments(flight))
    uses = timed("fitness", lambda: fitness(flight, found, clock))
    span = job.stretch(flight, None, None)
    bench = bench_of(flight, span, found)
    timed("even stretches", lambda: bench.longest(bench.names("rate"), bench.flying))
    if bench.flight.family("motor"):
        longest = bench.longest(bench.names(*FAMILIES), bench.flying)
        if longest is not None:
            timed("mixer", lambda: bench.mixer(longest))
    _exogeneity(timed, bench)
    parts = [timed(part.replace("_", " "), partial(job._run, part, bench, None)) for part in job.PARTS]

    def evidence() -> str:
        study = job._study(opened, flight, parts)
        results = job._results(parts)
        whole = job.Measurement(opened, flight, clock, known, span, study, found, uses, results)
        return json.dumps(measured_json(whole, None))

    timed("evidence, JSON", evidence)
    return made


def _exogeneity(timed: Callable[[str, Callable[[], Any]], Any], bench: Any) -> None:
    """Its own line; what it takes inside the response is taken off that by a second call that is kept."""
    from asflown.app.flights import response

    axes = [axis for axis in ("roll", "pitch", "yaw") if bench.flight.has(f"rate_command.{axis}")]
    kept = timed("exogeneity", lambda: response._instruments(bench, axes))
    response._instruments = lambda *_: kept


def stage_table(file: Path, tiny: Path, runs: int) -> dict[str, tuple[float, float]]:
    """The middle of several processes of the stages."""
    code = (
        "import sys, json, os; os.environ['OPENBLAS_NUM_THREADS'] = '1'; sys.path.insert(0, sys.argv[1])\n"
        "import flight_measure as bench; from asflown.app.flights import response\n"
        "own = response._instruments; bench.stages(sys.argv[2]); response._instruments = own\n"
        "print(json.dumps(bench.stages(sys.argv[3])))"
    )
    words = [sys.executable, "-c", code, str(Path(__file__).parent), str(tiny), str(file)]
    made = [
        json.loads(subprocess.run(words, capture_output=True, text=True, check=True).stdout)
        for _ in range(runs)
    ]
    return {
        name: (
            statistics.median(one[name][0] for one in made),
            statistics.median(one[name][1] for one in made),
        )
        for name in made[0]
    }


def report(file: Path, tiny: Path, runs: int) -> list[str]:
    """Measure one file and print; the limits that were not held."""
    whole, alone = middle([spent(command(file)) for _ in range(runs)]), imports(file, runs)
    plain = baseline(file, runs)
    beyond = (whole[0] - alone[0], whole[1] - alone[1])
    size = file.stat().st_size / 2**20
    print(f"\n{file.suffix[1:].upper()}, {size:.0f} MB{'':15} {'wall':>8} {'CPU':>8}")
    for name, (wall, cpu) in {
        "whole command": whole[:2],
        "imports": alone[:2],
        "beyond the imports": beyond,
        "polars + scipy.signal.welch": plain,
    }.items():
        print(f"  {name:<28} {wall:>6.2f} s {cpu:>6.2f} s")
    print(f"  {'times the comparison':<28} {beyond[0] / plain[0]:>6.2f}   {beyond[1] / plain[1]:>6.2f}")
    print(f"  largest resident set {whole[2]:.0f} MB")
    print("  stages, one after another")
    for name, (wall, cpu) in stage_table(file, tiny, runs).items():
        print(f"    {name:<26} {wall:>6.3f} s {cpu:>6.3f} s")
    broken = []
    limit = LIMITS[file.suffix]
    if beyond[0] > limit:
        broken.append(
            f"{file.suffix}: {beyond[0]:.2f} s beyond the imports, over {limit} s (CPU {beyond[1]:.2f} s)"
        )
    if beyond[0] > RATIO * plain[0]:
        broken.append(f"{file.suffix}: {beyond[0] / plain[0]:.2f} times the comparison, over {RATIO}")
    return broken


def main() -> int:
    """Make the logs, measure, print; 1 when a limit is not held."""
    said = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    said.add_argument("--seconds", type=float, default=1000.0)
    said.add_argument("--runs", type=int, default=5)
    said.add_argument("--file", type=Path, help="a Parquet log instead of a simulated one")
    words = said.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = {"long": words.seconds, "tiny": 20.0}
        for log, seconds in made.items():
            fly = [*("--seed", "11", "--structure", "quadratic"), "--seconds", f"{seconds:g}"]
            if log != "long" or words.file is None:
                out = ["--out", str(folder / f"{log}.parquet")]
                subprocess.run(
                    [sys.executable, POPULATION, *fly, *out], check=True, stdout=subprocess.DEVNULL
                )
        if words.file is not None:
            (folder / "long.parquet").symlink_to(words.file.resolve())
        write = "import polars, sys; polars.read_parquet(sys.argv[1]).write_csv(sys.argv[2])"
        broken = []
        for suffix in (".parquet", ".csv"):
            if suffix == ".csv":
                for log in made:
                    both = [str(folder / f"{log}{end}") for end in (".parquet", ".csv")]
                    subprocess.run([sys.executable, "-c", write, *both], check=True)
            print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
            broken += report(folder / f"long{suffix}", folder / f"tiny{suffix}", words.runs)
    print("\n" + ("\n".join(broken) or "every limit is held"))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
