"""Every example of docs/reference/files.md goes through the real reader, and every key stands on the page."""

from __future__ import annotations

import re

import pytest
from console_blocks import fences

from asflown.core.catalog import NoteKind
from asflown.errors import InputError
from asflown.formats import aircraft_toml, catalog_table, notes, release_folder
from asflown.formats.schemas import FILES


def examples(text: str) -> dict[str, str]:
    """The example files of a page by their caption."""
    lines = text.split("\n")
    made = {}
    for words, first, last in fences(lines):
        caption = re.fullmatch(r":caption: (\S+)", lines[first]) if first < last else None
        if words.startswith("{code-block}") and caption:
            made[caption[1]] = "\n".join(lines[first + 1 : last]).lstrip("\n") + "\n"
    return made


@pytest.fixture(scope="module")
def page(root):
    return (root / "docs" / "reference" / "files.md").read_text("utf-8")


@pytest.fixture(scope="module")
def files(page):
    return {path: text.encode() for path, text in examples(page).items()}


def test_every_kind_of_file_has_an_example(files):
    stems = {path.rpartition("/")[2].rpartition(".")[0] for path in files} - {"catalog", "plover"}
    assert stems == set(FILES) - {"aircraft"}


def test_the_aircraft_is_read(files):
    aircraft = aircraft_toml.read(files["aircraft/plover.toml"], "plover.toml")
    assert (aircraft.id, aircraft.motors.count, aircraft.devices[0].version) == ("plover", 4, "1.7")


def test_the_release_is_read_without_a_remark(files):
    folder = {path.partition("/")[2]: data for path, data in files.items() if path.startswith("release/")}
    release = release_folder.read(folder, "release")
    assert release.id == "reed-4.0"
    assert release.remarks == ()
    assert release.catalog is not None
    assert release.catalog.by_name["radio.wait"].needs == ("radio.act",)
    assert release.catalog.by_name["pin.word"].private
    assert release.device_needs is not None
    assert release.functions is not None
    assert release.image_words is not None
    assert release.notes is not None


def test_the_open_standards_catalog_is_read(files):
    release = release_folder.read({"catalog.json": files["mavlink/catalog.json"]}, "reed-4.0")
    assert release.catalog is not None
    assert [choice.label for choice in release.catalog.by_name["radio.act"].choices] == ["land", "come home"]


def test_the_notes_show_every_kind(files):
    read = notes.read(files["release/notes.toml"], "notes.toml")
    assert {change.kind for change in read.changes} == set(NoteKind)


@pytest.mark.parametrize("word", sorted(FILES))
def test_every_key_stands_on_the_page(word, page):
    schema = FILES[word].model_json_schema(by_alias=True)
    tables = [schema, *schema.get("$defs", {}).values()]
    keys = {key for table in tables for key in table.get("properties", {})}
    assert keys
    assert {key for key in keys if not re.search(rf"(?<![\w.]){re.escape(key)}(?!\w)", page)} == set()


def test_every_column_of_a_table_stands_on_the_page(page):
    assert {column for column in catalog_table.COLUMNS if f"`{column}`" not in page} == set()


def test_a_fault_in_an_example_is_seen(files):
    with pytest.raises(InputError, match="to correct"):
        aircraft_toml.read(files["aircraft/plover.toml"] + b'colour = "grey"\n', "plover.toml")
