"""A serial port: 8 data bits, 1 stop bit, and even parity where a processor's boot loader wants it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from asflown.errors import DeviceError

if TYPE_CHECKING:
    import serial

#: Speed where none is given; the loader learns it from the first byte (AN3155).
SPEED = 115_200


class SerialLine:
    """An open serial port.

    Parameters
    ----------
    even_parity
        As the processors' boot loaders want it; a text terminal has none.

    Raises
    ------
    DeviceError
        When it cannot be opened, or goes away.
    """

    def __init__(self, device: str, speed: int = SPEED, *, even_parity: bool = True) -> None:
        import serial

        self.device = device
        faults: tuple[type[Exception], ...] = (*_faults(), ValueError)
        parity = serial.PARITY_EVEN if even_parity and not _is_pseudo(device) else serial.PARITY_NONE
        try:
            self._port: serial.Serial = serial.Serial(
                device, speed, parity=parity, exclusive=True, timeout=0, write_timeout=5.0
            )
        except faults as error:
            raise DeviceError(
                f"opening {device}", _why(error), trouble="lost", next_step="see why: asflown host-check"
            ) from None

    def send(self, data: bytes) -> None:
        """Send all of it."""
        try:
            self._port.write(data)
        except _faults() as error:
            raise self._gone(error) from None

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""
        try:
            self._port.timeout = seconds
            return bytes(self._port.read(count))
        except _faults() as error:
            raise self._gone(error) from None

    def close(self) -> None:
        """Let go of the port."""
        self._port.close()

    def _gone(self, error: Exception) -> DeviceError:
        return DeviceError(f"talking over {self.device}", _why(error), trouble="lost")


def _is_pseudo(device: str) -> bool:
    """Whether it is a pseudo-terminal: it carries no parity, and refuses to be asked for it."""
    return os.path.realpath(device).startswith("/dev/pts/")


def _faults() -> tuple[type[Exception], ...]:
    """What pyserial raises: its own errors are OSErrors, those of the terminal's settings are not."""
    try:
        import termios
    except ImportError:  # Windows
        return (OSError,)
    return (OSError, termios.error)


def _why(error: Exception) -> str:
    """The reason without the library's own framing."""
    reason = getattr(error, "strerror", None) or (error.args[-1] if error.args else None)
    return str(reason or error)
