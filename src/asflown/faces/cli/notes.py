"""``asflown notes``: draft change notes from two catalogs, and look through them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from asflown.faces.cli.notes_from_decisions import from_decisions
from asflown.faces.cli.options import NO_OPTIONS, Common

if TYPE_CHECKING:
    from asflown.app.notes_draft import Draft

app = App(
    name="notes",
    help="Change notes: draft them from two catalogs, look through them, make them of decisions.",
)
app.command(from_decisions, name="from-decisions")


@app.command(name="draft")
def draft(
    old: str,
    new: str,
    /,
    *,
    from_: Annotated[str | None, Parameter(name="--from")] = None,
    to: str | None = None,
    out: str | None = None,
    replace: Annotated[bool, Parameter(negative=())] = False,
    common: Common = NO_OPTIONS,
) -> int:
    """Draft change notes from what asflown match says, to be read, corrected and shared.

    Renames, conversions and moved factory values become entries, each with how sure it is; what needs a
    person's eye is marked "to check"; retirements are written as comments. It never claims to be complete.
    Exit code 0 when done, 1 for bad input; never 2.

    Example: asflown notes draft releases/marram-4.1 releases/marram-5.0 --out notes.toml

    Parameters
    ----------
    old
        Catalog file, factory settings listing, release folder, or the id of a release brought in; - reads
        standard input.
    new
        The same, of the new release.
    from_
        Which release the old catalog is of (default: as it says itself, else its file's name).
    to
        Which release the new catalog is of.
    out
        File to write (default: standard output).
    replace
        Write over the file where it is there already.
    """
    from asflown.app import catalogs, matched, notes_draft
    from asflown.faces.cli.progress import waiting
    from asflown.faces.wiring import bring, kept_store, write_or_replace

    given = catalogs.both(old, new, bring, lambda: kept_store(common.store))
    with waiting(catalogs.sizes(*given)):
        made = notes_draft.draft(matched.match_given(*given), from_, to)
    place = str(write_or_replace(out, made.data, replace=replace)) if out is not None else None
    return _tell(common, made, place, given[0].name, given[1].name)


def _tell(common: Common, made: Draft, place: str | None, old: str, new: str) -> int:
    """The draft itself where it was not written to a file, else what was written."""
    from asflown.app.views.notes_shown import draft_json, draft_sheet
    from asflown.faces.cli.console import say_text
    from asflown.faces.cli.session import DONE, show

    if place is None and not common.as_json:
        say_text(made.data)
        return DONE
    show(common, lambda: draft_sheet(made, place or "", old, new), lambda: draft_json(made, place))
    return DONE


@app.command(name="check")
def check(
    file: str,
    /,
    *,
    old: str | None = None,
    new: str | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Look through change notes: every fault with its line, and what the catalogs say against them.

    Exit code 0 when nothing is to be corrected (remarks may be), 1 when something is; never 2.

    Example: asflown notes check notes.toml --old releases/marram-4.1 --new releases/marram-5.0

    Parameters
    ----------
    file
        The change notes; - reads standard input.
    old
        Catalog of the release before: file, listing, release folder, or id of a release brought in.
    new
        Catalog of this release.
    """
    from asflown.app import catalogs, notes_check
    from asflown.app.views.notes_shown import checked_json, checked_sheet
    from asflown.faces.cli.main import STANDARD_INPUT
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import BAD_INPUT, DONE, show
    from asflown.faces.wiring import bring, kept_store, read_file

    catalogs.refuse_input_twice(file, old, new)
    data, name = read_file(file)[0], "standard input" if file == STANDARD_INPUT else file
    sides = [
        catalogs.given(word, bring, lambda: kept_store(common.store)) if word else None for word in (old, new)
    ]
    with waiting("laying the notes beside the catalogs"):
        checked = notes_check.check(data, name, *sides)
    show(common, lambda: checked_sheet(checked), lambda: checked_json(checked))
    return BAD_INPUT if checked.faults else DONE
