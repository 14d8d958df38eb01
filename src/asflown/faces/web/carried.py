"""Files that pages ask for: our own, and the plotting script out of its package."""

from __future__ import annotations

from asflown.faces.sheets import pages

PLOTS = "plotly.min.js"


def carried(name: str) -> bytes:
    """The bytes of a file below ``/assets/``.

    Raises
    ------
    FileNotFoundError
        When there is no such file.
    """
    if name != PLOTS:
        return pages.asset(name)
    from importlib.resources import files

    return files("plotly").joinpath("package_data", "plotly.min.js").read_bytes()
