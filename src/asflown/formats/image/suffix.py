"""The USB DFU suffix: the last 16 bytes of a file say for which device it is (USB DFU 1.1, appendix B).

In file order, each number least byte first::

    bcdDevice(2) idProduct(2) idVendor(2) bcdDFU(2) 'U' 'F' 'D' bLength(1)=16 dwCRC(4)

``dwCRC`` covers everything before it: CRC-32 with the reflected polynomial, begun with all ones and *not*
inverted at the end. That no inversion follows is from memory and agrees with the published CRC-32/JAMCRC.
"""

from __future__ import annotations

import struct
import zlib

from asflown.core.image.model import Suffix
from asflown.formats.image.parts import refused

LENGTH = 16
_SIGNATURE = b"UFD"


def crc(data: bytes) -> int:
    """The CRC of a DFU suffix.

    Examples
    --------
    >>> hex(crc(b"123456789"))
    '0x340bc6d9'
    """
    return ~zlib.crc32(data) & 0xFFFFFFFF


def parted(data: bytes, name: str) -> tuple[bytes, Suffix | None]:
    """The file without its suffix, and the suffix; ``None`` where it has none.

    Raises
    ------
    InputError
        When there is a suffix whose length or CRC is not right.
    """
    if len(data) < LENGTH or data[-8:-5] != _SIGNATURE:
        return data, None
    device, product, vendor, standard, _, length, stated = struct.unpack("<4H3sBI", data[-LENGTH:])
    if length < LENGTH or length > len(data):
        raise refused(f"has a DFU suffix that says it is {length} bytes long; expected 16", name)
    made = crc(data[:-4])
    if made != stated:
        raise refused(f"has a DFU suffix with the CRC 0x{stated:08X}; its bytes give 0x{made:08X}", name)
    return data[:-length], Suffix(vendor, product, device, standard)


def with_suffix(data: bytes, suffix: Suffix) -> bytes:
    """The file with a suffix put to its end."""
    head = struct.pack(
        "<4H3sB", suffix.device, suffix.product, suffix.vendor, suffix.standard, _SIGNATURE, LENGTH
    )
    return data + head + struct.pack("<I", crc(data + head))
