"""The worked example's aircraft: listings, descriptions, and what a number-for-number copy would do."""

import re
from decimal import Decimal
from pathlib import Path

import pytest

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.chain import find_path
from asflown.core.carry.dispositions import Disposition
from asflown.core.record import Extent, Key, Moment, Record
from asflown.demo import releases, scenario
from asflown.demo.device import SimulatedBoard
from asflown.formats import aircraft_toml, listing, release_folder


@pytest.fixture(scope="module")
def read():
    return {name: release_folder.read(files, name) for name, files in releases.folders().items()}


@pytest.mark.parametrize("name", ["plover", "dunlin", "knot"])
def test_descriptions_read(name) -> None:
    made = aircraft_toml.read(scenario.craft(name).text.encode(), f"{name}.toml")
    assert (made.id, made.board, made.release) == (name, scenario.BOARD, scenario.OLD_RELEASE)
    assert made.battery.cells == int(scenario.craft(name).values()[Key("pack.cells")])


@pytest.mark.parametrize("name", ["plover", "dunlin", "knot"])
def test_found_listings_read_without_loss(name) -> None:
    shown = listing.read(scenario.found_listing(name))
    assert shown.lossless
    assert not shown.not_understood
    assert shown.extent is Extent.FULL
    assert {s.key: s.value for s in shown.settings} == scenario.craft(name).values()
    assert shown.active_banks == {"set": scenario.craft(name).values()[Key("set.in.use")]}


def test_the_changes_only_listing_shows_what_differs() -> None:
    shown = listing.read(scenario.found_listing(changes_only=True))
    values = {s.key: s.value for s in shown.settings}
    factory = SimulatedBoard(scenario.OLD_RELEASE).values()
    assert shown.extent is Extent.CHANGES_ONLY
    assert values == {k: v for k, v in scenario.PLOVER.values().items() if v != factory[k]}
    assert 60 <= len(values) <= 100


def test_a_simulated_aircraft_prints_its_found_listing() -> None:
    board = scenario.simulated("plover")
    ours, theirs = (listing.read(data) for data in (scenario.found_listing("plover"), board.listing("full")))
    assert {s.key: s.value for s in ours.settings} == {s.key: s.value for s in theirs.settings}


def test_the_other_board_has_factory_values_of_its_own() -> None:
    usual = listing.read(scenario.old_factory_listing()).settings
    other = listing.read(scenario.replacement_listing()).settings
    assert {s.key for s in usual} == {s.key for s in other}
    differing = {s.key.name for s, t in zip(usual, other, strict=True) if s.value != t.value}
    assert "motor.a.pin" in differing
    assert len(differing) < 20


def test_the_plan_has_every_disposition_and_at_most_15_decisions(read) -> None:
    shown = listing.read(scenario.found_listing())
    record = Record(
        "plover-001", "plover", "board", Moment.AS_FOUND, scenario.OLD_RELEASE, scenario.BOARD,
        "2026-03-07T09:12:44+01:00", shown.settings, shown.extent, shown.active_banks,
    )  # fmt: skip
    notes = [item for release in read.values() for item in release.notes or ()]
    path = find_path(notes, scenario.OLD_RELEASE, scenario.NEW_RELEASE)
    assert path is not None
    assert len(path) == 2
    old, new = read[scenario.OLD_RELEASE], read[scenario.NEW_RELEASE]
    plan = carry_over(Question(record, old, new, notes=path))
    assert {line.disposition for line in plan.lines} == set(Disposition)
    groups = {line.group for line in plan.lines if line.is_open}
    assert 8 <= len(groups) <= 15
    left = {str(n.key): n.value for line in plan.lines if not line.is_open for n in line.new}
    # by hand: 15 tenths of a second; 14.0 V over 4 cells; 'come home' is 1 now; 0.203125 * 1024
    assert left["silent.wait"] == "1500"
    assert left["cell.warn"] == "350"
    assert left["silent.act"] == "1"
    assert left["silent.shut"] == "-1"
    assert left["set 1/roll.firm"] == "208"
    assert left["charge.go.down"] == "30"
    assert left["hum.b.at"] == "0"


def test_what_a_number_for_number_copy_would_have_done() -> None:
    copied = {str(item.setting): item for item in scenario.naive_copy(scenario.PLOVER.values())}
    assert copied["silent.wait"].says == "silent.wait = 15: 15 tenths of a second before, 15 ms now"
    assert copied["silent.act"].would_mean == "stop the motors"
    assert copied["silent.shut"].would_mean == "at once"
    assert copied["pack.warn"].would_mean == "140 hundredths of a volt"
    assert copied["switch.d.does"].would_mean == "stop the motors"
    assert copied["bound.far"].would_mean == "450 ft"
    assert "factory value stays" in copied["set 2/roll.firm"].would_mean
    assert "motor.top" not in copied


def test_the_board_agrees_with_the_number_for_number_copy() -> None:
    """Typing the found rows into the new release: what the copy says is refused is refused, the rest is taken."""
    board = scenario.simulated("plover")
    original = board.listing("full").decode()
    board.load_image(scenario.NEW_RELEASE)
    factory = board.values()
    board.paste(original)
    for item in scenario.naive_copy(scenario.PLOVER.values()):
        if item.new_name != item.setting.name:
            continue
        if "refused" in item.would_mean:
            assert board.values().get(item.setting) == factory.get(item.setting), item.says
        else:
            assert board.values()[item.setting] == item.value, item.says


def test_the_go_back_listing_restores_the_board_under_the_old_release() -> None:
    board = scenario.simulated("plover")
    found, original = dict(board.values()), board.listing("full").decode()
    board.load_image(scenario.NEW_RELEASE)
    assert dict(board.values()) != found
    board.load_image(scenario.OLD_RELEASE)
    transcript = board.paste(original)
    assert dict(board.values()) == found
    assert transcript.count("is only shown") == 2


def test_the_page_about_the_world_tells_the_found_values() -> None:
    page = Path(__file__).parents[2] / "docs" / "explanation" / "demo-world.md"
    rows = re.findall(r"^\| `(?:(set \d)/)?([a-z.]+)` (-?[\d.]+)", page.read_text(encoding="utf-8"), re.M)
    assert len(rows) >= 12
    found = scenario.PLOVER.values()
    for bank, name, value in rows:
        assert Decimal(found[Key(name, bank or None)]) == Decimal(value), name
