"""What this machine sees of boards, as a page."""

from __future__ import annotations

import pytest
from visitor import Visitor

from asflown.core.load.host import HostSeen
from asflown.faces import wiring


class Machine:
    def see(self) -> HostSeen:
        return HostSeen("linux", usb=(), ports=())


@pytest.fixture
def visitor(small_folder, copied, monkeypatch):
    monkeypatch.setattr(wiring, "host", Machine)
    return Visitor(copied(small_folder) / "store")


def test_the_page_says_what_the_command_says(visitor):
    page = visitor.get("/host-check")
    assert page.title == "Host check"
    assert page.sentence == "Nothing is ready to be written to; 1 thing in the way."
    assert "a cable without data lines shows nothing" in page.words
    assert visitor.raw("/host-check.json").json()["ready"] is False


def test_the_image_page_leads_here_and_back(visitor):
    assert "/host-check" in visitor.get("/image").links
    assert "/image" in visitor.get("/host-check").links
