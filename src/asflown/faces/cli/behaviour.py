"""``asflown behaviour``: what settings amount to in the rate loop."""

from __future__ import annotations

from cyclopts import App

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(
    name="behaviour", help="Show what settings amount to in the rate loop, and what others change in it."
)


@app.command(name="show")
def show_(record: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Show how the controllers of a record's settings answer: gain and phase, and the noise they pass.

    Needs a release that declares its control structure. Exit code 3 when no axis is known.

    Example: asflown behaviour show plover-001

    Parameters
    ----------
    record
        A record, or an aircraft: its newest record.
    """
    from asflown.app.behaviour import behaviour_of
    from asflown.app.views.behaviour_shown import behaviour_json, behaviour_sheet
    from asflown.faces.cli.session import DONE, NOT_ENOUGH, show, work_in

    shown = behaviour_of(work_in(common).store, record)
    show(common, lambda: behaviour_sheet(shown), lambda: behaviour_json(shown))
    return DONE if shown.axes else NOT_ENOUGH


@app.command(name="compare")
def compare_(first: str, second: str, /, *, at: float | None = None, common: Common = NO_OPTIONS) -> int:
    """Compare the controllers of two records, in words and figures, whatever their releases call things.

    Exit code 0 when nothing changes, 4 when something does, 3 when no axis is known on both sides.

    Example: asflown behaviour compare plover-001 plover-004

    Parameters
    ----------
    first
        A record, or an aircraft: its newest record.
    second
        The other one.
    at
        Hz, where firmness and delay are compared (default: the crossover measured last, else 10).
    """
    from asflown.app.behaviour import compare_behaviour
    from asflown.app.views.behaviour_shown import compared_behaviour_json, compared_behaviour_sheet
    from asflown.faces.cli.session import DIFFERS, DONE, NOT_ENOUGH, show, work_in

    compared = compare_behaviour(work_in(common).store, first, second, at=at)
    show(common, lambda: compared_behaviour_sheet(compared), lambda: compared_behaviour_json(compared))
    if not compared.axes:
        return NOT_ENOUGH
    return DONE if compared.is_same else DIFFERS
