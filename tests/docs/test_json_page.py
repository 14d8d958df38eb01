"""docs/reference/json.md names the fields each command really prints: it is run for real and compared."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

SECTION = re.compile(r"^## `asflown ([a-z -]+) --json`\n(.*?)(?=^## |\Z)", re.MULTILINE | re.DOTALL)
ROW = re.compile(r"^\| (`[^|]+`) \|", re.MULTILINE)

#: Command of the page -> how it is run in the folder of the worked example, in this order.
RUNS = {
    "release show": "release show marram-4.1",
    "image check": "image check image.bin --board STM32F407xG",
    "host-check": "host-check",
    "aircraft show": "aircraft show plover",
    "listing show": "listing show found.txt",
    "found": "found found.txt --aircraft plover --release marram-4.1 --against found-again.txt",
    "records show": "records show plover-001",
    "compare": "compare plover-001 plover-006",
    "logbook": "logbook plover",
    "verify": "verify",
    "handover": "handover plover --out again.zip",
    "match": "match releases/marram-4.1 marram-5.0",
    "notes draft": "notes draft releases/marram-4.1 releases/marram-5.0",
    "notes check": "notes check releases/marram-5.0/notes/marram-4.2.toml --new releases/marram-5.0",
    "plan": "plan plover --to marram-5.0",
    "notes from-decisions": "notes from-decisions plover --refit plover-r1",
    "gate": "gate",
    "cards": "cards plover",
    "bench": "bench plover",
    "bench read": "bench read meter meter=15.92 --aircraft plover",
    "calibrate meter": "calibrate meter voltage 14.02=14.15 15.31=15.44 16.64=16.79 --aircraft plover --as-found",
    "calibrate list": "calibrate list plover",
    "calibrate write": "calibrate write dunlin-cal1 --link simulated:mavlink:bird/sanderling.params"
    " --propellers-off --pack-unplugged",
    "write-out": "write-out plover --out work-again",
    "replies": "replies typed-again.txt",
    "readback": "readback after.txt",
    "sign": "sign plover --name R --role keeper",
    "back": "back plover --out back-again",
}

#: The worked example's own decisions, so that its files fit: group, choice, values typed.
DECISIONS = (
    ("new-unit.cm-s-to-m-s", "convert", ""),
    ("renumbered.ready.checks", "convert", ""),
    ("renumbered.shake.cut", "convert", ""),
    ("out-of-range.land.sink", "nearest", ""),
    ("conversion.switch.c.does", "value", "--value switch.c.does=0"),
    ("renumbered.radio.smooth.hz", "convert", ""),
    ("meaning-note.lift.hover", "value", "--value lift.hover=412"),
    ("successor.hold-to-station", "rename", ""),
    ("successor.to-slow", "rename", ""),
    ("moved-factory.safety", "keep", ""),
)


def fields_of(section: str) -> set[str]:
    """The fields in the first column of a section's table."""
    return {word for row in ROW.findall(section) for word in re.findall(r"`([^`]+)`", row)}


@pytest.fixture(scope="module")
def sections(root: Path) -> dict[str, set[str]]:
    text = (root / "docs" / "reference" / "json.md").read_text("utf-8")
    return {name: fields_of(body) for name, body in SECTION.findall(text)}


@pytest.fixture(scope="module")
def printed(tmp_path_factory) -> dict[str, set[str]]:
    """The fields of what every command printed."""
    folder = tmp_path_factory.mktemp("json")
    told: dict[str, set[str]] = {}

    def run(words: str, where: Path) -> dict[str, object]:
        done = subprocess.run(
            [sys.executable, "-m", "asflown.faces.cli.main", *words.split(), "--json"],
            cwd=where,
            env={**os.environ, "ASFLOWN_STORE": str(folder / "marsh" / "store"), "ASFLOWN_WHO": "Robin"},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.stdout, f"{words}: {done.stderr}"
        return dict(json.loads(done.stdout))

    demo = [sys.executable, "-m", "asflown.faces.cli.main", "demo", "marsh"]
    subprocess.run(demo, cwd=folder, capture_output=True, timeout=120, check=True)
    marsh = folder / "marsh"
    (marsh / "image.bin").write_bytes(bytes(3) + b"\x20\x09\x01\x00\x08" + bytes(400))
    bird = marsh / "bird"
    link = f"--link simulated:mavlink:{bird.name}/sanderling.params"
    subprocess.run([*demo[:-1], bird, "--aircraft", "pty", "--seconds", "0"], check=True, timeout=60)
    for words in (
        f"release add {bird.name}/dune-1.4 {link}",
        "aircraft new dunlin --set title=Dunlin release=dune-1.4",
        "calibrate meter voltage 14.02=14.15 15.31=15.44 16.64=16.79 --aircraft dunlin --as-found",
        "aircraft use plover",
    ):
        run(words, marsh)
    for name, words in RUNS.items():
        if name == "write-out":
            told["decide"] = set(settle(run, marsh))
        told[name] = set(run(words, marsh))
    return told


def settle(run, marsh: Path) -> dict[str, object]:
    """Decide as the worked example does; what the last ``decide`` printed."""
    for group, choice, typed in DECISIONS:
        run(f"decide plover {group} --choose {choice} --why tried {typed}", marsh)
    return run("decide plover --adopt-factory --why tried", marsh)


def test_every_section_is_run(sections):
    assert set(sections) == {*RUNS, "decide"}


@pytest.mark.parametrize("name", sorted({*RUNS, "decide"}))
def test_fields_are_those_printed(name, sections, printed):
    wanted = sections[name] | (sections["records show"] if name == "found" else set())
    assert wanted == printed[name]


def test_a_missing_field_is_seen():
    section = "| field | what it is |\n| --- | --- |\n| `one`, `two` | x |\n"
    assert fields_of(section) == {"one", "two"}
