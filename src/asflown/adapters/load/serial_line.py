"""A serial port as the processors' boot loader wants it: 8 data bits, even parity, 1 stop bit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.errors import DeviceError

if TYPE_CHECKING:
    import serial

#: Speed where none is given; the loader learns it from the first byte (AN3155).
SPEED = 115_200


class SerialLine:
    """An open serial port.

    Raises
    ------
    DeviceError
        When it cannot be opened, or goes away.
    """

    def __init__(self, device: str, speed: int = SPEED) -> None:
        import serial

        self.device = device
        try:
            self._port: serial.Serial = serial.Serial(
                device, speed, parity=serial.PARITY_EVEN, exclusive=True, timeout=0, write_timeout=5.0
            )
        except (OSError, ValueError) as error:  # pyserial's own error is an OSError
            raise DeviceError(
                f"opening {device}", _why(error), trouble="lost", next_step="see why: asflown host-check"
            ) from None

    def send(self, data: bytes) -> None:
        """Send all of it."""
        try:
            self._port.write(data)
            self._port.flush()
        except OSError as error:
            raise self._gone(error) from None

    def receive(self, count: int, seconds: float) -> bytes:
        """Up to this many bytes, fewer when the time is over."""
        try:
            self._port.timeout = seconds
            return bytes(self._port.read(count))
        except OSError as error:
            raise self._gone(error) from None

    def close(self) -> None:
        """Let go of the port."""
        self._port.close()

    def _gone(self, error: OSError) -> DeviceError:
        return DeviceError(f"talking over {self.device}", _why(error), trouble="lost")


def _why(error: Exception) -> str:
    """The reason without the library's own framing."""
    reason = getattr(error, "strerror", None)
    return str(reason or error)
