"""What this machine sees of boards."""

from __future__ import annotations

from asflown.faces.web.page import Asked, Page


def look(asked: Asked) -> Page:
    """What is ready, what stands in the way, and what to do."""
    from asflown.app.host_check import look
    from asflown.app.views.host_shown import host_json, host_sheet
    from asflown.faces.wiring import host

    checked = look(host())
    return Page(host_sheet(checked), lambda: host_json(checked))
