"""A page as PDF: the same print that the commands make with ``--pdf``."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.page import Page

if TYPE_CHECKING:
    from starlette.responses import Response

    from asflown.faces.report.printed import Printed


@cache
def can_set_pages() -> bool:
    """Whether what makes PDFs is installed; what it stands on is found when it is used."""
    return find_spec("weasyprint") is not None


def pdf(page: Page, name: str, paper: str) -> Response:
    """The PDF of a page.

    Parameters
    ----------
    name
        Of the file, without its ending.
    paper
        What lies in the printer, A4 when empty.

    Raises
    ------
    UsageError
        When the page is not printed, the paper is unknown, or what makes PDFs is not there.
    """
    from starlette.responses import Response

    from asflown.faces.report.pdf import pdf_of
    from asflown.faces.report.printed import Paper

    printed = _printed(page)
    try:
        leaf = Paper(paper or "a4")
    except ValueError:
        known = ", ".join(Paper)
        raise UsageError(f"there is no paper {paper[:40]!r}", next_step=f"one of: {known}") from None
    headers = {"content-disposition": f'inline; filename="{name}.pdf"', "cache-control": "no-store"}
    return Response(pdf_of(printed, leaf).data, media_type="application/pdf", headers=headers)


def _printed(page: Page) -> Printed:
    from asflown.faces.report.printed import with_drawings

    if page.printed is not None:
        return page.printed()
    if page.body is None:
        raise UsageError("this page has nothing to print", next_step="print it from the browser")
    return with_drawings(page.sheet, page.body, None if page.figures is None else page.figures())
