"""The whole refit in Debian's chromium: by mouse, by keyboard alone, at 320 px, and without a script."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from browser import Watched, serving, window
from playwright.sync_api import expect
from visitor import Visitor

from asflown.faces.wiring import kept_store

pytestmark = pytest.mark.slow


@pytest.fixture
def store(small_folder: Path, copied) -> Path:
    return copied(small_folder) / "store"


def press(one: Watched, name: str) -> None:
    """Send a form by its button, and wait for the page that follows."""
    with one.page.expect_navigation():
        one.page.get_by_role("button", name=name, exact=True).first.click()
    one.settled()


def follow(one: Watched, name: str) -> None:
    """Click a link, and wait for its page; on a phone the other sheets of an aircraft are folded."""
    folded = one.page.locator(".others details:not([open]) summary")
    if folded.count():
        folded.click()
    with one.page.expect_navigation():
        one.page.get_by_role("link", name=name, exact=True).first.click()
    one.settled()


def refit(one: Watched, store: Path, folder: Path) -> None:
    """From a new aircraft's listing to the sign-off, as a person with a mouse does it."""
    page = one.page
    one.go("/")
    follow(one, "plover")
    follow(one, "records")
    one.go("/aircraft/plover/take")
    page.get_by_label("Settings listing").set_input_files(store.parent / "before.txt")
    press(one, "See what is learned")
    press(one, "Keep this record")
    one.look()
    follow(one, "carry-over")
    page.get_by_label("Release to go to").select_option("marl-2.0")
    press(one, "Make the carry-over")
    while page.locator(".group").count():
        group = page.locator(".group").first
        before = page.locator(".group").count()
        group.locator("input[type=radio]").first.check()
        group.get_by_label("Why").fill("looked at together")
        with page.expect_response(lambda answer: answer.request.method == "POST"):
            group.get_by_role("button", name="Decide").click()
        expect(page.locator(".group")).not_to_have_count(before)
        one.look()
    gate(one, "second reading")
    follow(one, "writing")
    page.get_by_text("more", exact=True).click()
    page.get_by_label("What to write").select_option("everything")
    press(one, "Write the listing out")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save all files (zip)").click()
    written = folder / "written.zip"
    download.value.save_as(written)
    with zipfile.ZipFile(written) as packed:
        name = next(name for name in packed.namelist() if "to-write" in name)
        (folder / "left.txt").write_bytes(packed.read(name))
    gate(one, "before loading")
    follow(one, "read-back")
    page.get_by_label("Listing saved from the board").set_input_files(folder / "left.txt")
    press(one, "Compare with the plan")
    follow(one, "cards")
    with page.expect_navigation():
        page.locator("td a").first.click()
    page.get_by_label("pass", exact=True).check()
    press(one, "Note the result")
    follow(one, "sign-off")
    page.get_by_label("Name").fill("Ines Vale")
    page.get_by_label("Role").fill("maintainer")
    press(one, "Sign it off")
    one.look()


def gate(one: Watched, name: str) -> None:
    page = one.page
    follow(one, "gates")
    page.get_by_label("Gate", exact=True).select_option(name)
    page.get_by_label("passed", exact=True).check()
    page.get_by_label("The fact or the reason").fill("done as the card says")
    press(one, "Answer the gate")


def signed(store: Path) -> bool:
    return "sign-off" in [entry.kind for entry in kept_store(store).book("plover")]


@pytest.mark.parametrize("width", [1280, 320])
def test_a_refit_by_mouse(chromium, store, tmp_path, width):
    with serving(store) as at, window(chromium, at, viewport={"width": width, "height": 800}) as one:
        refit(one, store, tmp_path)
        one.look()
    assert signed(store)


def test_a_refit_without_a_script(chromium, store, tmp_path):
    """The same acts with scripts off: every form is sent as a form."""
    with serving(store) as at, window(chromium, at, java_script_enabled=False) as one:
        page = one.page
        one.go("/aircraft/plover/take")
        page.get_by_label("Settings listing").set_input_files(store.parent / "before.txt")
        press(one, "See what is learned")
        press(one, "Keep this record")
        one.go("/aircraft/plover/plan")
        page.get_by_label("Release to go to").select_option("marl-2.0")
        press(one, "Make the carry-over")
        for _ in range(20):
            if not page.locator(".group").count():
                break
            group = page.locator(".group").first
            group.locator("input[type=radio]").first.check()
            group.get_by_label("Why").fill("looked at together")
            with page.expect_navigation():
                group.get_by_role("button", name="Decide").click()
        assert page.locator(".group").count() == 0
        one.look()
    assert "decision" in [entry.kind for entry in kept_store(store).book("plover")]


