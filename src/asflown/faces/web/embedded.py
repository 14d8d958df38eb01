"""Figures on a page: drawn by the script it carries, as pictures without one, and as tables."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from asflown.app.views.sheet import Table
from asflown.errors import UsageError
from asflown.faces.web.page import Page

if TYPE_CHECKING:
    from starlette.responses import Response

    from asflown.figures.figure import Figure


@dataclass(frozen=True)
class Twin:
    """The table that stands for a figure, and which part of its points that is."""

    table: Table
    says: str


@dataclass(frozen=True)
class Embedded:
    """One figure.

    Attributes
    ----------
    data
        What the script draws, safe inside a page.
    holder
        Attributes of the element it is drawn in.
    svg
        Address of the picture for print.
    """

    figure: Figure
    data: Markup
    holder: Mapping[str, str]
    svg: str
    tables: tuple[Twin, ...]


def embedded(page: Page, svg_at: Callable[[int], str]) -> tuple[tuple[Embedded, ...], tuple[str, ...]]:
    """The figures of a page, and what is not drawn.

    Parameters
    ----------
    svg_at
        Gives the address of the picture of one, counted from 1.
    """
    if page.figures is None:
        return (), ()
    from asflown.figures.drawn_plotly import container, plotly_json
    from asflown.figures.table import tables_of

    drawings = page.figures()
    made = tuple(
        Embedded(
            figure,
            _inside(plotly_json(figure)),
            container(figure),
            svg_at(number),
            tuple(Twin(Table(one.columns, one.rows), one.says) for one in tables_of(figure)),
        )
        for number, figure in enumerate(drawings.figures, 1)
    )
    return made, drawings.lacks


def _inside(body: object) -> Markup:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(body, allow_nan=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))


def drawn(page: Page, said: str) -> Response:
    """The picture of one figure of a page."""
    from starlette.responses import Response

    from asflown.figures.drawn_print import svg

    figures = () if page.figures is None else page.figures().figures
    number = int(said) if said.isdecimal() and len(said) < 4 else 0
    # a picture may style itself; it is shown as an image, where no script of it runs
    policy = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}
    drawing = page.more.get("drawing")
    if drawing and number == 1:
        return Response(drawing, media_type="image/svg+xml", headers=policy)
    if not 1 <= number <= len(figures):
        raise UsageError(f"this sheet has no figure {said}")
    return Response(svg(figures[number - 1]), media_type="image/svg+xml", headers=policy)
