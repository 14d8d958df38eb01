"""MAVLink links of this machine, and simulated aircraft (``simulated:mavlink:FILE.params[,SCENE]``)."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asflown.app.needs import Link
    from asflown.demo.mavlink_file import FileLine

SIMULATED = "simulated:mavlink:"


class AllLinks:
    """Opens links; ``simulated:mavlink:FILE`` is an aircraft whose parameters are a file."""

    def __init__(self) -> None:
        self._simulated: FileLine | None = None

    def open(self, address: str) -> Link:
        """The link of an address.

        Raises
        ------
        DeviceError, UsageError, InputError
            When it cannot be opened, or is no address.
        """
        from asflown.adapters.link.lines import opened
        from asflown.adapters.link.mavlink import MavLink

        if not address.startswith(SIMULATED):
            return MavLink(opened(address))
        from asflown.demo.mavlink_file import FileLine

        self._simulated = FileLine(address.removeprefix(SIMULATED))
        return MavLink(self._simulated)

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward: the simulated aircraft's own, where there is one."""
        return time.monotonic() if self._simulated is None else self._simulated.now
