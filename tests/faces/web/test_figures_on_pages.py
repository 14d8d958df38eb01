"""Figures on pages: drawn by the script within the policy, as pictures without one, as tables; nothing from elsewhere."""

from __future__ import annotations

import json

import pytest
from browser import launched, serving, window
from playwright.sync_api import expect, sync_playwright
from visitor import Visitor

PAGES = ("/aircraft/tern/verdict", "/flight/tern-f1", "/aircraft/tern")

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def chromium():
    with sync_playwright() as playwright:
        browser = launched(playwright)
        yield browser
        browser.close()


@pytest.mark.parametrize("width", [1280, 320])
def test_every_figure_is_drawn_and_the_policy_is_kept(chromium, flown_folder, width):
    with (
        serving(flown_folder / "store") as at,
        window(chromium, at, viewport={"width": width, "height": 800}) as one,
    ):
        for path in PAGES:
            one.go(path)
            plots = one.page.locator(".plot")
            assert plots.count() >= 1, path
            for number in range(plots.count()):
                plot = plots.nth(number)
                expect(plot.locator("svg.main-svg").first).to_be_attached()
                assert plot.get_attribute("aria-label"), (path, number)
            assert one.page.evaluate("document.documentElement.scrollWidth") <= width
            one.look()


def test_without_a_script_there_are_pictures(chromium, flown_folder):
    with serving(flown_folder / "store") as at, window(chromium, at, java_script_enabled=False) as one:
        one.go("/aircraft/tern/verdict")
        pictures = one.page.locator("figure img")
        assert pictures.count() >= 3
        sizes = [pictures.nth(n).bounding_box() for n in range(pictures.count())]
        assert all(size and size["width"] > 200 and size["height"] > 100 for size in sizes)
        one.look()


def test_axe_finds_nothing_on_pages_with_figures(chromium, flown_folder):
    faults = []
    for store, paths in (
        (flown_folder / "store", (*PAGES, "/aircraft/tern/test-card")),
        (
            flown_folder / "open" / "store",
            ("/aircraft/tern/plan", "/aircraft/tern/predict", "/aircraft/tern/retune"),
        ),
    ):
        with serving(store) as at, window(chromium, at) as one:
            for path in paths:
                one.go(path)
                faults += one.axe(path)
            one.look()
    assert faults == []


def test_the_page_draws_what_the_picture_and_the_table_show(flown_folder):
    """One description: as many points to the script as rows in the table's twin of the same curve."""
    visitor = Visitor(flown_folder / "store")
    page = visitor.get("/aircraft/tern/verdict")
    figures = page.soup.select("figure")
    assert len(figures) >= 9
    for number, figure in enumerate(figures, 1):
        body = json.loads(figure.select_one("script[type='application/json']").get_text())
        assert body["data"]
        assert figure.select_one("figcaption").get_text(strip=True)
        assert figure.select("table tbody tr")
        picture = visitor.raw(f"/aircraft/tern/verdict.svg?figure={number}")
        assert picture.status_code == 200
        assert picture.headers["content-type"].startswith("image/svg+xml")


def test_a_verdict_is_computed_once_until_something_is_entered(flown_folder, monkeypatch):
    from asflown.app.judging import verdict

    counted, give = [], verdict.give
    monkeypatch.setattr(verdict, "give", lambda *a, **b: counted.append(1) or give(*a, **b))
    visitor = Visitor(flown_folder / "store")
    for _ in range(3):
        visitor.get("/aircraft/tern/verdict")
    visitor.json("/aircraft/tern/verdict.json")
    assert len(counted) <= 1
