"""The settings listing as marram's terminal prints it: three columns, a line before each set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from asflown.core.record import Key
from asflown.demo.firmware.releases import Firmware

TITLES = ("name", "value", "unit")
_WIDTHS = (18, 13, 8)


def row(key: Key, value: str, unit: str) -> str:
    """One setting."""
    name = key.name if key.index is None else f"{key.name}[{key.index}]"
    return _columns(name, value, unit)


def _columns(*cells: str) -> str:
    return "".join(cell.ljust(width) for cell, width in zip(cells, _WIDTHS, strict=True)).rstrip()


def set_line(bank: str) -> str:
    """The line before the settings of a set; typed in, it says where the rows after it go."""
    return f"<< {bank} >>"


def lines(
    firmware: Firmware,
    values: Mapping[Key, str],
    *,
    board: str,
    in_use: str | None,
    changes_only: bool = False,
) -> Iterator[str]:
    """The lines of a listing, without line ends."""
    yield f"# {firmware.family} {firmware.version} on {board}"
    yield "# changed settings only" if changes_only else "# all settings"
    if in_use is not None:
        yield f"# in use: {in_use}"
    yield ""
    yield _columns(*TITLES)
    yield "  ".join("~" * (width - 2) for width in _WIDTHS)
    bank: str | None = None
    for key, factory in firmware.factory.items():
        value = values.get(key, factory)
        if changes_only and value == factory:
            continue
        if key.bank != bank and key.bank is not None:
            yield set_line(key.bank)
        bank = key.bank
        yield row(key, value, firmware.by_name[key.name].unit)