def test_a_refit_by_keyboard_alone(chromium, store, tmp_path):
    """Nothing is clicked: Tab, arrows, Enter, Space, and the keys that the carry-over names."""
    with serving(store) as at, window(chromium, at) as one:
        page, keys = one.page, one.page.keyboard
        one.go("/aircraft/plover/take")
        to(one, "Or paste it here")
        keys.insert_text((store.parent / "before.txt").read_text())
        to(one, "See what is learned")
        enter(one)
        to(one, "Keep this record")
        enter(one)
        to(one, "carry-over")
        enter(one)
        to(one, "Release to go to")
        keys.type("marl-2.0")
        to(one, "Make the carry-over")
        enter(one)
        for _ in range(20):
            left = page.locator(".group").count()
            if not left:
                break
            keys.press("Escape")
            if page.evaluate("!document.activeElement.closest('.group')"):
                keys.press("n")
            keys.press("1")
            keys.press("w")
            keys.insert_text("by keyboard")
            with page.expect_response(lambda answer: answer.request.method == "POST"):
                keys.press("Enter")
            expect(page.locator(".group")).not_to_have_count(left)
            page.wait_for_timeout(100)
        assert page.locator(".group").count() == 0
        to(one, "gates")
        enter(one)
        to(one, "Gate")
        keys.type("second reading")
        to(one, "passed")
        keys.press("Space")
        to(one, "The fact or the reason")
        keys.insert_text("read twice")
        enter(one)
        to(one, "writing")
        enter(one)
        to(one, "more")
        keys.press("Enter")
        to(one, "What to write")
        keys.type("every")
        to(one, "Write the listing out")
        enter(one)
        one.look()
    made = {entry.kind for entry in kept_store(store).book("plover")}
    assert {"decision", "gate", "write-out"} <= made


def to(one: Watched, name: str) -> None:
    """Tab until the thing of that name has the focus; it must show that it has."""
    page = one.page
    for _ in range(150):
        page.keyboard.press("Tab")
        if (
            page.evaluate(
                """() => {
              const one = document.activeElement;
              if (!one || one === document.body) return '';
              const label = one.labels && one.labels.length ? one.labels[0].innerText : one.innerText || '';
              return label.replace(/\\(may stay empty\\)/, '').trim();
            }"""
            )
            == name
        ):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none", f"{name} has the focus and does not show it"
            return
    raise AssertionError(f"{name} was not reached by Tab")


def enter(one: Watched) -> None:
    with one.page.expect_navigation():
        one.page.keyboard.press("Enter")
    one.settled()


def every_page(folder: Path) -> list[str]:
    """One page of every kind that links lead to."""
    visitor, found, kinds = Visitor(folder / "store"), [], set()
    waiting = ["/"]
    seen = set(waiting)
    while waiting:
        path = waiting.pop(0)
        answer = visitor.raw(path)
        if "text/html" not in answer.headers["content-type"]:
            continue
        parts = path.partition("?")[0].split("/")
        kind = (parts[1], *parts[3:4], path.partition("?")[2].partition("=")[0], answer.status_code)
        if kind in kinds:
            continue
        kinds.add(kind)
        found.append(path)
        for link in visitor.get(path, answer.status_code).links:
            data = link.partition("?")[0].endswith((".json", ".csv", ".svg", ".pdf"))
            if link not in seen and link.startswith("/") and not data:
                seen.add(link)
                waiting.append(link)
    return found


def test_every_page_in_every_light_and_width(chromium, demo_folder):
    """No violation that axe finds, none of colour in forced colours either, and no scrolling sideways at 320."""
    faults = []
    with serving(demo_folder / "store") as at, window(chromium, at) as one:
        for path in every_page(demo_folder):
            one.go(path)
            faults += one.axe(path)
            one.page.emulate_media(forced_colors="active")
            faults += one.axe(f"{path} in forced colours", "color-contrast")
            one.page.emulate_media(forced_colors="none")
            one.page.set_viewport_size({"width": 320, "height": 700})
            if one.page.evaluate("document.documentElement.scrollWidth") > 320:
                faults.append(f"{path}: wider than 320")
            one.page.set_viewport_size({"width": 1280, "height": 720})
        one.look()
    assert faults == []
