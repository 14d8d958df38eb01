"""Every page of the documentation stands in the tree of the index, and every test file a page names is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TREE = re.compile(r"^```\{toctree\}\n(.*?)^```", re.MULTILINE | re.DOTALL)
NAMED = re.compile(r"\btests/[\w/.-]+\.py\b")


def listed(page: Path) -> set[Path]:
    """The pages the trees of a page list, patterns followed."""
    entries = [
        line.strip()
        for tree in TREE.findall(page.read_text("utf-8"))
        for line in tree.split("\n")
        if line.strip() and not line.startswith(":")
    ]
    return {found for entry in entries for found in page.parent.glob(f"{entry}.md")} - {page}


def reached(index: Path) -> set[Path]:
    """The pages that are reached from the index by trees."""
    found, waiting = {index}, [index]
    while waiting:
        new = listed(waiting.pop()) - found
        found |= new
        waiting += new
    return found


def pages(folder: Path) -> set[Path]:
    return {page for page in folder.rglob("*.md") if not {"_build", "schemas"} & set(page.parts)}


def test_every_page_is_in_the_tree(root):
    docs = root / "docs"
    assert sorted(str(page.relative_to(docs)) for page in pages(docs) - reached(docs / "index.md")) == []


def test_every_entry_of_the_tree_is_a_page(root):
    docs = root / "docs"
    for index in (docs / "index.md", docs / "decisions" / "index.md"):
        for tree in TREE.findall(index.read_text("utf-8")):
            for entry in (line.strip() for line in tree.split("\n")):
                if entry and not entry.startswith(":"):
                    assert list(index.parent.glob(f"{entry}.md")), entry


def test_a_guide_outside_the_tree_is_seen(tmp_path):
    (tmp_path / "guides").mkdir()
    for name in ("told", "forgotten"):
        (tmp_path / "guides" / f"{name}.md").write_text("# A guide\n", "utf-8")
    index = tmp_path / "index.md"
    index.write_text("# Index\n\n```{toctree}\n:caption: x\n\nguides/told\n```\n", "utf-8")
    assert pages(tmp_path) - reached(index) == {tmp_path / "guides" / "forgotten.md"}


@pytest.mark.parametrize("folder", ["docs/explanation", "docs/guides", "docs/reference"])
def test_tests_that_are_named_are_there(root, folder):
    named = {name for page in (root / folder).glob("*.md") for name in NAMED.findall(page.read_text("utf-8"))}
    assert sorted(name for name in named if not (root / name).is_file()) == []
