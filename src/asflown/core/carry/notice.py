"""Findings of a carry-over: what a person should know beside the lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.core.carry.dispositions import Basis, Disposition, Line
from asflown.core.carry.frame import Frame
from asflown.core.catalog import Consequence, DeviceNeed, Release
from asflown.core.finding import Finding
from asflown.core.record import Extent, Record, Repeated


def notice(
    frame: Frame,
    record: Record,
    new: Release,
    aircraft: Aircraft | None,
    lines: Iterable[Line],
    factory: Record | None = None,
) -> tuple[Finding, ...]:
    """Everything worth knowing, what blocks first, then safety first."""
    found = [
        *_unread(record),
        *repeats(record),
        *(repeats(factory) if factory else ()),
        *_left_out(record),
        *_extent(frame, record),
        *_retired(lines),
        *_devices(new, aircraft),
        *_board(record, new),
    ]
    return tuple(sorted(found, key=lambda f: (not f.blocks, f.consequence.rank)))


def _unread(record: Record) -> Iterator[Finding]:
    lines = record.open_lines
    if not lines:
        return
    shown = "; ".join(f"line {u.line}: {u.text.strip()[:60]}" for u in lines[:5])
    more = f" and {len(lines) - 5} more" if len(lines) > 5 else ""
    yield Finding(
        source="listing",
        subject=record.id,
        consequence=Consequence.UNKNOWN,
        statement=f"{len(lines)} lines of the listing were not understood: {shown}{more}",
        ways_out=(
            "say that they are no settings (found … --set-aside LINES)",
            "pin the line's shape (found … --shape PATTERN)",
            "capture the listing again",
        ),
        blocks=True,
    )


def repeats(record: Record) -> Iterator[Finding]:
    """What stands more than once in a record's listing; it blocks until a person says which counts.

    A repeated line with the same value again is told, and does not block.
    """
    waiting = record.open_repeats
    if waiting:
        shown = "; ".join(_repeat(again) for again in waiting[:8])
        more = f"; and {len(waiting) - 8} more" if len(waiting) > 8 else ""
        number = "1 setting stands" if len(waiting) == 1 else f"{len(waiting)} settings stand"
        yield Finding(
            source="listing",
            subject=record.id,
            consequence=Consequence.UNKNOWN,
            statement=f"{number} more than once with different values, nobody said which counts: {shown}"
            f"{more}",
            ways_out=(
                f"say which counts: asflown records say-repeated {record.id} last (or first)",
                "capture the listing again",
            ),
            blocks=True,
        )
    for again in record.repeated:
        if again not in waiting:
            counts = f", the {record.repeated_said} counts" if again.differs else ""
            yield Finding(
                "listing",
                again.key,
                Consequence.UNKNOWN if again.differs else Consequence.NONE,
                f"{_repeat(again)}{counts}",
            )


def _repeat(again: Repeated) -> str:
    values = ", ".join(
        f"{value} (line {line})" for value, line in zip(again.values, again.lines, strict=True)
    )
    return f"{again.key}: {values}"


def _left_out(record: Record) -> Iterator[Finding]:
    if record.left_out:
        yield Finding(
            "record",
            record.id,
            Consequence.UNKNOWN,
            f"{record.left_out} private settings were left out when this record was handed over",
            (
                "ask for it with them: asflown handover --with-private",
                "take a record of your own: asflown found",
            ),
            blocks=True,
        )


def _extent(frame: Frame, record: Record) -> Iterator[Finding]:
    if record.extent is Extent.UNKNOWN:
        yield Finding(
            "listing",
            record.id,
            Consequence.UNKNOWN,
            "nothing tells whether the listing shows every setting or only those that differ from factory",
            ("say which: found … --extent full, or --extent changes-only",),
            blocks=True,
        )
    if record.extent is Extent.CHANGES_ONLY and not frame.old.catalog_keys:
        yield Finding(
            "listing",
            record.id,
            Consequence.UNKNOWN,
            "the listing shows changes only, and the old factory values are not known: what the new release's"
            " factory values move cannot be told, and the way back is not complete",
            ("add the old release's factory listing or catalog", "capture a full listing"),
            blocks=True,
        )


def _retired(lines: Iterable[Line]) -> Iterator[Finding]:
    for line in lines:
        if line.disposition is not Disposition.RETIRE or line.consequence is not Consequence.SAFETY:
            continue
        if line.basis is Basis.BELONGING:  # it stays on the aircraft it belongs to
            continue
        name = ", ".join(str(item.key) for item in line.old)
        value = ", ".join(item.value for item in line.old)
        says = f"{name} (found {value}) is gone: {line.consequence_why or line.why}"
        ways = ("check on the bench card what happens without it", "stay on the old release (not now)")
        yield Finding("carry-over", name, Consequence.SAFETY, says, ways)


def _devices(new: Release, aircraft: Aircraft | None) -> Iterator[Finding]:
    for need in new.device_needs or ():
        fitted = [d for d in (aircraft.devices if aircraft else ()) if d.kind == need.device]
        if not fitted:
            yield _need(need, need.device, "not stated whether one is fitted")
        for device in fitted:
            state = _version_state(device, need)
            if state is not None:
                yield _need(need, device.name, state)


def _version_state(device: FittedDevice, need: DeviceNeed) -> str | None:
    if need.least_version is None:
        return "check it on the aircraft"
    if device.version is None:
        return f"its version is not stated; at least {need.least_version} is needed"
    if _parts(device.version) >= _parts(need.least_version):
        return None
    return f"it has version {device.version}; at least {need.least_version} is needed"


def _parts(version: str) -> tuple[tuple[int, str], ...]:
    """A version as numbers and words that compare in order."""
    import re

    return tuple(
        (int(part), "") if part.isdecimal() else (-1, part) for part in re.findall(r"\d+|[a-z]+", version)
    )


def _need(need: DeviceNeed, subject: str, state: str) -> Finding:
    ways = (f"bring {subject} to what is needed before loading",) if need.least_version else ()
    return Finding("release", subject, need.consequence, f"{need.statement}: {state}", ways)


def _board(record: Record, new: Release) -> Iterator[Finding]:
    if new.boards and record.board and record.board not in new.boards:
        yield Finding(
            "release",
            record.board,
            Consequence.SAFETY,
            f"release {new.id} states images for {', '.join(new.boards)}, not for board {record.board}",
            ("find the release for this board", "say the right board"),
            blocks=True,
        )
