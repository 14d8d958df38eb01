"""From the bytes of a text file to UTF-8."""

from __future__ import annotations

import codecs
from collections.abc import Callable
from dataclasses import dataclass

from asflown.formats.flightlog.container import binary

#: Control characters that no text table has: all below the blank but tab, line feed, form feed, return; and
#: NUL, which is counted apart (a logger that lost power leaves rows of them).
_CONTROLS = bytes(c for c in range(1, 32) if c not in (9, 10, 12, 13, 26, 27))
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
Read = Callable[[int], bytes]


@dataclass(frozen=True, slots=True)
class Encoding:
    """How characters are written.

    Attributes
    ----------
    name
        ``utf-8`` stands for every encoding of one byte an ASCII character: what is no UTF-8 in it is read as
        Windows-1252, block by block.
    skip
        Bytes of the byte order mark.
    """

    name: str = "utf-8"
    skip: int = 0


def encoding_of(head: bytes, name: str) -> Encoding:
    """Tell the encoding from the first bytes.

    Raises
    ------
    InputError
        When they are no text.
    """
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return Encoding(encoding, len(mark))
    wide = _wide_without_mark(head)
    if wide:
        return Encoding(wide)
    controls = len(head) - len(head.translate(None, _CONTROLS))
    if controls > max(2, len(head) // 200):
        raise binary(name, f"{controls} of its first {len(head)} bytes are control characters")
    nuls = head.rstrip(b"\0").count(0)
    if nuls > len(head) // 2 or not head.strip(b"\0"):
        raise binary(name, f"{head.count(0)} of its first {len(head)} bytes are zero")
    return Encoding()


def _wide_without_mark(head: bytes) -> str | None:
    """UTF-16 without a mark: every second byte of mostly Latin text is zero."""
    even, odd = head[0:4000:2], head[1:4000:2]
    if len(odd) < 2:
        return None
    zero_even, zero_odd = even.count(0) / len(even), odd.count(0) / len(odd)
    if zero_odd > 0.6 and zero_even < 0.1:
        return "utf-16-le"
    if zero_even > 0.6 and zero_odd < 0.1:
        return "utf-16-be"
    return None


def as_utf8(read: Read, encoding: Encoding) -> Read:
    """Wrap a read function of raw bytes (mark already taken off) so that it gives UTF-8 or one-byte text."""
    if encoding.name == "utf-8":
        return read
    decoder = codecs.getincrementaldecoder(encoding.name)("replace")
    ended = False

    def wide(size: int) -> bytes:
        nonlocal ended
        while not ended:
            raw = read(size)
            ended = not raw
            text = decoder.decode(raw, final=ended)
            if text:
                return text.encode("utf-8", "replace")
        return b""

    return wide


def mended(block: bytes) -> tuple[bytes, int, int]:
    """A block as sound UTF-8, how many of its bytes were none (read as Windows-1252), line of the first."""
    if block.isascii():
        return block, 0, 0
    try:
        block.decode("utf-8")
    except UnicodeDecodeError as error:
        count = len(block) - len(block.decode("utf-8", "ignore").encode())
        made = block.decode("cp1252", "replace").encode("utf-8")
        return made, count, block.count(b"\n", 0, error.start)
    return block, 0, 0
