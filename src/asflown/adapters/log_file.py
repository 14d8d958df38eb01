"""A log on disk, in memory or from standard input, as the readers of logs take it."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import sys
import threading
from typing import BinaryIO

from asflown.adapters.files import STANDARD_INPUT, readable
from asflown.errors import InputError

#: The most bytes of a log kept in memory (standard input, a pipe).
MOST_IN_MEMORY = 512 * 1024 * 1024


class LogFile:
    """A log that lies on disk.

    Parameters
    ----------
    path
        Of a regular file.

    Raises
    ------
    InputError
        When it cannot be read.
    """

    def __init__(self, path: str) -> None:
        self._path = path
        self._sum: str | None = None
        self._lock = threading.Lock()
        try:
            self._size = os.stat(path).st_size
            with self.open():
                pass
        except (OSError, ValueError) as error:
            raise _unreadable(path, error) from error

    @property
    def name(self) -> str:
        """The path as it was given."""
        return readable(self._path)

    @property
    def path(self) -> str | None:
        """The path as it was given."""
        return self._path

    @property
    def size(self) -> int:
        """Bytes, when it was first looked at."""
        return self._size

    def open(self) -> BinaryIO:
        """A new stream."""
        try:
            return open(self._path, "rb")
        except (OSError, ValueError) as error:
            raise _unreadable(self._path, error) from error

    def sha256(self) -> str:
        """SHA-256 of the bytes; read once, in pieces."""
        with self._lock:
            if self._sum is None:
                try:
                    with self.open() as stream:
                        self._sum = hashlib.file_digest(stream, "sha256").hexdigest()  # type: ignore[arg-type]
                except OSError as error:
                    raise _unreadable(self._path, error) from error
            return self._sum


class LogBytes:
    """A log that lies in memory."""

    def __init__(self, name: str, data: bytes) -> None:
        self._name = name
        self._data = data
        self._sum: str | None = None

    @property
    def name(self) -> str:
        """What messages call it."""
        return self._name

    @property
    def path(self) -> str | None:
        """None: it lies in memory."""
        return None

    @property
    def size(self) -> int:
        """Bytes."""
        return len(self._data)

    def open(self) -> BinaryIO:
        """A new stream."""
        return io.BytesIO(self._data)

    def sha256(self) -> str:
        """SHA-256 of the bytes."""
        if self._sum is None:
            self._sum = hashlib.sha256(self._data).hexdigest()
        return self._sum


def log_source(word: str) -> LogFile | LogBytes:
    """The log a person named: a file, or ``-`` for standard input.

    Raises
    ------
    InputError
        When it cannot be read, is a folder, or is larger than :data:`MOST_IN_MEMORY` and no regular file.
    """
    if word in STANDARD_INPUT:
        return _spooled("standard input", sys.stdin.buffer if sys.stdin else io.BytesIO())
    try:
        is_regular = stat.S_ISREG(os.stat(word).st_mode)
        if is_regular or os.path.isdir(word):
            return LogFile(word)
        with open(word, "rb") as stream:
            return _spooled(readable(word), stream)
    except (OSError, ValueError) as error:
        raise _unreadable(word, error) from error


def _spooled(name: str, stream: BinaryIO) -> LogBytes:
    data = stream.read(MOST_IN_MEMORY + 1)
    if len(data) > MOST_IN_MEMORY:
        raise InputError(
            f"more than {MOST_IN_MEMORY // (1024 * 1024)} MB came through the pipe",
            where=name,
            next_step="save it as a file and give the file's name",
        )
    return LogBytes(name, data)


def _unreadable(path: str, error: OSError | ValueError) -> InputError:
    step = "give a file that can be read"
    if isinstance(error, IsADirectoryError):
        step = "give the log file in it"
    elif isinstance(error, FileNotFoundError):
        step = "check the name; give - to read standard input"
    text = getattr(error, "strerror", None) or str(error)
    return InputError(text[:1].lower() + text[1:], where=readable(path), next_step=step)
