"""The rows of a table as HTML: by hand, since a template takes ten times as long over thousands of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from asflown.faces.sheets.linked import Address, linked

if TYPE_CHECKING:
    from asflown.app.views.sheet import Table


def rows_of(table: Table, address: Address, names: Mapping[str, str]) -> Markup:
    """Every row of a table, each with the lines that stand under it."""
    marks = [_marks(column) for column in table.columns]
    parts: list[str] = []
    for number, row in enumerate(table.rows):
        parts.append("<tr>")
        for (opening, closing), cell in zip(marks, row, strict=True):
            parts += (opening, linked(cell, address, names), closing)
        parts.append("</tr>\n")
        under = table.under[number] if table.under else ()
        if under:
            lines = "".join(f"<p>{linked(line, address)}</p>" for line in under)
            parts.append(f'<tr class="under"><td colspan="{len(row)}">{lines}</td></tr>\n')
    return Markup("".join(parts))


def _marks(column: str) -> tuple[str, str]:
    """What opens and closes a cell of a column; one without a title names its row."""
    if not column:
        return '<th scope="row" data-label="">', "</th>"
    number = ' class="number"' if column.endswith("#") else ""
    return f'<td{number} data-label="{escape(column.removesuffix("#"))}">', "</td>"
