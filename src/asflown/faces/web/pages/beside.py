"""What stands beside a sheet: the other sheets of the same aircraft, and names that are links."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from asflown.faces.web.addresses import at
from asflown.faces.web.page import Link

#: Sheets of an aircraft, in the order of the job.
_SHEETS = (
    ("logbook", ()),
    ("about", ("about",)),
    ("records", ("records",)),
    ("flights", ("flights",)),
    ("carry-over", ("plan",)),
    ("port plan", ("ports",)),
    ("what it amounts to", ("behaviour",)),
    ("predict", ("predict",)),
    ("load", ("load",)),
    ("writing", ("write",)),
    ("replies", ("replies",)),
    ("read-back", ("read-back",)),
    ("cards", ("cards",)),
    ("bench", ("bench",)),
    ("calibrations", ("calibrations",)),
    ("field sheet", ("field",)),
    ("gates", ("gates",)),
    ("test card", ("test-card",)),
    ("verdict", ("verdict",)),
    ("sign-off", ("sign",)),
    ("go back", ("back",)),
)


def others(aircraft: str) -> tuple[Link, ...]:
    """The sheets of an aircraft."""
    return tuple(Link(label, at("aircraft", aircraft, *page)) for label, page in _SHEETS)


def links(kind: str, names: Iterable[str]) -> Mapping[str, str]:
    """Addresses of things by their names."""
    return {name: at(kind, name) for name in names}
