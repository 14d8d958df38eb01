"""A print as HTML: the pages' templates without navigation, forms and scripts."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from markupsafe import Markup

from asflown import __version__
from asflown.app.views.sheet import Sheet
from asflown.faces.report.printed import Paper, Printed
from asflown.faces.sheets import pages
from asflown.figures.figure import Figure

#: Size of the leaf by paper; of half a leaf for cards.
_LEAVES = {Paper.A4: "210mm 297mm", Paper.LETTER: "8.5in 11in"}
_HALVES = {Paper.A4: "148mm 210mm", Paper.LETTER: "5.5in 8.5in"}
#: Before the name of a font that goes with asflown, or with the library that draws figures.
CARRIED = "carried:"
#: mm: width of a figure between the margins of the narrower leaf.
_FIGURE = 178.0


@dataclass(frozen=True)
class Context:
    """What linking in the templates needs to know: on paper nothing is a link."""

    names: Mapping[str, str] = field(default_factory=dict)

    def address(self, words: tuple[str, ...]) -> str | None:
        """No page."""
        return None


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure as it stands on paper."""

    figure: Figure
    svg: str


def html_of(printed: Printed, paper: Paper = Paper.A4, *, mark: str = "") -> str:
    """The print as HTML that needs no other file than the carried fonts.

    Parameters
    ----------
    mark
        Stands in the foot of each page beside the sheet's own hashes.
    """
    sheet = printed.sheet
    leaves = _HALVES if printed.is_card else _LEAVES
    return pages.filled(
        printed.template,
        layout="print.html",
        title=_title(sheet),
        running=sheet.title,
        sheet=sheet,
        signs=printed.signs,
        pictures=[_picture(one) for one in printed.figures],
        stamp=printed.stamp,
        at=Context(),
        page_foot=" · ".join((*sheet.foot, *([mark] if mark else []))),
        made_at=_iso(made_at(sheet)),
        is_card=printed.is_card,
        style=Markup(f"@page {{ size: {leaves[paper]}; }}\n")
        + pages.style("sheet.css", "print.css", carried=lambda name: f"{CARRIED}{name}"),
        version=__version__,
        **_NOTHING | dict(printed.more),
    )


#: What a page has and paper has not.
_NOTHING = {
    "acts": (),
    "nexts": (),
    "others": (),
    "whose": "",
    "folds": (),
    "error": None,
    "done": "",
    "refresh": False,
    "has_data": False,
    "has_main": False,
    "figures": (),
    "lacks": (),
    "csv": (),
    "papers": (),
}


def made_at(sheet: Sheet) -> datetime | None:
    """The date in the sheet's head, ``None`` where it has none."""
    for name, value in sheet.head:
        if name == "date":
            try:
                found = datetime.fromisoformat(value)
            except ValueError:
                return None
            return found if found.tzinfo else found.replace(tzinfo=UTC)
    return None


def _iso(moment: datetime | None) -> str:
    return moment.isoformat() if moment else ""


def _title(sheet: Sheet) -> str:
    whose = next((value for name, value in sheet.head if name == "aircraft"), "")
    return f"{sheet.title} · {whose}" if whose else sheet.title


def _picture(figure: Figure) -> Picture:
    from asflown.figures.drawn_print import svg

    drawn = svg(figure, width_mm=_FIGURE, with_words=False).encode()
    return Picture(figure, f"data:image/svg+xml;base64,{base64.b64encode(drawn).decode()}")
