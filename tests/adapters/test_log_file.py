"""Logs on disk, in memory and through a pipe."""

from __future__ import annotations

import hashlib
import io
import os
import threading

import pytest

from asflown.adapters import log_file
from asflown.adapters.log_file import LogBytes, LogFile, log_source
from asflown.errors import InputError

DATA = b"time,a\n1,2\n2,3\n"


def test_a_file_and_bytes_are_alike(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_bytes(DATA)
    for source in (LogFile(str(path)), LogBytes("flight.csv", DATA), log_source(str(path))):
        assert source.size == len(DATA)
        assert source.sha256() == hashlib.sha256(DATA).hexdigest()
        for _ in range(2):
            with source.open() as stream:
                assert stream.read() == DATA
        assert source.name.endswith("flight.csv")


def test_only_a_file_has_a_path(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_bytes(DATA)
    assert LogFile(str(path)).path == str(path)
    assert LogBytes("x", DATA).path is None


def test_a_file_is_hashed_once(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_bytes(DATA)
    source = LogFile(str(path))
    first = source.sha256()
    path.write_bytes(b"other")
    assert source.sha256() == first


def test_standard_input(monkeypatch):
    class Stdin:
        buffer = io.BytesIO(DATA)

    monkeypatch.setattr("sys.stdin", Stdin())
    source = log_source("-")
    assert (source.name, source.path, source.size) == ("standard input", None, len(DATA))


def test_a_named_pipe_is_kept_in_memory(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    writer = threading.Thread(target=lambda: path.write_bytes(DATA))
    writer.start()
    source = log_source(str(path))
    writer.join()
    assert source.path is None
    assert source.open().read() == DATA


def test_too_much_through_a_pipe(monkeypatch):
    class Stdin:
        buffer = io.BytesIO(DATA)

    monkeypatch.setattr("sys.stdin", Stdin())
    monkeypatch.setattr(log_file, "MOST_IN_MEMORY", 5)
    with pytest.raises(InputError, match="came through the pipe") as caught:
        log_source("-")
    assert "save it as a file" in caught.value.next_step


def test_a_name_no_system_takes():
    with pytest.raises(InputError):
        log_source("a\0b")
