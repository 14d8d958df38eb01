"""The bytes of a text log as blocks of whole lines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from asflown.errors import InputError
from asflown.formats.flightlog.container import Container, binary
from asflown.formats.flightlog.encoding import Encoding, as_utf8, encoding_of
from asflown.formats.flightlog.gunzip import Gunzip
from asflown.formats.flightlog.source import LogSource

HEAD = 64 * 1024
_LARGEST_HEAD = 8 * 1024 * 1024
_LONGEST_LINE = 64 * 1024 * 1024
_FEW_LINES = 12


class TextStream:
    """The text of a log: unpacked, without byte order mark, UTF-8 or one byte a character, lines ended by LF.

    Attributes
    ----------
    head
        The first bytes, up to the end of a line where there is one.
    """

    def __init__(self, raw: BinaryIO, container: Container, source: LogSource) -> None:
        self._raw = raw
        self._source = source
        self._unpacked = Gunzip(raw) if container is Container.GZIP else None
        begin = self._read_raw(HEAD)
        if not begin and self._unpacked is not None and self._unpacked.fault:
            why = f"it begins like a gzip file and is none ({self._unpacked.fault})"
            raise binary(source.name, why)
        self.encoding: Encoding = encoding_of(begin, source.name)
        self._kept = begin[self.encoding.skip :]
        self._read = as_utf8(self._read_kept, self.encoding)
        self.is_returns = False
        self.head, self._ahead = self._look(), b""
        self._ahead = self.head

    def _read_raw(self, size: int) -> bytes:
        try:
            return (self._raw if self._unpacked is None else self._unpacked).read(size)
        except OSError as error:
            text = (error.strerror or str(error)).lower()
            raise InputError(
                text, where=self._source.name, next_step="copy the file and try again"
            ) from error

    def _read_kept(self, size: int) -> bytes:
        if self._kept:
            kept, self._kept = self._kept, b""
            return kept
        return self._read_raw(size)

    def _look(self) -> bytes:
        """Enough of the beginning to see some lines."""
        head = self._read(HEAD)
        if not head:
            return head
        self.is_returns = b"\r" in head and b"\n" not in head.rstrip(b"\r\n")
        mark = b"\r" if self.is_returns else b"\n"
        size = HEAD
        while head.count(mark) < _FEW_LINES and len(head) < _LARGEST_HEAD:
            size *= 2
            more = self._read(size)
            if not more:
                break
            head += more
        return head.replace(b"\r", b"\n") if self.is_returns else head

    def read(self, size: int) -> bytes:
        """Some text; nothing at the end."""
        if self._ahead:
            ahead, self._ahead = self._ahead, b""
            return ahead
        data = self._read(size)
        return data.replace(b"\r", b"\n") if self.is_returns else data

    @property
    def fault(self) -> str:
        """What is wrong with the packing, empty where nothing is."""
        return "" if self._unpacked is None else self._unpacked.fault

    @property
    def taken(self) -> float:
        """Share of the file's own bytes taken so far, 0 to 1."""
        try:
            return min(1.0, self._raw.tell() / max(1, self._source.size))
        except (OSError, ValueError):
            return 0.0

    def blocks(self, size: int) -> Iterator[tuple[bytes, bool]]:
        """Blocks of whole lines of about ``size`` bytes, and whether a block is the last."""
        parts: list[bytes] = []
        held = 0
        while data := self.read(size):
            cut = data.rfind(b"\n") + 1
            if cut == 0:
                parts.append(data)
                held += len(data)
                if held > _LONGEST_LINE:
                    raise self._too_long()
                continue
            if held + cut < size // 2:
                parts.append(data)
                held += len(data)
                continue
            whole = b"".join([*parts, data])
            cut = whole.rfind(b"\n") + 1
            parts, held = ([whole[cut:]], len(whole) - cut) if cut < len(whole) else ([], 0)
            yield (whole[:cut] if parts else whole), False
        yield b"".join(parts), True

    def _too_long(self) -> InputError:
        most = _LONGEST_LINE // (1024 * 1024)
        what = f"a line is longer than {most} MB"
        return InputError(what, where=self._source.name, next_step="export the log with one row a line")
