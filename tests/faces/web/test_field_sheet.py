"""The field sheet: filled in by a phone's browser without a server, and taken in."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest
from commanded import run
from playwright.sync_api import Browser
from visitor import Visitor

PHONE = {"viewport": {"width": 320, "height": 640}, "has_touch": True, "accept_downloads": True}


@pytest.fixture
def folder(flown_folder: Path, copied) -> Path:
    return copied(flown_folder)


def made(folder: Path, name: str = "field.html") -> Path:
    run(folder, "field", "tern", "--out", str(folder / name))
    return folder / name


def entries(folder: Path, **changed: object) -> dict[str, object]:
    """What a field sheet saves when one card passed."""
    from bs4 import BeautifulSoup

    soup = BeautifulSoup(made(folder, "read.html").read_text("utf-8"), "html.parser")
    card = soup.select_one("[data-card=propellers-off]")
    assert card is not None
    one = {
        "card": "propellers-off",
        "print": card["data-print"],
        "result": "pass",
        "note": "four in the box",
        "seen": ["No propeller on any motor."],
        "values": [{"what": "propellers in the box", "value": "4", "unit": ""}],
        "at": "2026-11-20T10:00:00Z",
    }
    body: dict[str, object] = {
        "file": "asflown field entries",
        "version": 1,
        "aircraft": "tern",
        "refit": "tern-r1",
        "name": "Ida Holm",
        "cards": [one],
        "flown": [],
    }
    return body | changed


def take(folder: Path, body: object, code: int = 0) -> dict:
    (folder / "entries.json").write_text(json.dumps(body))
    said = run(folder, "field", "take", str(folder / "entries.json"), "--json", code=code)
    return json.loads(said) if said.strip() else {}


@pytest.mark.slow
def test_filled_in_on_a_phone_and_taken_in(folder, chromium: Browser, tmp_path):
    """No server, no network: only the file; any request or script error fails."""
    sheet = made(folder)
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    faults: list[str] = []
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "request",
        lambda asked: (
            faults.append(asked.url) if asked.url.split(":")[0] not in ("file", "data", "blob") else None
        ),
    )
    page.goto(sheet.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.get_by_label("Who fills this in").fill("Ida Holm")
    card = page.locator("[data-card=propellers-off]")
    card.locator("summary").tap()
    card.get_by_label("propellers in the box").fill("4")
    card.get_by_label("Note").fill("all <b>four</b> & counted")
    assert "Without a result" in page.locator("#says").inner_text()
    card.get_by_label("pass", exact=True).check()
    flight = page.locator("[data-flight='1']")
    flight.locator("summary").tap()
    flight.get_by_label("Log file").fill("after2.csv")
    flight.get_by_label("Length, s").fill("71")
    # closed and opened again, as when the phone rings
    page.reload()
    assert page.locator("[data-card=propellers-off] .result").inner_text() == "pass"
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save the entries").tap()
    file = tmp_path / saved.value.suggested_filename
    assert file.name == "tern-r1-entries.json"
    saved.value.save_as(file)
    assert not faults
    context.close()
    said = json.loads(run(folder, "field", "take", str(file), "--json"))
    assert said["noted"] == [{"card": "propellers-off", "result": "pass"}]
    assert said["flown"] == [{"number": 1, "log": "after2.csv", "seconds": "71", "note": ""}]
    book = run(folder, "logbook", "tern", "--json")
    assert "tern-r1: 1 flight written down at the field by Ida Holm: after2.csv" in book
    cards = json.loads(run(folder, "cards", "tern", "--json"))["cards"]
    [noted] = [one for one in cards if one["card"] == "propellers-off"]
    assert "all <b>four</b> & counted; propellers in the box 4; at the field, 20" in noted["note"]
    assert noted["note"].endswith(", Ida Holm")


def test_taken_twice_is_noted_once(folder):
    body = entries(folder, flown=[{"number": 2, "log": "x.csv", "seconds": "60"}])
    first = take(folder, body)
    again = take(folder, body)
    assert len(first["noted"]) == 1
    assert len(first["flown"]) == 1
    assert (again["noted"], again["taken_before"], again["flown"]) == ([], ["propellers-off"], [])


def test_a_card_that_says_something_else_now_is_not_noted(folder):
    body = entries(folder)
    body["cards"][0]["print"] = "0" * 64
    said = take(folder, body, code=2)
    assert said["noted"] == []
    assert "says something else now" in said["not_noted"][0]["why"]


def test_a_closed_card_is_not_noted_and_the_rest_is(folder):
    body = entries(folder)
    from bs4 import BeautifulSoup

    soup = BeautifulSoup((folder / "read.html").read_text("utf-8"), "html.parser")
    motors = soup.select_one("[data-card=motors]")
    assert motors is not None
    waiting = {"card": "motors", "print": motors["data-print"], "result": "pass"}
    body["cards"].insert(0, waiting)
    said = take(folder, body, code=2)
    assert [one["card"] for one in said["noted"]] == ["propellers-off"]
    assert "comes first" in said["not_noted"][0]["why"]
    # once what it waits for is noted, the same file goes in whole
    assert [one["card"] for one in take(folder, body)["noted"]] == ["motors"]


@pytest.mark.parametrize(
    "spoiled",
    [
        {"version": 2},
        {"file": "something"},
        {"more": 1},
        {"cards": [{"card": "x", "print": "no", "result": "pass"}]},
        {"cards": "all"},
        {"flown": [{"number": 0}]},
    ],
)
def test_what_is_no_such_file_is_refused(folder, spoiled):
    before = run(folder, "logbook", "tern", "--json")
    take(folder, entries(folder, **spoiled), code=1)
    assert run(folder, "logbook", "tern", "--json") == before


def test_entries_of_another_refit_are_refused(folder):
    body = entries(folder)
    take(folder, body | {"refit": "tern-r0"}, code=1)
    take(folder, body | {"aircraft": "plover"}, code=1)


def test_nothing_leaves_the_field_sheet(folder):
    text = made(folder).read_text("utf-8")
    assert "default-src 'none'" in html.unescape(text)
    for sign in ("http://", "https://", "//fonts", "<link", 'src="/'):
        assert sign not in text.replace("http://www.w3.org", ""), sign


def test_by_the_page(folder):
    visitor = Visitor(folder / "store")
    page = visitor.get("/aircraft/tern/field")
    answer = visitor.sent(page, "save")
    assert answer.headers["content-disposition"] == 'attachment; filename="tern-r1-field.html"'
    assert "data-card" in answer.text
    body = json.dumps(entries(folder)).encode()
    done = visitor.send(page, "take", {"entries": ("e.json", body, "application/json")})
    assert "1 card noted" in done.sentence
    refused = visitor.send(page, "take", {"entries": ("e.json", b"{}", "application/json")}, status=400)
    assert "to correct" in refused.error
