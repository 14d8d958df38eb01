"""Every page that a link leads to, of the worked example: answered, whole, with the same as JSON and CSV."""

from collections import deque
from urllib.parse import urlsplit

import pytest
from visitor import Visitor


@pytest.fixture(scope="module")
def pages(demo_folder):
    """By address, every page that links lead to from the list of aircraft."""
    visitor = Visitor(demo_folder / "store")
    found, waiting = {}, deque(["/"])
    while waiting:
        path = waiting.popleft()
        if path in found or urlsplit(path).path.endswith((".json", ".csv", ".svg", ".pdf")):
            continue
        answer = visitor.raw(path)
        assert answer.status_code in (200, 409), f"{path}: {answer.status_code}\n{answer.text[:2000]}"
        found[path] = page = visitor.get(path, answer.status_code)
        waiting.extend(link for link in page.links if link.startswith("/"))
        assert len(found) < 400
    return found


def test_every_page_was_reached(pages):
    """At least one of every kind that the worked example has."""
    reached = {tuple(part for part in urlsplit(path).path.split("/") if part) for path in pages}
    kinds = {(parts[0], *parts[2:3]) if parts else () for parts in reached}
    for wanted in (
        ("new-aircraft",), ("releases",), ("verify",), ("hand-over",), ("sources",), ("who",),
        ("aircraft",), ("aircraft", "plan"), ("aircraft", "records"), ("aircraft", "take"), ("record",),
        ("aircraft", "write"), ("aircraft", "read-back"), ("aircraft", "cards"), ("aircraft", "bench"), ("aircraft", "gates"),
        ("aircraft", "card"), ("aircraft", "flights"), ("aircraft", "sign"), ("aircraft", "back"), ("release",),
    ):  # fmt: skip
        assert wanted in kinds, (wanted, sorted(kinds))


def test_every_page_is_a_sheet(pages):
    for path, page in pages.items():
        assert page.title, path
        assert len(page.soup.select("h1")) == 1, path
        assert page.soup.html["lang"] == "en"
        assert "end of sheet" in page.words, path
        filled = page.soup.select(".filled")
        assert len(filled) <= 1, (path, [one.get_text() for one in filled])


def test_every_id_stands_once_and_every_field_has_its_label(pages):
    for path, page in pages.items():
        ids = [one["id"] for one in page.soup.select("[id]")]
        assert len(ids) == len(set(ids)), (path, [id for id in ids if ids.count(id) > 1][:4])
        labels = {one.get("for") for one in page.soup.select("label")}
        for field in page.soup.select("input:not([type=hidden]), select, textarea"):
            assert field.get("id") in labels or field.find_parent("label"), (path, field)


def test_every_page_that_is_not_found_says_what_to_do(pages):
    for path, page in pages.items():
        if page.status != 200:
            assert page.soup.select_one(".acts a"), path


def test_everything_is_there_as_data_too(pages, demo_folder):
    visitor = Visitor(demo_folder / "store")
    seen = set()
    for page in pages.values():
        for link in page.links:
            kind = urlsplit(link).path.rpartition(".")[2]
            if link in seen or kind not in ("json", "csv", "svg"):
                continue
            seen.add(link)
            answer = visitor.raw(link)
            assert answer.status_code == 200, link
            if kind == "json":
                assert answer.json(), link
            elif kind == "csv":
                lines = answer.text.splitlines()
                assert lines, link
            else:
                assert answer.text.startswith("<?xml") or "<svg" in answer.text[:200], link
    assert len(seen) > 20


def test_two_releases_are_matched_on_a_page(demo_folder):
    visitor = Visitor(demo_folder / "store")
    page = visitor.send(visitor.get("/releases"), "match", old="marram-4.1", new="marram-5.0")
    assert page.title == "Matching"
    assert "charge.go.down" in page.words
    for link in page.links:
        if link.startswith("/match"):
            assert visitor.raw(link).status_code == 200


def test_what_two_records_amount_to_is_a_page(demo_folder):
    visitor = Visitor(demo_folder / "store")
    page = visitor.send(visitor.get("/aircraft/plover/records"), "compare", by="amounts")
    assert page.path.startswith("/behaviour?first=")
    assert visitor.json(page.path.replace("/behaviour?", "/behaviour.json?"))
    assert "plan" in visitor.get("/aircraft/plover/behaviour", 409).words  # its refit is closed
    assert visitor.get("/behaviour/plover-001").title
