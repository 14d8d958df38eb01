"""The documentation builds without a warning, and asks nothing of the network when it is read."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest


@pytest.fixture(scope="module")
def built(root, tmp_path_factory):
    folder = tmp_path_factory.mktemp("html")
    options = ("-q", "-W", "--keep-going", "-E", "-d", str(folder / ".trees"), "-b", "html")
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", *options, str(root / "docs"), str(folder)],
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return folder


def test_pages_load_nothing_from_elsewhere(built):
    loads = re.compile(
        r"""<(?:script|img|iframe|link rel="stylesheet")[^>]*(?:src|href)="(?:https?:)?//[^"]+"""
    )
    assert [
        (page.name, found)
        for page in built.rglob("*.html")
        for found in loads.findall(page.read_text("utf-8"))
    ] == []


def test_the_four_kinds_are_there(built):
    assert [
        kind
        for kind in ("tutorials", "guides", "reference", "explanation")
        if not list((built / kind).glob("*.html"))
    ] == []


def test_every_page_has_one_title(root):
    pages = [page for page in (root / "docs").rglob("*.md") if "_build" not in page.parts]
    outside_fences = {
        page: re.sub(r"^```.*?^```", "", page.read_text("utf-8"), flags=re.M | re.S) for page in pages
    }
    assert [
        page.name for page, text in outside_fences.items() if len(re.findall(r"^# ", text, re.M)) != 1
    ] == []
