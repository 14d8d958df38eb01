"""Templates of sheets, and what they are filled with."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from asflown.faces.sheets.linked import linked, next_act
from asflown.faces.sheets.rows import rows_of

if TYPE_CHECKING:
    from jinja2 import Environment

_ASSETS = "assets"
_URL = re.compile(r'url\("(fonts/[a-z0-9.-]+)"\)')


@cache
def environment() -> Environment:
    """The templates; everything put into them is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("asflown.faces.sheets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["next_act"] = next_act
    made.globals["linked"] = linked
    made.globals["rows_of"] = rows_of
    return made


def filled(template: str, **values: Any) -> str:
    """A template filled in."""
    return environment().get_template(template).render(**values)


def asset(name: str) -> bytes:
    """The bytes of a carried file.

    Raises
    ------
    FileNotFoundError
        When there is no such file.
    """
    parts = name.split("/")
    if any(part in ("", ".", "..") or "\\" in part for part in parts):
        raise FileNotFoundError(name)
    place = files("asflown.faces.sheets").joinpath(_ASSETS, *parts)
    if not place.is_file():
        raise FileNotFoundError(name)
    return place.read_bytes()


def style(*names: str, carried: Callable[[str], str]) -> Markup:
    """Styles as one text for a file that stands alone.

    Parameters
    ----------
    carried
        The address of a font by its path below the assets.
    """
    text = "\n".join(asset(name).decode() for name in names)
    return Markup(_URL.sub(lambda match: f'url("{carried(match[1])}")', text))


def inside(name: str) -> str:
    """A carried font as an address that holds it whole."""
    return f"data:font/woff2;base64,{base64.b64encode(asset(name)).decode()}"
