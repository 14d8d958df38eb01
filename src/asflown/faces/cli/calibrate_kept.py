"""``asflown calibrate list`` and ``show``: what is kept."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print


def list_(aircraft: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """List the calibrations of an aircraft, as found beside as left.

    Example: asflown calibrate list plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    """
    from asflown.app import kept
    from asflown.app.calibrate.kept import calibrations
    from asflown.app.views.calibrate_shown import list_json, list_sheet
    from asflown.faces.cli.session import DONE, show, work_in

    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    found = calibrations(store, meant)
    show(common, lambda: list_sheet(meant, found), lambda: list_json(meant, found))
    return DONE


def show_(calibration: str, /, *, print_to: Print = NO_PRINT, common: Common = NO_OPTIONS) -> int:
    """Show a calibration that is kept, beside the one at the other moment.

    Example: asflown calibrate show plover-cal1

    Parameters
    ----------
    calibration
        Its id; see asflown calibrate list.
    """
    from asflown.app.calibrate.kept import calibration_meant, pair_of
    from asflown.app.views.calibrate_shown import calibration_json, calibration_sheet
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.kinds import calibration_printed

    check(print_to)
    store = work_in(common).store
    made = calibration_meant(store, calibration)
    other = pair_of(store, made)
    paper = put(print_to, lambda: calibration_printed(made, other, is_kept=True))
    show(
        common,
        lambda: told(paper, calibration_sheet(made, other, is_kept=True)),
        lambda: told(paper, calibration_json(made, other, is_kept=True)),
    )
    return DONE
