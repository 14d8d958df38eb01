"""``asflown behaviour``: exit codes and what is said where nothing is declared."""

from __future__ import annotations


def test_without_a_declared_structure_it_says_what_is_missing(desk):
    desk.ready()
    out = desk("behaviour", "show", "plover", code=3).out
    assert "Not known: the controllers of the turning rates." in out
    assert "control.toml" in out
    body = desk("behaviour", "compare", "plover", "plover", "--json", code=3).json
    assert (body["axes"], body["same"]) == ({}, False)
    assert set(body["reasons"]) == {"roll", "pitch", "yaw"}


def test_a_record_that_is_not_there_is_refused(desk):
    desk.plover()
    assert "neither a record nor an aircraft" in desk("behaviour", "show", "wren-001", code=1).err
