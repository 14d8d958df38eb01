"""``asflown calibrate``: what a change of firmware throws away, computed and kept."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import App, Parameter

from asflown.faces.cli.calibrate_accelerometer import accelerometer
from asflown.faces.cli.calibrate_kept import list_, show_
from asflown.faces.cli.calibrate_logs import gyro, level, magnetometer, receiver
from asflown.faces.cli.calibrate_write import write_
from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="calibrate", help="Calibrations that a change of firmware throws away: compute one, keep it.")
app.command(accelerometer, name="accelerometer")
app.command(level, name="level")
app.command(gyro, name="gyro")
app.command(magnetometer, name="magnetometer")
app.command(receiver, name="receiver")
app.command(list_, name="list")
app.command(show_, name="show")
app.command(write_, name="write")


@app.command(name="meter")
def meter(
    what: Literal["voltage", "current"],
    readings: tuple[str, ...],
    /,
    *,
    aircraft: str | None = None,
    error: float | None = None,
    as_found: Annotated[bool, Parameter(negative=())] = False,
    as_left: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Hold the shown voltage or current against a meter: scale and offset with their 95 % intervals.

    PROPELLERS OFF; people clear; somebody at the pack's plug. Two readings or more, far apart: a nearly
    empty and a full pack. Exit code 0 when it is fit for use, 3 when more readings are needed.

    Example: asflown calibrate meter voltage 14.02=14.15 15.31=15.44 16.64=16.79 --as-found

    Parameters
    ----------
    what
        voltage or current.
    readings
        What the aircraft shows = what the meter says, in V or A.
    aircraft
        Which aircraft (default: the current one).
    error
        Standard error of the meter, in V or A: needed for an interval from two readings alone.
    as_found
        Keep it as it was before anything was corrected.
    as_left
        Keep it as it is after.
    """
    from asflown.app import kept
    from asflown.app.calibrate.kept import pair_of
    from asflown.app.calibrate.meter import calibrate_meter, read_pairs
    from asflown.app.views.calibrate_shown import calibration_json, calibration_sheet
    from asflown.core.calibrate.kept import When
    from asflown.errors import UsageError
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show, work_in

    if as_found and as_left:
        raise UsageError("it is either as found or as left", next_step="give one of them, or none")
    if error is not None and not error > 0:
        raise UsageError("a meter's error is above 0", next_step="look into its manual, e.g. --error 0.02")
    work = work_in(common)
    meant = kept.aircraft_meant(work.store, aircraft)
    when = When.AS_FOUND if as_found else When.AS_LEFT if as_left else None
    made = calibrate_meter(work, meant, what, read_pairs(readings), error=error, when=when)
    other = pair_of(work.store, made)
    is_kept = when is not None
    show(
        common,
        lambda: calibration_sheet(made, other, is_kept=is_kept),
        lambda: calibration_json(made, other, is_kept=is_kept),
    )
    return DONE if made.is_fit else NOT_ENOUGH
