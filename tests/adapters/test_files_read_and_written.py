"""A person's files and folders: read with clear errors, written whole or not at all."""

from __future__ import annotations

import errno
import io
import os
import sys
from pathlib import Path

import pytest

from asflown.adapters import files
from asflown.adapters.files import read_file, read_folder, write_new
from asflown.adapters.folders import write_folder
from asflown.errors import InputError


def refused(call, *arguments, **more) -> str:
    with pytest.raises(InputError) as error:
        call(*arguments, **more)
    assert error.value.next_step
    assert error.value.where is not None
    return str(error.value)


def test_a_file_is_read_with_its_name(tmp_path):
    (tmp_path / "before.txt").write_bytes(b"\0\xff\r\n")
    assert read_file(str(tmp_path / "before.txt")) == (b"\0\xff\r\n", "before.txt")


def test_standard_input(monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"a\xff")))
    assert read_file("-") == (b"a\xff", "standard-input.txt")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"x" * 11)))
    assert "larger than" in refused(read_file, "-", largest=10)
    monkeypatch.setattr(sys, "stdin", None)
    assert read_file("-")[0] == b""


def test_what_cannot_be_read_is_said(tmp_path):
    assert "no such file" in refused(read_file, str(tmp_path / "none"))
    assert "is a directory" in refused(read_file, str(tmp_path))
    assert "give a file in it" in refused(read_file, str(tmp_path))
    assert "null" in refused(read_file, "a\0b")
    assert "name too long" in refused(read_file, "a" * 300)
    assert "no such file" in refused(read_file, "")


def test_a_file_without_the_right_to_read_it(tmp_path, monkeypatch):
    def denied(*_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(files, "open", denied, raising=False)
    assert "permission denied" in refused(read_file, str(tmp_path / "x"))


def test_a_file_that_is_too_large_is_not_read_whole(tmp_path):
    (tmp_path / "x").write_bytes(b"x" * 101)
    assert read_file(str(tmp_path / "x"), largest=101)[0] == b"x" * 101
    assert "larger than 0 MB" in refused(read_file, str(tmp_path / "x"), largest=100)
    if Path("/dev/zero").exists():
        assert "larger than 1 MB" in refused(read_file, "/dev/zero", largest=1024**2)


@pytest.mark.skipif(sys.platform in ("darwin", "win32"), reason="file names are Unicode there")
def test_a_name_that_is_no_unicode_can_be_kept(tmp_path):
    odd = os.fsdecode(bytes(tmp_path) + b"/caf\xe9.txt")
    Path(odd).write_bytes(b"x")
    assert read_file(odd) == (b"x", "caf?.txt")
    assert read_folder(str(tmp_path)) == {"caf?.txt": b"x"}


def test_a_folder_is_read_with_what_is_below_it(tmp_path):
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "a" / "b" / "c.txt").write_bytes(b"c")
    (tmp_path / "z").write_bytes(b"z")
    (tmp_path / ".hidden").write_bytes(b"h")
    (tmp_path / ".folder").mkdir()
    (tmp_path / ".folder" / "x").write_bytes(b"h")
    assert read_folder(str(tmp_path)) == {"a/b/c.txt": b"c", "z": b"z"}
    assert list(read_folder(str(tmp_path))) == ["a/b/c.txt", "z"]
    assert "holds more than 1 files" in refused(read_folder, str(tmp_path), most=1)
    assert "holds more than 0 MB" in refused(read_folder, str(tmp_path), largest=1)
    assert "no such folder" in refused(read_folder, str(tmp_path / "none"))
    assert "is a file, a folder is wanted" in refused(read_folder, str(tmp_path / "z"))


def test_a_file_is_written_and_never_over_another(tmp_path):
    path = tmp_path / "new" / "out.txt"
    assert write_new(str(path), b"one") == path
    assert "not written over" in refused(write_new, str(path), b"two")
    assert path.read_bytes() == b"one"
    write_new(str(path), b"two", overwrite=True)
    assert path.read_bytes() == b"two"
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    assert "not written over" in refused(write_new, str(tmp_path / "dangling"), b"x")
    assert sorted(p.name for p in path.parent.iterdir()) == ["out.txt"]
    assert path.stat().st_mode & 0o777 == 0o666 & ~current_umask()


def current_umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_a_persons_own_part_file_is_left_alone(tmp_path):
    (tmp_path / "out.txt.part").write_bytes(b"theirs")
    write_new(str(tmp_path / "out.txt"), b"ours")
    assert (tmp_path / "out.txt.part").read_bytes() == b"theirs"


def test_a_memory_card_has_no_second_names(tmp_path, monkeypatch):
    """FAT, as on most memory cards, answers a hard link with EPERM (link(2) of the Linux manual)."""

    def no_links(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(files.os, "link", no_links)
    write_new(str(tmp_path / "out.txt"), b"one")
    assert (tmp_path / "out.txt").read_bytes() == b"one"
    assert "not written over" in refused(write_new, str(tmp_path / "out.txt"), b"two")


def test_one_that_appears_meanwhile_is_not_replaced(tmp_path, monkeypatch):
    path, link = tmp_path / "out.txt", os.link

    def meanwhile(partial: Path, target: Path) -> None:
        path.write_bytes(b"theirs")
        link(partial, target)

    monkeypatch.setattr(files.os, "link", meanwhile)
    assert "not written over" in refused(write_new, str(path), b"ours")
    assert path.read_bytes() == b"theirs"
    assert [p.name for p in tmp_path.iterdir()] == ["out.txt"]


@pytest.mark.parametrize("write", [write_new, lambda path, data: write_folder(path, {"a/b": data})])
def test_a_full_disk_leaves_nothing_behind(tmp_path, monkeypatch, write):
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("asflown.adapters.to_disk.os.fsync", full)
    assert "no space left" in refused(write, str(tmp_path / "out"), b"x")
    assert list(tmp_path.iterdir()) == []


def test_places_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    for write, data in ((write_new, b"x"), (write_folder, {"a": b"x"})):
        said = refused(write, str(tmp_path / "file" / "out"), data)
        assert "not a directory" in said or "there already" in said or "file exists" in said
    assert "null" in refused(write_new, str(tmp_path / "a\0b"), b"x")


def test_a_folder_is_written_whole(tmp_path):
    made = write_folder(str(tmp_path / "out"), {"a/b.txt": b"b", "c": b"c"})
    assert read_folder(str(made)) == {"a/b.txt": b"b", "c": b"c"}
    assert "not written over" in refused(write_folder, str(made), {})
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
