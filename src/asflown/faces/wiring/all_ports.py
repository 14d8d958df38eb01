"""The ports of this machine, and simulated boards whose flash is a file (``simulated:usb:FILE``)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.app.needs import BootLoader, Plugged
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.adapters.load.ports import MachinePorts
    from asflown.core.image.flash import Sector
    from asflown.core.load.told import Told
    from asflown.demo.board_file import PtyBoard

SIMULATED = "simulated:"


class AllPorts:
    """The ports of this machine; a name that begins with ``simulated:`` is a board of the worked example."""

    def __init__(self, speed: int | None = None) -> None:
        from asflown.adapters.load.ports import MachinePorts
        from asflown.adapters.load.serial_line import SPEED

        self._machine: MachinePorts = MachinePorts(speed or SPEED)

    def plugged(self) -> tuple[Plugged, ...]:
        """What is plugged into this machine."""
        return self._machine.plugged()

    def open(self, name: str) -> BootLoader:
        """The boot loader behind a port.

        Raises
        ------
        DeviceError, UsageError, InputError
            When it cannot be opened.
        """
        return _simulated(name) if name.startswith(SIMULATED) else self._machine.open(name)

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward."""
        return self._machine.seconds()


def _simulated(name: str) -> BootLoader:
    from asflown.adapters.load.ports import MachinePorts
    from asflown.demo.board_file import PtyBoard, flash_in

    way, _, path = name.removeprefix(SIMULATED).partition(":")
    if way == "usb":
        from asflown.demo.dfu_device import SimulatedDfu
        from asflown.demo.usb_backend import SimulatedBackend

        dfu = SimulatedDfu(flash_in(path)[0])
        dfu.wait_ms = dict.fromkeys(dfu.wait_ms, 0)
        ports = MachinePorts(backend=SimulatedBackend(dfu))
        return ports.open(ports.plugged()[0].name)
    if way == "serial":
        from asflown.demo.rom_loader import SimulatedLoader

        board = PtyBoard(SimulatedLoader(*flash_in(path)))
        return _OnPty(MachinePorts().open(board.device), board)
    raise UsageError(
        f"{name!r} is no simulated board", next_step="simulated:usb:FILE or simulated:serial:FILE"
    )


class _OnPty:
    """A boot loader over a pseudo-terminal that is unplugged with it."""

    def __init__(self, loader: BootLoader, board: PtyBoard) -> None:
        self._loader, self._board = loader, board

    def connect(self) -> Told:
        """Wake it and ask what it is."""
        return self._loader.connect()

    def read(self, at: int, count: int) -> bytes:
        """Bytes of the flash."""
        return self._loader.read(at, count)

    def erase(self, sector: Sector) -> None:
        """Erase a sector."""
        self._loader.erase(sector)

    def write(self, at: int, data: bytes) -> None:
        """Write one block."""
        self._loader.write(at, data)

    def recover(self) -> None:
        """Bring the talk back into step."""
        self._loader.recover()

    def leave(self, at: int) -> None:
        """Start the firmware."""
        self._loader.leave(at)

    def close(self) -> None:
        """Let go of the port, and unplug the board."""
        self._loader.close()
        self._board.close()
