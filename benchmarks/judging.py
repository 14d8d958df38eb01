"""Prediction, retune and verdict for three axes: whole processes, as a person waits for them.

Builds the second worked example up to its read-back with one flight before and one after, then times the
three commands, and the three jobs together in one fresh process. Limit: 3 s together.

    python benchmarks/judging.py [--runs 3]
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ASFLOWN = Path(sys.executable).with_name("asflown")
LIMIT = 3.0
TOGETHER = """
import os
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
from pathlib import Path
import sys
from asflown.app.judging.verdict import give
from asflown.app.predict import predict_aircraft
from asflown.app.retune import retune_aircraft
from asflown.faces.wiring import workplace
work = workplace(Path(sys.argv[1]))
assert len(predict_aircraft(work.store, "tern").axes) == 3
assert retune_aircraft(work.store, "tern").settings
assert give(work, "tern", is_noted=False).held
"""


def built(folder: Path) -> Path:
    """The store of the example, ready to be judged."""
    from asflown.demo import tern
    from asflown.faces.cli.main import main

    for path, data in tern.files().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    store = folder / "store"

    def run(*words: str, code: int = 0) -> None:
        with contextlib.redirect_stdout(io.StringIO()):
            got = main([*words, "--store", str(store)])
        assert got == code, (words, got)

    for release in (tern.OLD, tern.NEW):
        run("release", "add", str(folder / "releases" / release))
    run("aircraft", "new", "--from", str(folder / "tern.toml"))
    run("found", str(folder / "found.txt"), "--aircraft", "tern", "--release", tern.OLD)
    run("flight", "add", str(folder / "before.csv"), "tern", "--before", "--accept-proposed")
    run("plan", "tern", "--to", tern.NEW, code=2)
    run("decide", "tern", "new.handling", "--choose", "factory", "--why", "as delivered", code=2)
    run("decide", "tern", "predicted.safety", "--choose", "retuned", "--why", "keeps the old answer")
    run("testcard", "tern")
    run("gate", "second-reading", "passed", "--why", "read twice")
    run("write-out", "tern", "--out", str(folder / "work"), "--everything")
    run("gate", "before-loading", "passed", "--why", "propellers off")
    left = folder / "work" / f"to-write-{tern.NEW}.txt"
    run("readback", str(left))
    log = folder / "after.csv"
    log.write_bytes(tern.flight_log(left.read_bytes(), tern.NEW, 12))
    run("flight", "add", str(log), "tern", "--after", "--accept-proposed")
    return store


def timed(words: list[str], runs: int) -> float:
    """Seconds of the best of several runs."""
    best = float("inf")
    for _ in range(runs):
        begin = time.perf_counter()
        done = subprocess.run(words, capture_output=True, env=dict(os.environ), check=False)
        best = min(best, time.perf_counter() - begin)
        if done.returncode not in (0, 2, 3, 4):
            sys.exit(f"{words}: {done.returncode}\n{done.stderr.decode()}")
    return best


def main_() -> None:
    """Time them and print a table."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--runs", type=int, default=3)
    said = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        store = built(Path(name))
        for word in ("predict", "retune", "verdict"):
            seconds = timed([str(ASFLOWN), word, "tern", "--json", "--store", str(store)], said.runs)
            print(f"asflown {word:<10} {seconds:5.2f} s")
        seconds = timed([sys.executable, "-c", TOGETHER, str(store)], said.runs)
        print(f"{'all three together':<18} {seconds:5.2f} s   limit {LIMIT:.1f} s")


if __name__ == "__main__":
    main_()
