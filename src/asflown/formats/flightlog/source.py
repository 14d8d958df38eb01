"""Where a log comes from, as this package needs it."""

from __future__ import annotations

from typing import BinaryIO, Protocol


class LogSource(Protocol):
    """Bytes of one log that can be opened again.

    Nothing in this package opens a file by itself, with one agreed exception: ``path`` is handed to polars,
    so that it reads Parquet and Arrow files column by column without all their bytes in memory.

    Attributes
    ----------
    name
        What messages call it.
    path
        Where it lies on disk, ``None`` where it lies in memory.
    size
        Bytes.
    """

    @property
    def name(self) -> str:
        """What messages call it."""

    @property
    def path(self) -> str | None:
        """Where it lies on disk."""

    @property
    def size(self) -> int:
        """Bytes."""

    def open(self) -> BinaryIO:
        """A new stream from the first byte; the caller closes it."""

    def sha256(self) -> str:
        """SHA-256 of all bytes, hexadecimal; read in pieces, worked out once."""
