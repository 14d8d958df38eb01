"""A desk: a store of its own, files of its own, and the program run in this process."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from desk_files import LISTING, NEW, NOTES, OLD

from asflown.faces.cli.main import main


@dataclass(frozen=True)
class Ran:
    """What one run of the program gave."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)

    @property
    def error(self) -> Any:
        return json.loads(self.err)["error"]


class Desk:
    """Runs the program on a store and files of its own."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.store = folder / "store"
        self._capsys = capsys

    def __call__(self, *words: str, code: int | None = 0, store: Path | None = None) -> Ran:
        self._capsys.readouterr()
        got = main([*words, "--store", str(store or self.store)])
        out = self._capsys.readouterr()
        ran = Ran(got, out.out, out.err)
        assert "Traceback" not in ran.err
        assert got != 70, ran.err
        if code is not None:
            assert got == code, f"{words}\n{ran.out}\n{ran.err}"
        return ran

    def write(self, name: str, text: str | bytes) -> str:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(path)

    def release(self, id: str, **files: str) -> str:
        """Write a release folder and bring it in; ``catalog_csv`` is catalog.csv and so on."""
        firmware, _, version = id.rpartition("-")
        self.write(f"{id}/release.toml", f'firmware = "{firmware}"\nversion = "{version}"\n')
        for name, text in files.items():
            stem, _, suffix = name.rpartition("_")
            self.write(f"{id}/{stem}.{suffix}", text)
        self("release", "add", str(self.folder / id))
        return id

    def releases(self) -> None:
        self.release("marl-1.0", catalog_csv=OLD)
        self.release("marl-2.0", catalog_csv=NEW, notes_toml=NOTES)

    def plover(self) -> None:
        self("aircraft", "new", "plover", "--set", "title=Plover 1", "board=brant-h7", "release=marl-1.0")

    def found(self, text: str = LISTING, *words: str, code: int | None = 0) -> Ran:
        return self("found", self.write("before.txt", text), *words, code=code)

    def ready(self) -> None:
        """Both releases, the aircraft and its as-found record."""
        self.releases()
        self.plover()
        self.found()


@pytest.fixture
def desk(tmp_path, capsys, monkeypatch) -> Desk:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("ASFLOWN_WHO", "ines")
    for name in ("ASFLOWN_STORE", "ASFLOWN_TRACE"):
        monkeypatch.delenv(name, raising=False)
    return Desk(tmp_path, capsys)
