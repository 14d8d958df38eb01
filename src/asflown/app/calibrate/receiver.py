"""Receiver channels: their ends, where they rest, and how quiet they are there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from asflown.app.calibrate.logs import columns_like, raw, unit_in
from asflown.core.calibrate.kept import Calibration, Rows, Samples, blank
from asflown.core.calibrate.receiver import UNIT, Channel, channels
from asflown.core.measured import Measured
from asflown.errors import InputError, UsageError

if TYPE_CHECKING:
    from asflown.app.flights.open_log import Opened

_WORDS = frozenset({"channel", "chan", "ch", "rc", "receiver", "stick", "sticks"})
#: Sticks: channels that must move (by their order in the log).
STICKS = 4
#: Shares: of the widest reach a stick must go, of half its reach it may rest beside the middle, of its reach
#: it may jitter (all common practice, no source).
REACH, BESIDE, JITTER = 0.8, 0.04, 0.005
#: What a header calls a unit, and what it is called here.
_UNITS = {"us": "µs", "µs": "µs"}
_CAUTIONS = (
    "propellers off; motors locked out: the sticks can start them; people clear, one at the pack's plug",
)


def calibrate_receiver(opened: Opened, said: Sequence[str] = ()) -> Calibration:
    """What the channels do.

    Raises
    ------
    UsageError
        When no column is a channel.
    InputError
        When the log is too short.
    """
    names = tuple(said) or tuple(columns_like(opened.table, _WORDS))
    if not names:
        raise UsageError(
            "no column of this log is a receiver channel by its name",
            where=opened.name,
            next_step="say which, sticks first: --channels COLUMN COLUMN …",
        )
    rows = raw(opened.table, names, opened.name)
    time = opened.flight().traces["time"].time
    steps = np.diff(time[np.isfinite(time)])
    steps = steps[steps > 0]
    if steps.size == 0:
        raise InputError("the log has no time that runs", where=opened.name, next_step="log time in s")
    try:
        found = channels(rows, names, 1.0 / float(np.median(steps)))
    except ValueError as error:
        raise InputError(
            str(error), where=opened.name, next_step="move every stick to all its ends, then let go for 5 s"
        ) from None
    faults = [fault for number, one in enumerate(found) for fault in _faults(one, number, found)]
    unit = _UNITS.get(unit_in(opened.table, names[0]), UNIT)
    moved = [one for one in found if not one.is_dead]
    is_fit = not faults and bool(moved)
    why = (
        "; ".join(faults[:4]) + (f" and {len(faults) - 4} more" if len(faults) > 4 else "")
        if faults
        else f"{len(moved)} channels go to their ends, rest near the middle and are quiet"
    )
    return replace(
        blank("receiver", unit),
        results=_results(found, unit),
        is_fit=is_fit,
        why=why if moved else "no channel moved",
        remarks=(
            "limits of reach, centre and jitter are common practice, no source",
            *(f"{one.name}: {one.missing} values missing" for one in found if one.missing),
        ),
        method="ends without the two outermost values, middle of the windows of 0.5 s at rest, their standard"
        " deviation",
        samples=(Samples(opened.name, opened.table.sha256, f"{rows.shape[1]} rows, {len(names)} channels"),),
        tables=(_table(found),),
        write=_write(found)
        if is_fit
        else ("move every stick to all its ends, let go for 5 s, and log it again",),
        cautions=_CAUTIONS,
    )


def _faults(one: Channel, number: int, every: Sequence[Channel]) -> list[str]:
    is_stick = number < STICKS
    if one.is_dead:
        return [f"{one.name} is dead: it never moved"] if is_stick else []
    made = []
    widest = max(each.reach for each in every)
    if is_stick and one.reach < REACH * widest:
        made.append(f"{one.name} goes {100 * one.reach / widest:.0f} % of the widest way")
    if is_stick and one.off_centre is not None and abs(one.off_centre) > BESIDE:
        made.append(f"{one.name} rests {100 * abs(one.off_centre):.1f} % beside its middle")
    if one.jitter.value is None:
        made += [f"{one.name} never rested for 0.5 s"] if is_stick else []
    elif one.jitter.value > JITTER * one.reach:
        made.append(f"{one.name} jitters by {100 * one.jitter.value / one.reach:.2f} % of its way at rest")
    return made


def _results(found: Sequence[Channel], unit: str) -> dict[str, Measured]:
    made = {}
    for one in found:
        if not one.is_dead:
            made[f"{one.name} rests at"] = replace(one.centre, unit=unit)
            made[f"{one.name} jitter"] = replace(one.jitter, unit=unit)
    return made


def _table(found: Sequence[Channel]) -> Rows:
    rows = tuple(
        (
            one.name,
            f"{one.low:g}",
            f"{one.high:g}",
            "none" if one.centre.value is None else f"{one.centre.value:.1f}",
            "" if one.off_centre is None else f"{100 * one.off_centre:+.1f}",
            "unknown" if one.jitter.value is None else f"{one.jitter.value:.3g}",
            str(one.steps),
            "dead" if one.is_dead else "moves",
        )
        for one in found
    )
    columns = ("channel", "lowest#", "highest#", "rests at#", "beside middle, %#", "jitter#", "values#", "it")
    return Rows("Channels, in the log's own units", columns, rows)


def _write(found: Sequence[Channel]) -> tuple[str, ...]:
    rests = "; ".join(
        f"{one.name} {one.low:g} / {one.centre.value:.0f} / {one.high:g}"
        for one in found
        if one.centre.value is not None
    )
    dead = max(((one.jitter.value or 0.0) for one in found), default=0.0)
    return (
        f"lowest, middle and highest of each channel: {rests or 'no channel rests in its middle'}",
        f"a dead band of {4 * dead:.3g} hides the jitter (four standard deviations)",
    )
