"""A print as PDF by weasyprint; the same print gives the same bytes.

weasyprint sets the pages of the same HTML and style a browser prints. It is an extra: without it everything
but PDF works.
"""

from __future__ import annotations

import hashlib
import json
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asflown.app.views.sheet import short
from asflown.errors import UsageError
from asflown.faces.report.html import CARRIED, html_of, made_at
from asflown.faces.report.printed import Paper, Printed
from asflown.faces.sheets import pages

if TYPE_CHECKING:
    from weasyprint import Document

RECORD = "record.json"
#: Date of what has none of its own: a PDF's attachment must have one.
_NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
_HOW = 'install the extra: pip install "asflown[pdf]"; or print the page from the browser (asflown serve)'


@dataclass(frozen=True, slots=True)
class Pdf:
    """A PDF, and how many pages it has."""

    data: bytes
    pages: int


def need_weasyprint() -> Any:
    """The module that sets pages.

    Raises
    ------
    UsageError
        When it, or a library it stands on, is not there.
    """
    try:
        import weasyprint
    except ImportError as error:
        raise UsageError(f"a PDF needs weasyprint, which is not there ({error})", next_step=_HOW) from None
    except OSError as error:
        said = str(error).splitlines()[0][:120]
        raise UsageError(
            f"weasyprint is there, but a library it stands on is not: {said}",
            next_step="install Pango (Debian: libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0)",
        ) from None
    return weasyprint


def pdf_of(printed: Printed, paper: Paper = Paper.A4) -> Pdf:
    """The print as PDF, with its JSON attached as ``record.json``.

    Raises
    ------
    UsageError
        When weasyprint is not there.
    """
    weasyprint = need_weasyprint()
    record = (json.dumps(printed.body(), indent=2, ensure_ascii=True) + "\n").encode()
    digest = hashlib.sha256(record).hexdigest()
    html = html_of(printed, paper, mark=f"{RECORD} {short(digest)}")
    date = made_at(printed.sheet) or _NO_DATE
    attached = weasyprint.Attachment(
        string=record,
        name=RECORD,
        description=f"the same as data; SHA-256 {digest}",
        created=date,
        modified=date,
        relationship="Data",
    )
    document = laid_out(html, attachments=[attached])
    identifier = hashlib.sha256(html.encode() + record).digest()[:16]
    with warnings.catch_warnings():
        # weasyprint 70 leaves the file of its colour profile for the collector to close
        warnings.filterwarnings("ignore", "unclosed file.*icc", ResourceWarning)
        data = document.write_pdf(
            pdf_identifier=identifier, pdf_variant="pdf/a-3u", pdf_tags=True, attachments=[attached]
        )
    return Pdf(data, len(document.pages))


def laid_out(html: str, **options: Any) -> Document:
    """The pages of an HTML text, set; nothing outside of it is fetched.

    Raises
    ------
    UsageError
        When weasyprint is not there.
    """
    weasyprint = need_weasyprint()
    return weasyprint.HTML(string=html, url_fetcher=_carried_only).render(**options)


def _carried_only(url: str, *args: Any, **options: Any) -> Any:
    """Fetch what stands in the text itself and the carried fonts, and nothing else."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    if url.startswith(CARRIED):
        return URLFetcherResponse(url, _font(url.removeprefix(CARRIED)), {"Content-Type": "font/ttf"})
    if not url.startswith("data:"):
        raise ValueError(f"a print fetches nothing from outside, and {url[:60]!r} is outside")
    return URLFetcher().fetch(url)


def _font(name: str) -> bytes:
    """A font of the sheets, or the one that has what these have not (arrows, Greek)."""
    if not name.startswith("dejavu/"):
        return pages.asset(name)
    from matplotlib import get_data_path

    return (Path(get_data_path()) / "fonts" / "ttf" / Path(name).name).read_bytes()
