"""Read a log, whatever it lies in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from asflown.core.log_table import LogTable
from asflown.errors import InputError
from asflown.formats.flightlog.container import Container, container_of
from asflown.formats.flightlog.source import LogSource

#: Bytes that the numbers of a table may take before rows are thinned.
LIMIT_BYTES = 350_000_000


def read_log(
    source: LogSource,
    *,
    rows: int | None = None,
    columns: Sequence[str] | None = None,
    limit_bytes: int = LIMIT_BYTES,
    progress: Callable[[float], None] | None = None,
) -> LogTable:
    """Read a log of columns: delimited text (gzip-packed or not), Parquet, Arrow file or stream.

    Parameters
    ----------
    source
        Where it comes from.
    rows
        Read this many rows at most; the table's hash is then empty.
    columns
        Names (or whole header cells) of the columns wanted; ``None`` for all.
    limit_bytes
        Bytes that numbers may take; a larger log is thinned by a whole number behind a filter against
        aliasing, never below 500 rows a second where its time column shows the rate; then columns are left
        out. A fact says so.
    progress
        Told the share read, 0 to 1, from time to time.

    Raises
    ------
    InputError
        When it is no table, is damaged, or has not the columns asked for.
    """
    with source.open() as stream:
        head = stream.read(64)
    if not head:
        raise InputError(
            "is empty", where=source.name, next_step="bring the log again; copying it may have failed"
        )
    container = container_of(head, source.name)
    with ThreadPoolExecutor(1) as pool:
        # Hashing and parsing both leave Python's lock: they run side by side.
        digest = pool.submit(source.sha256) if rows is None else None
        table = _read(source, container, rows, columns, limit_bytes, progress)
        if progress is not None:
            progress(1.0)
        return table if digest is None else replace(table, sha256=digest.result())


def _read(
    source: LogSource,
    container: Container,
    rows: int | None,
    columns: Sequence[str] | None,
    limit_bytes: int,
    progress: Callable[[float], None] | None,
) -> LogTable:
    if container in (Container.TEXT, Container.GZIP):
        from asflown.formats.flightlog.delimited import read_delimited

        return read_delimited(
            source, container, rows=rows, columns=columns, limit_bytes=limit_bytes, progress=progress
        )
    from asflown.formats.flightlog.parquet_arrow import read_columnar

    return read_columnar(
        source, container, rows=rows, columns=columns, limit_bytes=limit_bytes, progress=progress
    )
