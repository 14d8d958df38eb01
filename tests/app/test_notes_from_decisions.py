"""What was decided for one aircraft, as change notes that lead another one to the same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from two_aircraft import AFTER, CHOICES, add, first_decided, line_about, place, plan, settle

from asflown.app import carry_over, decide
from asflown.app.notes_from_decisions import notes_from_decisions
from asflown.app.views.notes_made import made_json, made_sheet
from asflown.core.carry.dispositions import Basis
from asflown.core.catalog import NoteKind
from asflown.errors import UsageError
from asflown.formats.notes import read


@pytest.fixture
def work():
    made = place()
    first_decided(made)
    return made


def test_names_and_meanings_become_notes_and_values_do_not(work):
    made = notes_from_decisions(work, "wren", with_private=True)
    by_old = {note.old[0]: note for note in made.notes.changes}
    assert by_old["turn_soft"].kind is NoteKind.RENAME
    assert by_old["lost_after"].kind is NoteKind.CONVERT
    assert (by_old["lost_after"].conversion.unit_from, by_old["lost_after"].conversion.unit_to) == ("s", "ms")
    assert "as it flew (decided for wren on 20" in by_old["turn_soft"].why
    assert by_old["turn_soft"].why.endswith("by R. Anley)")
    assert not made.notes.complete, "a person's decisions never claim to name every change"
    left = {one.setting for one in made.left_out}
    assert set(by_old) | left >= set(CHOICES)
    assert left >= {"idle_turns", "lean_most", "spin_slow", "brake_firm"}


def test_reading_the_file_gives_the_same_notes(work):
    made = notes_from_decisions(work, "wren")
    again = read(made.data, "notes.toml")
    assert tuple(replace(note, line=None) for note in again.changes) == made.notes.changes
    assert (again.from_release, again.to_release) == (made.notes.from_release, AFTER.id)
    assert b"# left out: idle_turns: " in made.data


def test_another_store_follows_them(work):
    data = notes_from_decisions(work, "wren").data
    there = place()
    add(there, "finch", turn_soft="44", lost_after="1.2")
    made = carry_over.make_plan(there, carry_over.Ask("finch", AFTER.id, notes=((data, "wren.toml"),)))
    for setting, name, value in (
        ("turn_soft", "turn_gentle", "44"),
        ("lost_after", "lost_after_ms", "1200"),
    ):
        line = line_about(made, setting)
        assert line.basis is Basis.NOTE
        assert [(item.key.name, item.value) for item in line.new] == [(name, value)]
        assert "decided for wren" in line.why


def test_names_of_people_are_left_out_unless_wanted():
    work = place()
    add(work, "wren")
    mine = replace(work, who="Ida")  # the store's own person: everybody in the book is known by name
    settle(mine, "wren", "turn_soft", "rename", "Ida saw it, hover at 417")
    told = notes_from_decisions(work, "wren").data.decode()
    assert "Ida" not in told
    assert "person 1 saw it" in told
    assert "by person 1)" in told
    assert "by Ida)" in notes_from_decisions(work, "wren", with_private=True).data.decode()


def test_the_name_of_whoever_decided_is_left_out_though_the_book_names_another(work):
    assert "Anley" not in notes_from_decisions(work, "wren").data.decode()


def test_left_behind_becomes_a_retirement_only_where_someone_had_set_it():
    work = place()
    add(work, "wren", turn_soft="31", nod_soft="20")
    for name in ("turn_soft", "nod_soft"):
        settle(work, "wren", name, "retire", "not wanted any more")
    made = notes_from_decisions(work, "wren")
    assert [(note.kind, note.old) for note in made.notes.changes] == [(NoteKind.RETIRE, ("turn_soft",))]
    assert "nobody had changed it here" in next(x.why for x in made.left_out if x.setting == "nod_soft")


def test_what_was_taken_back_makes_no_note(work):
    add(work, "finch")
    settle(work, "finch", "turn_soft", "rename")
    decide.undo(work, "finch", "not sure")
    settle(work, "finch", "idle_turns", "keep")
    with pytest.raises(UsageError, match="makes no change note") as refused:
        notes_from_decisions(work, "finch")
    assert "idle_turns" in str(refused.value)


def test_a_refit_that_is_not_there_is_named(work):
    with pytest.raises(UsageError, match="no refit 'wren-r9'") as refused:
        notes_from_decisions(work, "wren", "wren-r9")
    assert "wren-r1" in refused.value.next_step
    add(work, "finch")
    plan(work, "finch")
    with pytest.raises(UsageError, match="nothing was decided for finch yet"):
        notes_from_decisions(work, "finch")


def test_shown_as_sheet_and_as_json_alike(work):
    made = notes_from_decisions(work, "wren")
    sheet, body = made_sheet(made, "n.toml"), made_json(made, "n.toml")
    assert [row[1] for row in sheet.tables[0].rows] == [one["old"][0] for one in body["changes"]]
    assert [row[0] for row in sheet.tables[1].rows] == [one["setting"] for one in body["left_out"]]
    assert body["text"].encode() == made.data
