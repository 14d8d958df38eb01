"""Heads that outlast a cut, any body and any text, values that are only remembered."""

from __future__ import annotations

from folder_world import filled, opened, tampered
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.logbook import check_chain


def test_heads_stay_where_they_were_when_the_tail_was_cut_off(tmp_path):
    store = filled(tmp_path, 3)
    third = store.book("wren")[2]
    tampered(store, "DELETE FROM entry WHERE number = 3")
    with store.transaction() as tx:
        tx.log("wren", "comparison", {"number": "written over the cut"})
        tx.log("dunnock", "comparison", {})
    assert store.heads()["wren"] == (3, third.hash)
    assert store.book("wren")[2].hash != third.hash
    assert store.heads()["dunnock"][0] == 1


def test_heads_left_behind_by_a_kill_are_put_right_by_the_next_commit(tmp_path):
    store = filled(tmp_path, 3)
    first = store.book("wren")[0]
    (tmp_path / "heads").write_text(f"wren 1 {first.hash}\nnot a line\nwren x y\n", encoding="utf-8")
    with store.transaction() as tx:
        tx.log("wren", "comparison", {})
    assert store.heads() == {"wren": (4, store.book("wren")[-1].hash)}


def test_convenience_values_are_set_and_forgotten(tmp_path):
    store = opened(tmp_path)
    assert store.memory("current_aircraft") is None
    store.remember("current_aircraft", "wren")
    assert opened(tmp_path).memory("current_aircraft") == "wren"
    store.remember("current_aircraft", None)
    assert store.memory("current_aircraft") is None


def test_text_that_is_no_utf8_does_not_stop_the_work(tmp_path):
    store = opened(tmp_path, who="J\udcfcrgen")
    with store.transaction() as tx:
        assert tx.keep(b"x", name="caf\udce9.txt", kind="listing").name == "caf?.txt"
        tx.log("wren", "comparison", {"why": "caf\udce9"})
        tx.log("wren", "comparison", {"why": "café\u2028\0"})
    assert store.book("wren")[0].who == "J?rgen"
    assert [entry.body["why"] for entry in store.book("wren")] == ["caf\udce9", "café\u2028\0"]
    assert check_chain(store.book("wren")) == ()


bodies = st.dictionaries(
    st.text(st.characters(codec="utf-8"), max_size=6),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(st.characters(codec="utf-8"), max_size=12),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=4), inner, max_size=3),
        max_leaves=8,
    ),
    max_size=4,
)  # fmt: skip


@given(st.lists(bodies, max_size=5))
def test_any_body_comes_back_as_it_went_in_and_the_chain_holds(tmp_path_factory, many):
    store = opened(tmp_path_factory.mktemp("store"))
    with store.transaction() as tx:
        for body in many:
            tx.log("wren", "comparison", body)
    book = store.book("wren")
    assert [entry.body for entry in book] == many
    assert check_chain(book) == ()
    store.close()


def test_an_entry_that_cannot_be_read_is_found_by_its_hash(tmp_path):
    store = filled(tmp_path, 2)
    tampered(store, "UPDATE entry SET body = '{' WHERE number = 2")
    (fault,) = check_chain(store.book("wren"))
    assert (fault.number, fault.what) == (2, "was changed after it was written")
