"""Proof that a written listing holds what it should: it is read again before anyone gets it."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.listing import Listing
from asflown.core.record import Key, Setting
from asflown.errors import Fault, InputError

#: With fewer settings than this a file may not tell its own shape; reading it pinned is enough.
THIN = 4


def wrong_settings(listing: Listing, settings: Sequence[Setting], data: bytes) -> list[Fault]:
    """What does not come back when the written file is read again; empty where all does.

    Parameters
    ----------
    listing
        The listing whose shape was used.
    settings
        What was to be written.
    data
        The written file.
    """
    wanted = {setting.key: setting.value for setting in settings}
    if not wanted:
        return []
    pinned = listing.writer.get("pinned")
    faults = _faults(wanted, data, pinned)
    few = len(wanted) < min(THIN, len(listing.settings))
    if faults and few and pinned is None:
        pins = [shape.pattern for shape in listing.shapes if "{name}" in shape.pattern]
        if any(not _faults(wanted, data, pin) for pin in pins):
            return []
    return faults


def _faults(wanted: dict[Key, str], data: bytes, pin: str | None) -> list[Fault]:
    from asflown.formats.listing.reading import read

    try:
        back = read(data, shape=pin)
    except InputError as error:
        return [Fault(f"the written file cannot be read: {error}")]
    held = {setting.key: setting.value for setting in back.settings}
    if held == wanted:
        return []
    faults = [
        Fault(
            f"{key!s} = {value!r} would be read as {held[key]!r}" if key in held else f"{key!s} would be lost"
        )
        for key, value in wanted.items()
        if held.get(key) != value
    ]
    faults += [
        Fault(f"{key!s} would be read, which was not to be written") for key in held if key not in wanted
    ]
    return faults
