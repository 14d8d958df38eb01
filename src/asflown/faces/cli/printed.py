"""``--pdf FILE``: the sheet a command shows, on paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, Literal, overload

from cyclopts import Parameter

from asflown.app.views.sheet import Sheet, counted
from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.faces.report.printed import Printed


@Parameter(name="*")
@dataclass(frozen=True)
class Print:
    """Whether a sheet is printed, and where.

    Attributes
    ----------
    pdf
        New file; ``None``: nothing is printed.
    paper
        What lies in the printer; ``None``: A4.
    """

    pdf: Annotated[
        str | None,
        Parameter(
            name="--pdf",
            help="Print the sheet into this new PDF file, its JSON attached.",
            show_default=False,
        ),
    ] = None
    paper: Annotated[
        Literal["a4", "letter"] | None,
        Parameter(
            name="--paper",
            help="With --pdf: the paper in the printer (default: a4). Cards take half a leaf.",
            show_default=False,
        ),
    ] = None


NO_PRINT = Print()


@dataclass(frozen=True)
class Put:
    """A PDF that was written."""

    file: str
    pages: int
    paper: str

    def on(self, sheet: Sheet) -> Sheet:
        """A sheet that says so."""
        says = f"Printed to {self.file}: {counted(self.pages, 'page')}."
        return replace(sheet, notes=(*sheet.notes, says))

    def within(self, body: dict[str, Any]) -> dict[str, Any]:
        """JSON that says so."""
        return body | {"printed": {"file": self.file, "pages": self.pages, "paper": self.paper}}


def check(wanted: Print) -> None:
    """Refuse what cannot be printed, before any work is done.

    Raises
    ------
    UsageError
        When ``--paper`` stands alone, or what makes PDFs is not there.
    InputError
        When the file is there already.
    """
    if wanted.pdf is None:
        if wanted.paper is not None:
            raise UsageError("--paper was given without --pdf", next_step="say where: --pdf FILE")
        return
    from asflown.faces.report.pdf import need_weasyprint
    from asflown.faces.wiring import refuse_existing

    refuse_existing(wanted.pdf)
    need_weasyprint()


def put(wanted: Print, printed: Callable[[], Printed]) -> Put | None:
    """Set and write the PDF, whole or not at all; ``None`` where none is wanted.

    Raises
    ------
    InputError
        When the file is there already or cannot be written.
    """
    if wanted.pdf is None:
        return None
    from asflown.faces.wiring import write_new

    data, pages = made(wanted, printed)
    return Put(str(write_new(wanted.pdf, data)), pages, wanted.paper or "a4")


def made(wanted: Print, printed: Callable[[], Printed]) -> tuple[bytes, int]:
    """The PDF, and how many pages it has."""
    from asflown.faces.cli.progress import waiting
    from asflown.faces.report.pdf import pdf_of
    from asflown.faces.report.printed import Paper

    with waiting("setting the pages"):
        pdf = pdf_of(printed(), Paper(wanted.paper or "a4"))
    return pdf.data, pdf.pages


@overload
def told(put: Put | None, shown: Sheet) -> Sheet: ...


@overload
def told(put: Put | None, shown: dict[str, Any]) -> dict[str, Any]: ...


def told(put: Put | None, shown: Sheet | dict[str, Any]) -> Sheet | dict[str, Any]:
    """A sheet, or its JSON, that says what was printed; as it is where nothing was wanted."""
    if put is None:
        return shown
    return put.on(shown) if isinstance(shown, Sheet) else put.within(shown)
