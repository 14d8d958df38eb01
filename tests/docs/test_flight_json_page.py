"""docs/reference/flight-json.md names the fields the flight commands really print, and every quantity."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import sys

import pytest

from asflown.core.study.quantities import METHODS, QUANTITIES

SECTION = re.compile(r"^## `asflown ([a-z -]+) --json`\n(.*?)(?=^## |\Z)", re.MULTILINE | re.DOTALL)
ROW = re.compile(r"^\| (`[^|]+`) \|", re.MULTILINE)

#: In this order, beside the example's flight.
RUNS = {
    "flight look": "flight look flight.csv",
    "flight measure": "flight measure flight.csv --aircraft plover",
    "flight list": "flight list plover",
    "flight show": "flight show plover-f1",
    "flight layout show": "flight layout show",
}


@pytest.fixture(scope="module")
def page(root):
    return (root / "docs" / "reference" / "flight-json.md").read_text("utf-8")


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("flight")
    (folder / "plover.toml").write_text('id = "plover"\ntitle = "Plover"\n', "utf-8")

    def run(*words: str, where=folder) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "asflown.faces.cli.main", *words],
            cwd=where,
            env={**os.environ, "ASFLOWN_STORE": str(folder / "store"), "ASFLOWN_WHO": "Robin"},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, f"{words}: {done.stderr}"
        return done.stdout

    run("demo", "marsh", "--flight")
    run("aircraft", "new", "--from", "plover.toml")
    (folder / "flight.csv").write_bytes((folder / "marsh" / "flight.csv").read_bytes())
    return {name: set(json.loads(run(*words.split(), "--json"))) for name, words in RUNS.items()}


@pytest.mark.parametrize("name", sorted(RUNS))
def test_the_fields_are_those_printed(name, page, printed):
    sections = dict(SECTION.findall(page))
    assert set(sections) == set(RUNS)
    fields = {word for row in ROW.findall(sections[name]) for word in re.findall(r"`([^`]+)`", row)}
    assert fields == printed[name]


def test_every_quantity_and_method_stands_on_the_page(page):
    assert [q.name for q in QUANTITIES if f"| `{q.name}` | {q.unit} |" not in page] == []
    assert [m.key for m in METHODS.values() if f"| {m.key} | {m.text} |" not in page] == []


def test_the_tables_are_fresh(root, page):
    path = root / "tools" / "make_quantities.py"
    spec = importlib.util.spec_from_file_location("make_quantities", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.wanted(page) == page, "run tools/make_quantities.py"
    assert module.wanted(page.replace("| axes", "| ax").replace("rad/s", "rad")) == page
