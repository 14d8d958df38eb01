"""Look at the machine, or wait until something new appears on it, and explain what is seen."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app.needs import Host
from asflown.core.load.host import HostSeen
from asflown.core.load.host_explained import HostFinding, Standing, explained

#: Seconds between looks, and the time a new device is given until all of it is there.
_BETWEEN, _SETTLING = 0.5, 1.0
#: Longest a person may let it wait: an hour.
LONGEST = 3600.0


@dataclass(frozen=True)
class HostChecked:
    """What was seen and what it means.

    Attributes
    ----------
    appeared
        What was not there at the beginning, in words; ``None`` where nobody waited for anything.
    waited
        Seconds.
    """

    seen: HostSeen
    findings: tuple[HostFinding, ...]
    appeared: tuple[str, ...] | None = None
    waited: float | None = None

    @property
    def is_ready(self) -> bool:
        """Whether something is ready to be written to."""
        return any(finding.standing is Standing.READY for finding in self.findings)

    @property
    def waited_in_vain(self) -> bool:
        """Whether somebody waited, and nothing new appeared."""
        return self.appeared == ()


def look(host: Host) -> HostChecked:
    """What is there now."""
    seen = host.see()
    return HostChecked(seen, explained(seen))


def watch(host: Host, seconds: float) -> HostChecked:
    """Look again and again until something new appears; what goes and comes back is new.

    Parameters
    ----------
    seconds
        How long at most.
    """
    begun = host.elapsed()
    seen = host.see()
    known = set(seen.names)
    new: tuple[str, ...] = ()
    while not new and host.elapsed() - begun < seconds:
        host.wait(_BETWEEN)
        seen = host.see()
        known &= seen.names.keys()
        if seen.names.keys() - known:
            host.wait(_SETTLING)
            seen = host.see()
            new = tuple(words for key, words in seen.names.items() if key not in known)
    return HostChecked(seen, explained(seen), new, host.elapsed() - begun)
