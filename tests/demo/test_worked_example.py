"""The worked example: told whole, few questions, no trap sprung; the same without catalogs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from asflown.core.carry.carry import Question, carry_over
from asflown.core.carry.chain import find_path
from asflown.core.carry.dispositions import Disposition
from asflown.core.record import Extent, Moment, Record
from asflown.core.values import same_value
from asflown.demo import releases, scenario
from asflown.demo.firmware.changes import changes
from asflown.faces.cli.main import main
from asflown.formats import listing, release_folder

#: What the issue of this worked example asks of it: about 300 settings, at most 15 decisions.
MOST_DECISIONS = 15


def found_record() -> Record:
    shown = listing.read(scenario.found_listing("plover"))
    return Record(
        "plover-001", "plover", "board", Moment.AS_FOUND, scenario.OLD_RELEASE, scenario.BOARD, "t",
        shown.settings, Extent.FULL,
    )  # fmt: skip


@pytest.fixture(scope="module")
def plan():
    known = {name: release_folder.read(files, name) for name, files in releases.folders().items()}
    path = find_path(
        [notes for release in known.values() for notes in release.notes or ()],
        scenario.OLD_RELEASE,
        scenario.NEW_RELEASE,
    )
    old, new = known[scenario.OLD_RELEASE], known[scenario.NEW_RELEASE]
    return carry_over(Question(found_record(), old, new, path))


@pytest.fixture(scope="module")
def bare_plan():
    known = [release_folder.read(files, name) for name, files in releases.bare_folders().items()]
    old, new = (replace(r, id=r.id.removesuffix("-bare")) for r in known)
    return carry_over(Question(found_record(), old, new))


def test_it_asks_few_questions(plan):
    assert plan.found >= 300
    assert len(plan.open_groups) <= MOST_DECISIONS
    assert plan.account.adds_up


def test_every_kind_of_disposition_is_in_it(plan):
    assert {line.disposition for line in plan.lines} == set(Disposition)


def test_without_catalogs_the_questions_stay_few_and_nothing_that_changed_is_written(bare_plan):
    """Two bare listings: every setting whose meaning truly changed is asked, or left at the new factory value.

    The truth is the demo firmware's own table of changes, which the carry-over never sees here.
    """
    assert len(bare_plan.open_groups) <= MOST_DECISIONS
    moved = {
        name
        for change in changes()
        if change.kind in ("convert", "meaning", "retire", "merge", "split")
        for name in change.old
    }
    written = [
        item
        for line in bare_plan.lines
        if any(found.key.name in moved for found in line.old)
        for item in line.new
        if item.value is not None and not same_value(item.value, item.factory or "")
    ]
    assert written == []


def test_it_is_told_to_its_end(tmp_path, monkeypatch, capsys):
    """Every command of it is run for real and must end as the story says; a stop half-way is part of it."""
    monkeypatch.setenv("ASFLOWN_STORE", str(tmp_path / "not-used"))
    assert main(["demo", str(tmp_path / "marsh")]) == 0
    told = capsys.readouterr().out
    assert "partly written: do not fly" in told
    assert "settings proven; not bench-checked, not flown" in told.casefold()
    assert "rebuilt, the same byte for byte" in told
    assert not (tmp_path / "not-used").exists(), "the person's own store is left alone"


def test_the_way_back_reproduces_every_setting_a_listing_can(tmp_path):
    """On a board of its own, erased, the go-back listing alone gives back every as-found setting.

    Flight counters are the board's own and refuse to be written; nothing else may differ.
    """
    assert main(["demo", str(tmp_path / "marsh")]) == 0
    rehearsed = listing.read((tmp_path / "marsh" / "rehearsal.txt").read_bytes())
    found = found_record().values
    read = {setting.key: setting.value for setting in rehearsed.settings}
    differing = {str(key) for key in found if read.get(key) != found[key]}
    assert differing == {"craft.hours", "craft.flights"}
