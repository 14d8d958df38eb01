"""``asflown plan``: make the carry-over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common
from asflown.faces.cli.printed import NO_PRINT, Print

if TYPE_CHECKING:
    from asflown.app.views.sheet import Sheet


def plan(
    aircraft: str | None = None,
    /,
    *,
    to: str | None = None,
    device: str = "board",
    notes: Annotated[tuple[str, ...], Parameter(consume_multiple=True, negative=())] = (),
    new_board: str | None = None,
    like: str | None = None,
    record: str | None = None,
    show: Literal["needs-you", "changed", "all"] | None = None,
    print_to: Print = NO_PRINT,
    common: Common = NO_OPTIONS,
) -> int:
    """Make the carry-over: one disposition for every setting found and every new one.

    Nothing is touched. Exit code 0 when everything is decided, 2 when something waits for you.

    Example: asflown plan plover --to marram-5.0

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    to
        The release to go to (default: the open refit's).
    device
        board, or the name of a fitted device with settings of its own.
    notes
        Change notes that came with no release, TOML files.
    new_board
        The same settings onto another board, e.g. after a crash.
    like
        Copy the proven set-up of that aircraft onto this one.
    record
        A record other than the newest.
    show
        Which part of the sheet is open.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import carry_over, kept
    from asflown.app.views.carry_json import carry_json
    from asflown.app.views.carry_shown import Show, carry_sheet, needs_person
    from asflown.faces.cli.printed import check, put, told
    from asflown.faces.cli.session import DONE, NEEDS_YOU, work_in
    from asflown.faces.cli.session import show as show_sheet
    from asflown.faces.report.kinds import carry_printed
    from asflown.faces.wiring import read_file

    check(print_to)
    work = work_in(common)
    made = carry_over.make_plan(
        work,
        carry_over.Ask(
            aircraft=kept.aircraft_meant(work.store, aircraft),
            to_release=to,
            device=device,
            notes=tuple(read_file(path) for path in notes),
            new_board=new_board,
            like=like,
            record=record,
        ),
    )
    folding = Show(show) if show else None
    foreseen = carry_over.foreseen(work.store, made)

    def sheet() -> Sheet:
        return carry_sheet(made, folding, foreseen)

    def body() -> dict[str, Any]:
        return carry_json(made, foreseen)

    paper = put(print_to, lambda: carry_printed(made, folding, foreseen))
    show_sheet(common, lambda: told(paper, sheet()), lambda: told(paper, body()))
    return NEEDS_YOU if needs_person(made) else DONE
