"""Rules and sources: what the numbers rest on."""

from __future__ import annotations

from asflown.faces.web.page import Asked, Page


def look(asked: Asked) -> Page:
    """The margins with their reasons, and the methods with their sources."""
    from asflown.app.views.sources_shown import sources_json, sources_sheet

    return Page(sources_sheet(), sources_json)
