"""Change notes followed across releases, against answers worked by hand."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from asflown.core.carry.chain import find_path, trace
from asflown.core.catalog import ChangeNote, ChangeNotes, NoteKind


def note(kind: str, old: str, new: str = "") -> ChangeNote:
    return ChangeNote(NoteKind(kind), tuple(old.split()), tuple(new.split()))


def notes(a: str, b: str, *changes: ChangeNote, complete: bool = False) -> ChangeNotes:
    return ChangeNotes(a, b, changes, complete)


def ends(routes):
    return {route.old: route.new for route in routes}


def test_a_rename_is_followed_through_two_releases():
    path = [notes("1", "2", note("rename", "a", "b")), notes("2", "3", note("rename", "b", "c"))]
    (route,) = trace(path, ["a", "x"])
    assert (route.old, route.new) == (("a",), ("c",))
    assert [str(step) for step in route.steps] == ["1 -> 2: rename a -> b", "2 -> 3: rename b -> c"]


def test_names_may_be_swapped_in_one_release():
    path = [notes("1", "2", note("rename", "a", "b"), note("rename", "b", "a"))]
    assert ends(trace(path, ["a", "b"])) == {("a",): ("b",), ("b",): ("a",)}


def test_a_split_whose_half_is_retired_later():
    path = [
        notes("1", "2", note("split", "a", "a_x a_y")),
        notes("2", "3", note("retire", "a_y"), note("rename", "a_x", "ax")),
    ]
    (route,) = trace(path, ["a"])
    assert route.new == ("ax",)
    assert not route.is_retired


def test_a_merge_joins_routes_and_keeps_every_step():
    path = [
        notes("1", "2", note("rename", "a", "a2")),
        notes("2", "3", note("merge", "a2 b", "c")),
    ]
    (route,) = trace(path, ["a", "b"])
    assert set(route.old) == {"a", "b"}
    assert route.new == ("c",)
    assert len(route.steps) == 2


def test_a_retired_name_ends_its_route():
    (route,) = trace([notes("1", "2", note("retire", "a"))], ["a"])
    assert route.is_retired


def test_a_name_reused_for_something_else_does_not_mix():
    path = [notes("1", "2", note("retire", "a")), notes("2", "3", note("rename", "a", "b"))]
    (route,) = trace(path, ["a"])
    assert route.is_retired, "the second note speaks of another parameter named a"


def test_a_merge_with_a_missing_part_is_a_conflict():
    (route,) = trace([notes("1", "2", note("merge", "a b", "c"))], ["a"])
    assert route.conflict is not None
    assert "b was not found" in route.conflict


def test_a_rename_onto_a_living_name_is_a_conflict():
    (route,) = trace([notes("1", "2", note("rename", "a", "b"))], ["a", "b"])
    assert route.conflict is not None


def test_two_notes_moving_one_name_are_a_conflict():
    (route,) = trace([notes("1", "2", note("rename", "a", "b"), note("retire", "a"))], ["a"])
    assert route.conflict is not None


def test_notes_about_names_the_aircraft_has_not_are_passed_over():
    assert trace([notes("1", "2", note("rename", "zz", "b"))], ["a"]) == ()


def test_the_shortest_chain_is_found_and_files_for_one_step_are_joined():
    everything = [
        notes("1", "2", note("rename", "a", "b")),
        notes("2", "3", note("rename", "b", "c")),
        notes("2", "3", note("retire", "z")),
        notes("1", "9", note("retire", "a")),
    ]
    path = find_path(everything, "1", "3")
    assert path is not None
    assert [(item.from_release, item.to_release, len(item.changes)) for item in path] == [
        ("1", "2", 1),
        ("2", "3", 2),
    ]
    assert find_path(everything, "3", "1") is None
    assert find_path(everything, "1", "1") == ()


@given(st.lists(st.permutations(list("abcdef")), min_size=1, max_size=4))
def test_chained_permutations_compose_like_functions(perms):
    """Renaming every name at once is a permutation; a chain of them is their composition."""
    path = [
        notes(str(k), str(k + 1), *(note("rename", a, b) for a, b in zip("abcdef", perm, strict=True)))
        for k, perm in enumerate(perms)
    ]
    expected = {name: name for name in "abcdef"}
    for perm in perms:
        step = dict(zip("abcdef", perm, strict=True))
        expected = {name: step[at] for name, at in expected.items()}
    assert ends(trace(path, "abcdef")) == {(a,): (b,) for a, b in expected.items()}
