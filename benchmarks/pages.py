"""How soon the pages answer: a carry-over of 2,000 settings and other sheets, on the server and in chromium.

``python benchmarks/pages.py [--settings 2000] [--out FILE]`` makes a store of its own. Beside them stands
what a table of that size costs as a plain loop of the template library alone (the reference of the run).
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "faces" / "web"), str(ROOT / "tests" / "faces")]

from visitor import Visitor

from asflown.faces.cli.main import main as asflown


def store_of(folder: Path, number: int) -> Path:
    """A store with one aircraft whose carry-over has this many settings, a tenth of them open."""
    draw = random.Random(5)
    head = "name,type,units,min,max,default,choices,description,consequence\n"
    names = [f"{draw.choice(('arm', 'tail', 'lamp', 'rate', 'pack'))}.part{n}.value" for n in range(number)]
    old = "".join(
        f"{name},float,s,0,100,{n % 50},,setting number {n},{'handling' if n % 3 else 'none'}\n"
        for n, name in enumerate(names)
    )
    # a tenth has other names now and no notes: a person is asked
    new = "".join(
        f"{'new.' if n % 10 == 0 else ''}{name},float,s,0,100,{n % 40},,setting number {n},"
        f"{'handling' if n % 3 else 'none'}\n"
        for n, name in enumerate(names)
    )
    for version, catalog in (("1", old), ("2", new)):
        place = folder / f"many-{version}"
        place.mkdir()
        (place / "release.toml").write_text(f'firmware = "many"\nversion = "{version}"\n')
        (place / "catalog.csv").write_text(head + catalog)
    (folder / "found.txt").write_text("".join(f"{name} = {draw.uniform(0, 99):.3f}\n" for name in names))
    store = folder / "store"
    for words in (
        ("release", "add", str(folder / "many-1")),
        ("release", "add", str(folder / "many-2")),
        ("aircraft", "new", "wren", "--set", "release=many-1"),
        ("found", str(folder / "found.txt"), "--aircraft", "wren"),
        ("plan", "wren", "--to", "many-2"),
    ):
        with contextlib.redirect_stdout(io.StringIO()):
            code = asflown([*words, "--store", str(store)])
        assert code in (0, 2), (words, code)
    return store


def timed(what: Any, times: int = 9) -> tuple[float, float]:
    """First and median time, ms."""
    made = []
    for _ in range(times):
        start = time.perf_counter()
        what()
        made.append(1e3 * (time.perf_counter() - start))
    return made[0], statistics.median(made[1:])


def reference(rows: int, columns: int) -> float:
    """A table of this size by the template library alone, ms."""
    from jinja2 import Environment

    template = Environment(autoescape=True).from_string(
        "{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}"
    )
    body = [[f"cell {n} of {m}" for n in range(columns)] for m in range(rows)]
    return timed(lambda: template.render(rows=body))[1]


def painted(store: Path, paths: list[str]) -> dict[str, float]:
    """First contentful paint in chromium, ms."""
    from browser import launched, serving, window
    from playwright.sync_api import sync_playwright

    made = {}
    with sync_playwright() as playwright:
        browser = launched(playwright)
        with serving(store) as at, window(browser, at) as one:
            one.go("/")
            for path in paths:
                one.go(path)
                made[path] = one.page.evaluate(
                    "performance.getEntriesByName('first-contentful-paint')[0].startTime"
                )
        browser.close()
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--settings", type=int, default=2000)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--no-browser", action="store_true")
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        store = store_of(Path(name), said.settings)
        visitor = Visitor(store)
        plan = "/aircraft/wren/plan"
        paths = [
            "/",
            "/aircraft/wren",
            plan,
            f"{plan}?show=changed",
            f"{plan}?show=all",
            "/record/wren-001",
            f"{plan}.json",
            f"{plan}.csv?show=all",
        ]
        rows = []
        for path in paths:
            answer = visitor.raw(path)
            assert answer.status_code == 200, (path, answer.text[:500])
            first, median = timed(lambda path=path: visitor.raw(path))
            rows.append({"path": path, "bytes": len(answer.content), "first_ms": first, "median_ms": median})
        plain = reference(said.settings, 5)
        paint = {} if said.no_browser else painted(store, paths[:6])
    for row in rows:
        row["first_paint_ms"] = paint.get(row["path"])
        shown = f"{row['first_paint_ms']:.0f}" if row["first_paint_ms"] else "-"
        print(
            f"{row['path']:40} {row['bytes']:9} B  median {row['median_ms']:7.1f} ms  first paint {shown} ms"
        )
    print(f"reference: {said.settings} rows of 5 cells by the template library alone {plain:.1f} ms")
    if said.out:
        body = {"settings": said.settings, "reference_ms": plain, "pages": rows}
        said.out.write_text(json.dumps(body, indent=1) + "\n")


if __name__ == "__main__":
    main()
