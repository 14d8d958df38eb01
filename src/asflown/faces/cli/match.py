"""``asflown match``: what became of every name between two catalogs."""

from __future__ import annotations

from typing import Literal

from asflown.faces.cli.options import NO_OPTIONS, Common


def match(
    old: str,
    new: str,
    /,
    *,
    show: Literal["changed", "all", "retired", "new"] | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Match two catalogs: what became of every name of the old one, how sure that is, and why.

    Nothing is kept or applied and no store is needed. Confidences run from 0 to 1. Exit code 0 when done,
    also when nothing matches; 1 for bad input; never 2.

    Example: asflown match releases/marram-4.1 releases/marram-5.0 --show changed

    Example: asflown match marram-4.1 - --json < factory.txt

    Parameters
    ----------
    old
        Catalog file, factory settings listing, release folder, or the id of a release brought in; - reads
        standard input.
    new
        The same, of the new release.
    show
        Only these groups (default: all but what is unchanged).
    """
    from asflown.app import catalogs, matched
    from asflown.app.views.match_json import match_json
    from asflown.app.views.match_shown import Show, match_sheet
    from asflown.faces.cli.progress import waiting
    from asflown.faces.cli.session import DONE
    from asflown.faces.cli.session import show as show_it
    from asflown.faces.wiring import bring, kept_store

    given = catalogs.both(old, new, bring, lambda: kept_store(common.store))
    with waiting(catalogs.sizes(*given)):
        made = matched.match_given(*given)
    wanted = Show(show) if show else None
    show_it(common, lambda: match_sheet(made, wanted), lambda: match_json(made))
    return DONE
