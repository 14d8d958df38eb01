"""``asflown behaviour``: what settings amount to: the rate loop, the stick, and safety in plain words."""

from __future__ import annotations

from cyclopts import App

from asflown.faces.cli.behaviour_read import read
from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="behaviour", help="Show what settings amount to in flight, and what others change in it.")
app.command(read, name="read")


@app.command(name="show")
def show_(record: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Show what a record's settings amount to: rate loop, stick, losing the radio, arming and battery.

    How the controllers answer (gain and phase, and the noise they pass) and the rate that the stick asks for
    need a release that declares them; the statements need roles in its catalog. Exit code 3 when nothing is
    known.

    Example: asflown behaviour show plover-001

    Parameters
    ----------
    record
        A record; an aircraft: its newest record; or a refit: the settings as it plans them.
    """
    from asflown.app.behaviour import behaviour_of
    from asflown.app.views.behaviour_shown import behaviour_json, behaviour_sheet
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show, work_in

    shown = behaviour_of(work_in(common).store, record)
    show(common, lambda: behaviour_sheet(shown), lambda: behaviour_json(shown))
    return DONE if shown.side.is_known else NOT_ENOUGH


@app.command(name="compare")
def compare_(
    first: str,
    second: str | None = None,
    /,
    *,
    plan: bool = False,
    at: float | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Compare what two records' settings amount to, or a record's and those a refit plans.

    Controllers, the stick's curve, and plain statements on losing the radio, arming and battery, whatever
    the releases call things. Exit code 0 when nothing changes, 4 when something does or only one side says
    it, 3 when nothing is known on both sides.

    Example: asflown behaviour compare plover-001 plover-004

    Parameters
    ----------
    first
        A record; an aircraft: its newest record; or a refit: the settings as it plans them.
    second
        The other one.
    plan
        Compare an aircraft as found with the plan of its open refit; then no second is named.
    at
        Hz, where firmness and delay are compared (default: the crossover measured last, else 10).
    """
    from asflown.app.behaviour import compare_behaviour
    from asflown.app.views.behaviour_compared import compared_behaviour_json, compared_behaviour_sheet
    from asflown.faces.cli.session import DIFFERS, DONE, NOT_ENOUGH, show, work_in

    compared = compare_behaviour(work_in(common).store, first, second, plan=plan, at=at)
    show(common, lambda: compared_behaviour_sheet(compared), lambda: compared_behaviour_json(compared))
    if not compared.is_known:
        return NOT_ENOUGH
    return DONE if compared.is_same else DIFFERS
