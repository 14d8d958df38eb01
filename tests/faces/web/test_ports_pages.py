"""The port plan and the boards as pages."""

from __future__ import annotations

import json

import pytest
from commanded import run
from visitor import Visitor


@pytest.fixture
def visitor(demo_folder, copied):
    return Visitor(copied(demo_folder) / "store")


def test_the_port_plan_says_and_draws_the_same(visitor):
    page = visitor.get("/aircraft/plover/ports")
    things = [row.select_one("td, th").get_text(strip=True) for row in page.soup.select("table tbody tr")]
    drawn = [text.get_text() for text in page.soup.select("svg text")]
    for name in ("motor 3", "receiver", "sky", "lamps", "camera-link"):
        assert name in things
        assert name in drawn
    assert "motor 2 and sky both need stream 2 of controller 1" in page.text
    assert "no DMA for sky" in page.text
    picture = visitor.raw("/aircraft/plover/ports.svg")
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert "motor 3" in picture.text
    body = json.loads(visitor.raw("/aircraft/plover/ports.json").text)
    assert body["works"] is False
    assert [item["thing"] for item in body["placed"]] == things[: len(body["placed"])]


def test_names_are_escaped_in_the_drawing(small):
    from asflown.demo.firmware.boards import DESCRIPTION

    text = DESCRIPTION.replace('name = "output 1"', 'name = "<script>alert(1)</script>"')
    page = small.get("/boards")
    done = small.send(page, "add", {"description": ("b.toml", text.encode(), "application/toml")})
    assert "wrackline-2 is kept" in done.text
    described = (
        b'id = "gull"\ntitle = "Gull"\nboard = "wrackline-2"\n[motors]\ncount = 1\n'
        b'[[device]]\nname = "escs"\nkind = "speed controller"\n'
    )
    (small.store.parent / "gull.toml").write_bytes(described)
    run(small.store.parent, "aircraft", "new", "--from", str(small.store.parent / "gull.toml"))
    shown = small.raw("/aircraft/gull/ports").text
    assert "&lt;script&gt;alert(1)" in shown
    assert "<script>alert" not in shown


def test_an_impossible_board_is_refused_with_every_reason(small):
    page = small.get("/boards")
    wrong = b'processor = "STM32F722RE"\n[pads]\nT1 = "PA9"\nT2 = "PA9"\nX = "PK3"\n'
    answer = small.send(page, "add", {"description": ("b.toml", wrong, "application/toml")}, status=400)
    assert "PA9 is pad T1 already" in answer.text
    assert "has no pin PK3" in answer.text


def test_a_description_is_begun(small):
    page = small.get("/boards")
    answer = small.sent(page, "new", name="reed-board", processor="STM32H743VI")
    assert 'processor = "STM32H743VI"' in answer.text
    assert "UART7" in answer.text
    again = small.send(small.get("/boards"), "new", status=400, name="x", processor="Z80")
    assert "here is no table for the processor" in again.error
