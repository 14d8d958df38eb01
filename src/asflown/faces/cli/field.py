"""``asflown field``: one file for the phone, and its entries taken in."""

from __future__ import annotations

from typing import Annotated

from cyclopts import App, Parameter

from asflown.faces.cli.options import NO_OPTIONS, Common

app = App(name="field", help_format="plaintext")


@app.default
def field(
    aircraft: str | None = None,
    /,
    *,
    out: Annotated[str, Parameter(required=True)],
    common: Common = NO_OPTIONS,
) -> int:
    """Make one HTML file for the field: cards with boxes, the test card, the way back.

    It needs no network and no asflown: a phone's browser opens it. What is filled in there is saved as a
    small file and taken in later.

    Example: asflown field plover --out plover-field.html

    Parameters
    ----------
    aircraft
        Which aircraft (default: the current one).
    out
        The file to make; it must not be there yet.
    """
    from asflown.faces.cli.session import one_thread_each

    one_thread_each()
    from asflown.app import kept
    from asflown.app.field import field_sheet
    from asflown.app.views.field_shown import field_json_made, field_sheet_made
    from asflown.faces.cli.session import DONE, show, work_in
    from asflown.faces.report.field import html_of_field
    from asflown.faces.wiring import refuse_existing, write_new

    refuse_existing(out)
    work = work_in(common)
    made = field_sheet(work, kept.aircraft_meant(work.store, aircraft))
    place = str(write_new(out, html_of_field(made).encode()))
    show(common, lambda: field_sheet_made(made, place), lambda: field_json_made(made, place))
    return DONE


@app.command
def take(file: str, /, *, common: Common = NO_OPTIONS) -> int:
    """Take in what was filled in at the field: results and notes of cards, and the flights flown.

    What was taken before is known again. Exit code 2 when an entry could not be noted; the reason is said and
    nothing of the file is lost.

    Example: asflown field take plover-r1-entries.json

    Parameters
    ----------
    file
        The entries that the field sheet saved.
    """
    from asflown.app.field import take_entries
    from asflown.app.views.field_shown import taken_json, taken_sheet
    from asflown.faces.cli.session import DONE, NEEDS_YOU, show, work_in
    from asflown.faces.wiring import read_file

    work = work_in(common)
    taken = take_entries(work, *read_file(file))
    show(common, lambda: taken_sheet(taken), lambda: taken_json(taken))
    return NEEDS_YOU if taken.refused else DONE
