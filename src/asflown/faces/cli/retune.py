"""``asflown retune``: the new release's settings that keep the old answer."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common


def retune(
    aircraft: str | None = None,
    /,
    *,
    flight: str | None = None,
    gains_only: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Find the new release's gains and filters that keep the old answer to the stick, as a proposal.

    Within the release's ranges and steps; peak sensitivity and noise to the motors no worse than before.
    Nothing is applied. Exit code 0 when the old answer is kept, 4 when a difference remains, 2 when even the
    proposal would be unstable or close to it.

    Example: asflown retune plover

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one); it has an open refit.
    flight
        The baseline flight (default: the newest one flown with the settings as found).
    gains_only
        Turn gains alone, no filter.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.retune import retune_aircraft
    from asflown.app.views.retune_shown import retuned_json, retuned_sheet
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import DIFFERS, DONE, NEEDS_YOU, show, work_in

    store = work_in(common).store
    meant = kept.aircraft_meant(store, aircraft)
    with waiting(f"turning the settings of {meant}"):
        made = retune_aircraft(store, meant, flight=flight, filters=not gains_only)
    show(common, lambda: retuned_sheet(made), lambda: retuned_json(made))
    if made.proposed.concerns:
        return NEEDS_YOU
    return DONE if made.retuned.is_good else DIFFERS
