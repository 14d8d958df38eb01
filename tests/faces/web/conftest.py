"""Stores for the pages: empty, a small refit of the desk, the worked example, and the second one to its verdict."""

from __future__ import annotations

import contextlib
import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import launched
from commanded import made_once, run
from desk_files import LISTING, NEW, NOTES, OLD
from playwright.sync_api import Browser, sync_playwright
from visitor import Visitor

from asflown.faces.cli.main import main


@pytest.fixture(autouse=True)
def plain_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ASFLOWN_WHO", "ines")
    for name in ("ASFLOWN_STORE", "ASFLOWN_TRACE"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture(scope="session")
def small_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The desk's releases and its aircraft, without a record."""
    folder = tmp_path_factory.mktemp("small")
    for id, files in (
        ("marl-1.0", {"catalog.csv": OLD}),
        ("marl-2.0", {"catalog.csv": NEW, "notes.toml": NOTES}),
    ):
        firmware, _, version = id.rpartition("-")
        (folder / id).mkdir()
        (folder / id / "release.toml").write_text(f'firmware = "{firmware}"\nversion = "{version}"\n')
        for name, text in files.items():
            (folder / id / name).write_text(text)
        run(folder, "release", "add", str(folder / id))
    run(folder, "aircraft", "new", "plover", "--set", "title=Plover 1", "board=brant-h7", "release=marl-1.0")
    (folder / "before.txt").write_text(LISTING)
    return folder


@pytest.fixture(scope="session")
def planned_folder(small_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with its record and an open carry-over."""
    folder = tmp_path_factory.mktemp("planned")
    shutil.copytree(small_folder, folder, dirs_exist_ok=True)
    run(folder, "found", str(folder / "before.txt"), "--aircraft", "plover")
    run(folder, "plan", "plover", "--to", "marl-2.0", code=2)
    return folder


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The worked example, as `asflown demo` leaves it."""

    def make(folder: Path) -> None:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            assert main(["demo", str(folder), "--plain"]) == 0

    return made_once(tmp_path_factory, "demo", make)


@pytest.fixture(scope="session")
def flown_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The second worked example: a flight before, the retuned plan written and read back, a flight after."""
    return made_once(tmp_path_factory, "flown", _fly)


def _fly(folder: Path) -> None:
    from asflown.demo import tern
    from asflown.faces.wiring import demo_tern_flight

    folder.mkdir()
    for path, data in tern.files().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    for release in (tern.OLD, tern.NEW):
        run(folder, "release", "add", str(folder / "releases" / release))
    run(folder, "aircraft", "new", "--from", str(folder / "tern.toml"))
    run(folder, "found", str(folder / "found.txt"), "--aircraft", "tern", "--release", tern.OLD)
    run(folder, "flight", "add", str(folder / "before.csv"), "tern", "--before", "--accept-proposed")
    run(folder, "plan", "tern", "--to", tern.NEW, code=2)
    run(folder, "decide", "tern", "new.handling", "--choose", "factory", "--why", "as delivered", code=2)
    shutil.copytree(folder / "store", folder / "open" / "store")
    run(folder, "decide", "tern", "predicted.safety", "--choose", "retuned", "--why", "keeps the answer")
    run(folder, "testcard", "tern")
    run(folder, "gate", "second-reading", "passed", "--why", "read twice")
    run(folder, "write-out", "tern", "--out", str(folder / "work"), "--everything")
    run(folder, "gate", "before-loading", "passed", "--why", "propellers off")
    left = folder / "work" / f"to-write-{tern.NEW}.txt"
    run(folder, "readback", str(left))
    (folder / "after.csv").write_bytes(demo_tern_flight(left.read_bytes(), 31))
    run(folder, "flight", "add", str(folder / "after.csv"), "tern", "--after", "--accept-proposed")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Of each module its own: what playwright keeps running does not agree with other tests."""
    with sync_playwright() as playwright:
        browser = launched(playwright)
        yield browser
        browser.close()


Copied = Callable[[Path], Path]


@pytest.fixture
def copied(tmp_path: Path) -> Copied:
    """Copies a folder, so that a test may change it."""

    def copy(folder: Path) -> Path:
        return Path(shutil.copytree(folder, tmp_path / "copy"))

    return copy


@pytest.fixture
def small(small_folder: Path, copied: Copied) -> Visitor:
    return Visitor(copied(small_folder) / "store")


@pytest.fixture
def planned(planned_folder: Path, copied: Copied) -> Visitor:
    return Visitor(copied(planned_folder) / "store")


@pytest.fixture
def demo(demo_folder: Path, copied: Copied) -> Visitor:
    return Visitor(copied(demo_folder) / "store")


@pytest.fixture
def empty(tmp_path: Path) -> Visitor:
    return Visitor(tmp_path / "store")
