"""The field sheet as one HTML file: style, fonts and script in it, nothing fetched, nothing sent."""

from __future__ import annotations

import base64
import hashlib

from markupsafe import Markup

from asflown import __version__
from asflown.app.field import FieldSheet
from asflown.app.views.field_shown import field_data
from asflown.faces.report.html import Context
from asflown.faces.sheets import pages


def html_of_field(made: FieldSheet) -> str:
    """The file. Its policy lets no request out and no script run but its own."""
    script = pages.asset("field.js").decode()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return pages.filled(
        "field.html",
        policy=(
            "default-src 'none'; style-src 'unsafe-inline'; font-src data:;"
            f" script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
        ),
        style=pages.style("sheet.css", "field.css", carried=pages.inside),
        script=Markup(script),
        at=Context(),
        version=__version__,
        **field_data(made),
    )
