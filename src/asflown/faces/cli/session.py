"""What every command does at its beginning and its end: open the workplace, show a sheet or JSON."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from asflown.faces.cli.console import say_json, say_sheet
from asflown.faces.cli.options import Common
from asflown.faces.wiring import workplace

if TYPE_CHECKING:
    from asflown.app.views.sheet import Sheet
    from asflown.app.workplace import Workplace

DONE = 0
BAD_INPUT = 1
NEEDS_YOU = 2
NOT_ENOUGH = 3
DIFFERS = 4
DOES_NOT_FIT = 5


def work_in(common: Common) -> Workplace:
    """Open the store the options name."""
    return workplace(common.store, common.who)


def show(common: Common, sheet: Callable[[], Sheet], body: Callable[[], object]) -> None:
    """Print the sheet, or the JSON where that was asked for; only the one wanted is made."""
    if common.as_json:
        say_json(body())
    else:
        say_sheet(sheet(), plain=common.plain)


def one_thread_each() -> None:
    """Keep the threads of linear algebra out of the way, before numpy starts them: the job runs its own."""
    import os

    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
