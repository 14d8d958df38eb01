"""Lines of bytes to an aircraft: a serial port, UDP, TCP."""

from __future__ import annotations

import re
import select
import socket
from typing import Any

from asflown.adapters.link.mavlink import Line
from asflown.adapters.load.serial_line import SPEED, SerialLine
from asflown.errors import DeviceError, UsageError

_NET = re.compile(r"(udp|udp-to|tcp):(\[[0-9a-fA-F:]+\]|[^:\s]+):(\d{1,5})")
_SERIAL = re.compile(r"serial:([^@\s]+)(?:@(\d{3,8}))?")
WAYS = "serial:/dev/ttyACM0@115200, udp:127.0.0.1:14550 (listens), udp-to:HOST:PORT, tcp:HOST:PORT"


def opened(address: str) -> Line:
    """The line of an address.

    Raises
    ------
    UsageError
        When it is no address.
    DeviceError
        When it cannot be opened.
    """
    serial, net = _SERIAL.fullmatch(address), _NET.fullmatch(address)
    if serial is not None:
        return SerialLine(serial.group(1), int(serial.group(2) or SPEED), even_parity=False)
    if net is None or not 0 < int(net.group(3)) < 65_536:
        raise UsageError(f"{address!r} is no address of a link", next_step=f"write it like {WAYS}")
    way, host, port = net.group(1), net.group(2).strip("[]"), int(net.group(3))
    return _tcp(address, host, port) if way == "tcp" else _udp(address, host, port, listens=way == "udp")


def _tcp(address: str, host: str, port: int) -> Line:
    try:
        made = socket.create_connection((host, port), timeout=5.0)
    except OSError as error:
        raise _refused(address, error) from None
    return SocketLine(address, made, None)


def _udp(address: str, host: str, port: int, *, listens: bool) -> Line:
    made: socket.socket | None = None
    try:
        family, _, _, _, place = socket.getaddrinfo(host, port, type=socket.SOCK_DGRAM)[0]
        made = socket.socket(family, socket.SOCK_DGRAM)
        if listens:
            made.bind(place)
    except OSError as error:
        if made is not None:
            made.close()
        raise _refused(address, error) from None
    return SocketLine(address, made, None if listens else place, is_udp=True)


def _refused(address: str, error: OSError) -> DeviceError:
    return DeviceError(
        f"opening {address}",
        error.strerror or str(error),
        trouble="lost",
        next_step="is the address right, and does no other program hold it?",
    )


class SocketLine:
    """A socket as a line of bytes.

    Parameters
    ----------
    peer
        To whom UDP is sent; ``None``: to whoever was heard last.
    """

    def __init__(self, address: str, opened: socket.socket, peer: Any, *, is_udp: bool = False) -> None:
        self.address, self._socket, self._peer, self._is_udp = address, opened, peer, is_udp
        self._fixed = peer is not None
        self._came = b""
        opened.setblocking(False)

    def send(self, data: bytes) -> None:
        """Send all of it; over UDP nothing is sent before somebody was heard."""
        try:
            if not self._is_udp:
                self._socket.setblocking(True)
                self._socket.sendall(data)
                self._socket.setblocking(False)
            elif self._peer is not None:
                self._socket.sendto(data, self._peer)
        except ConnectionRefusedError:
            return  # nobody listens there yet: as good as lost
        except OSError as error:
            raise self._gone(error) from None

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""
        if not self._came and not self._wait(seconds):
            return b""
        data, self._came = self._came[:count], self._came[count:]
        return data

    def _wait(self, seconds: float) -> bool:
        ready, _, _ = select.select([self._socket], [], [], seconds)
        if not ready:
            return False
        try:
            if self._is_udp:
                self._came, peer = self._socket.recvfrom(65_536)
                self._peer = self._peer if self._fixed else peer
            else:
                self._came = self._socket.recv(65_536)
                if not self._came:
                    raise self._gone(OSError("it was closed at the other end"))
        except (BlockingIOError, ConnectionRefusedError):
            return False
        except OSError as error:
            raise self._gone(error) from None
        return bool(self._came)

    def close(self) -> None:
        """Let go of it."""
        self._socket.close()

    def _gone(self, error: OSError) -> DeviceError:
        return DeviceError(f"talking over {self.address}", error.strerror or str(error), trouble="lost")
