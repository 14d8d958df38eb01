"""The options every command has."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


@Parameter(name="*")
@dataclass(frozen=True)
class Common:
    """Options every command has.

    Attributes
    ----------
    store
        Folder everything is kept in.
    as_json
        Print JSON instead of a sheet.
    plain
        ASCII characters only.
    who
        Who works, for the logbook.
    """

    store: Annotated[
        Path | None,
        Parameter(
            name="--store",
            env_var="ASFLOWN_STORE",
            help="Folder everything is kept in (default: the data folder of this machine's user).",
            show_default=False,
        ),
    ] = None
    as_json: Annotated[
        bool, Parameter(name="--json", negative=(), help="Print JSON instead of a sheet.", show_default=False)
    ] = False
    plain: Annotated[
        bool, Parameter(name="--plain", negative=(), help="ASCII characters only.", show_default=False)
    ] = False
    who: Annotated[
        str | None,
        Parameter(
            name="--who",
            env_var="ASFLOWN_WHO",
            help="Who works, for the logbook (default: the name this machine knows).",
            show_default=False,
        ),
    ] = None


#: What a command has when none of these was typed.
NO_OPTIONS = Common()
