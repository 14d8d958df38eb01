"""``--svg FOLDER``: figures of what a command shows, each in a file of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, overload

from cyclopts import Parameter

from asflown.app.views.sheet import Sheet, counted
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.faces.drawings import Drawings
    from asflown.figures.figure import Figure


@Parameter(name="*")
@dataclass(frozen=True)
class Draw:
    """Whether figures are drawn, and where.

    Attributes
    ----------
    svg
        Folder; ``None``: nothing is drawn.
    force
        Write over figures that are there.
    """

    svg: Annotated[
        str | None,
        Parameter(
            name="--svg",
            help="Write each figure as an SVG file into this folder, made where it is not there.",
            show_default=False,
        ),
    ] = None
    force: Annotated[
        bool,
        Parameter(
            name="--force",
            negative=(),
            help="With --svg: write over figures that are there.",
            show_default=False,
        ),
    ] = False


NO_FIGURES = Draw()


@dataclass(frozen=True)
class Drawn:
    """What was written.

    Attributes
    ----------
    files
        Path and figure.
    missing
        What could not be drawn, and why, one sentence each.
    """

    folder: str
    files: tuple[tuple[str, Figure], ...]
    missing: tuple[str, ...] = ()

    def on(self, sheet: Sheet) -> Sheet:
        """A sheet that says so."""
        if not self.files:
            return replace(sheet, notes=(*sheet.notes, "No figure could be drawn.", *self.missing))
        what = counted(len(self.files), "figure")
        return replace(sheet, notes=(*sheet.notes, f"{what} written to {self.folder}.", *self.missing))

    def within(self, body: dict[str, Any]) -> dict[str, Any]:
        """JSON that says so."""
        figures = [
            {"file": path, "title": figure.title, "caption": figure.caption} for path, figure in self.files
        ]
        return body | {"drawn": {"folder": self.folder, "figures": figures, "not_drawn": list(self.missing)}}


def check(draw: Draw) -> None:
    """Refuse a folder that holds figures already, before any work is done.

    Raises
    ------
    UsageError
        When ``--force`` stands alone.
    InputError
        When the folder holds SVG files, or is a file.
    """
    from asflown.faces.wiring import refuse_figures

    if draw.svg is None:
        if draw.force:
            raise UsageError("--force was given without --svg", next_step="say where: --svg FOLDER")
        return
    refuse_figures(draw.svg, force=draw.force)


def write(draw: Draw, of: Callable[[], Drawings]) -> Drawn | None:
    """Draw and write the figures, each file whole or not at all; ``None`` where none is wanted.

    Raises
    ------
    InputError
        When a file is there already or cannot be written.
    """
    if draw.svg is None:
        return None
    from asflown.faces.cli.progress import waiting
    from asflown.faces.wiring import write_figures
    from asflown.figures.drawn_print import svg

    named: dict[str, Figure] = {}
    drawings = of()
    for figure in drawings.figures:
        named[_free(figure.file_name, named)] = figure
    with waiting(f"drawing {counted(len(named), 'figure')}"):
        data = {name: svg(figure).encode() for name, figure in named.items()}
    paths = write_figures(draw.svg, data, force=draw.force)
    return Drawn(draw.svg, tuple(zip(paths, named.values(), strict=True)), drawings.lacks)


def _free(name: str, taken: Mapping[str, object]) -> str:
    number, made = 1, f"{name}.svg"
    while made in taken:
        number += 1
        made = f"{name}-{number}.svg"
    return made


@overload
def noted(drawn: Drawn | None, shown: Sheet) -> Sheet: ...


@overload
def noted(drawn: Drawn | None, shown: dict[str, Any]) -> dict[str, Any]: ...


def noted(drawn: Drawn | None, shown: Sheet | dict[str, Any]) -> Sheet | dict[str, Any]:
    """A sheet, or its JSON, that says what was drawn; as it is where nothing was wanted."""
    if drawn is None:
        return shown
    return drawn.on(shown) if isinstance(shown, Sheet) else drawn.within(shown)
