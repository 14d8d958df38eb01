"""What kind of file it is, from its first bytes."""

from __future__ import annotations

from enum import StrEnum

from asflown.errors import InputError

EXPORT = "export the log as CSV, Parquet or Arrow with the program that reads it, and bring that file"

_GZIP = b"\x1f\x8b"
_STREAM = b"\xff\xff\xff\xff"
#: First bytes of files that are no table, and what they are (each from its format's published description).
_KNOWN = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook", "unpack it, or save the sheet as CSV"),
    (b"PK\x05\x06", "an empty zip archive", EXPORT),
    (b"\xfd7zXZ", "packed with xz", "unpack it first"),
    (b"BZh", "packed with bzip2", "unpack it first"),
    (b"\x28\xb5\x2f\xfd", "packed with zstd", "unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it first"),
    (b"SQLite format 3\x00", "a database", "export the table as CSV"),
    (b"\x89HDF\r\n\x1a\n", "an HDF5 file", "export the table as CSV or Parquet"),
    (b"\x7fELF", "a program", "bring the log file"),
    (b"%PDF-", "a PDF", "bring the log file"),
    (b"\x89PNG", "a picture", "bring the log file"),
    (b"\xff\xd8\xff", "a picture", "bring the log file"),
    (b"FEA1", "a Feather file of version 1", "save it as Feather version 2, Parquet or CSV"),
    (b"\x89MCAP0\r\n", "an MCAP recording", EXPORT),
    (b"MATLAB 5.0 MAT", "a MAT file", "save the table as CSV"),
)


class Container(StrEnum):
    """How the table lies in the file."""

    TEXT = "text"
    GZIP = "gzip"
    PARQUET = "parquet"
    ARROW_FILE = "arrow"
    ARROW_STREAM = "arrow stream"


def container_of(head: bytes, name: str) -> Container:
    """Tell the container from the first bytes; text is what nothing else is.

    Raises
    ------
    InputError
        When the bytes are those of a kind of file that is not read.
    """
    if head.startswith(b"PAR1"):
        return Container.PARQUET
    if head.startswith(b"ARROW1"):
        return Container.ARROW_FILE
    if head.startswith(_STREAM) and len(head) >= 8:
        return Container.ARROW_STREAM
    if head.startswith(_GZIP):
        return Container.GZIP
    for magic, kind, step in _KNOWN:
        if head.startswith(magic):
            raise InputError(f"is {kind}, no table of text or columns", where=name, next_step=step)
    return Container.TEXT


def binary(name: str, why: str) -> InputError:
    """The refusal of a file whose bytes are no text."""
    return InputError(f"is a binary file of a kind that is not read: {why}", where=name, next_step=EXPORT)
