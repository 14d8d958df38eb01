"""The store keeps what it promises: whole transactions, revisions, one chain a book, originals under their hash."""

from __future__ import annotations

import hashlib
import inspect
import sqlite3
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings
from store_tools import opened, work_once

from asflown.adapters.clock import SystemClock
from asflown.adapters.store import FolderStore
from asflown.adapters.store.transaction import FolderTransaction
from asflown.app import needs
from asflown.app.logbook import verify
from asflown.core.logbook import FIRST, chained, check_chain
from asflown.errors import Damaged, InputError, Stale, StoreError


def as_store(store: FolderStore) -> needs.Store:
    """Mypy holds the fit: the adapter is given where the protocol is asked for."""
    return store


def as_clock(clock: SystemClock) -> needs.Clock:
    return clock


@pytest.mark.parametrize(
    ("adapter", "protocol"), [(FolderStore, needs.Store), (FolderTransaction, needs.Transaction)]
)
def test_every_call_of_the_protocol_is_there_with_its_arguments(adapter, protocol):
    for name, wanted in vars(protocol).items():
        if name.startswith("_") or not callable(wanted):
            continue
        theirs = inspect.signature(wanted).parameters
        ours = inspect.signature(inspect.unwrap(getattr(adapter, name))).parameters
        assert [(p.name, p.kind, p.default) for p in ours.values()] == [
            (p.name, p.kind, p.default) for p in theirs.values()
        ], name


def test_the_clock_says_the_zone():
    said = as_clock(SystemClock()).now()
    assert len(said) == len("2026-03-07T09:12:44+01:00")
    assert said[10] == "T"
    assert said[19] in "+-"


def test_what_was_kept_is_there_after_opening_again(tmp_path):
    first = opened(tmp_path / "s")
    assert work_once(as_store(first), 1) == 1
    assert work_once(first, 2) == 2
    first.remember("current_aircraft", "plover")
    first.close()
    store = opened(tmp_path / "s")
    assert [document.id for document in store.documents("note")] == ["plover-001", "plover-002"]
    assert [document.revision for document in store.revisions("count", "plover")] == [1, 2]
    assert store.document("count", "plover").body == b"sheet 2"
    assert store.document("aircraft", "heron") is None
    book = store.book("plover")
    assert check_chain(book) == ()
    assert book[0].previous == FIRST
    assert store.books() == ("plover",)
    for entry in book:
        data = store.original(entry.body["original"])
        assert hashlib.sha256(data).hexdigest() == entry.body["original"]
    assert store.memory("current_aircraft") == "plover"
    store.remember("current_aircraft", None)
    assert store.memory("current_aircraft") is None
    assert verify(store).holds
    store.close()


def test_a_block_that_raises_leaves_no_trace(tmp_path):
    store = opened(tmp_path)
    work_once(store, 1)
    before = list(store._connection.iterdump())
    with pytest.raises(ZeroDivisionError), store.transaction() as tx:  # noqa: PT012 - the block is what is tested
        tx.keep(b"x", name="x", kind="listing")
        tx.put("aircraft", "plover", b"other")
        tx.log("plover", "aircraft", {})
        tx.next_sheet("plover")
        _ = 1 / 0
    assert list(store._connection.iterdump()) == before
    assert len(store.loose_files()) == 1  # the file is there, nothing names it, and verify says so
    assert verify(store).holds
    assert verify(store).loose == 1


def test_an_error_of_the_job_is_not_taken_for_the_stores(tmp_path):
    store = opened(tmp_path)
    with pytest.raises(FileNotFoundError), store.transaction():
        (tmp_path / "not there").read_bytes()


def test_expect_names_what_moved(tmp_path):
    store = opened(tmp_path)
    with store.transaction() as tx:
        tx.put("aircraft", "plover", b"a", expect=0)
        tx.put("aircraft", "plover", b"b", expect=1)
    with pytest.raises(Stale, match="aircraft plover is at revision 2, not 1"), store.transaction() as tx:
        tx.put("aircraft", "plover", b"c", expect=1)
    with (
        pytest.raises(Stale, match="aircraft plover is there already, at revision 2"),
        store.transaction() as tx,
    ):
        tx.put("aircraft", "plover", b"c", expect=0)
    assert store.document("aircraft", "plover").body == b"b"


@pytest.mark.parametrize("table", ["document", "entry", "original", "ledger"])
@pytest.mark.parametrize("statement", ["UPDATE {} SET rowid = rowid + 10", "DELETE FROM {}"])
def test_the_file_itself_refuses_to_forget(tmp_path, table, statement):
    store = opened(tmp_path)
    work_once(store, 1)
    with pytest.raises(sqlite3.IntegrityError, match="never change"):
        store._connection.execute(statement.format(table))


def test_the_same_bytes_are_kept_once_and_put_a_lost_file_right(tmp_path):
    store = opened(tmp_path)
    with store.transaction() as tx:
        one = tx.keep(b"same", name="a.txt", kind="listing")
        two = tx.keep(b"same", name="b.txt", kind="listing")
    assert one.sha256 == two.sha256
    assert len(store.originals()) == 1
    [file] = [path for path in (tmp_path / "originals").rglob("*") if path.is_file()]
    assert file.relative_to(tmp_path).as_posix() == f"originals/2026/03/07/091244-{one.sha256[:12]}-a.txt"
    file.write_bytes(b"other")
    with pytest.raises(Damaged, match="changed"):
        store.original(one.sha256)
    file.unlink()
    with pytest.raises(Damaged, match="gone"):
        store.original(one.sha256)
    with store.transaction() as tx:
        tx.keep(b"same", name="c.txt", kind="listing")
    assert store.original(one.sha256) == b"same"
    assert verify(store).holds
    with pytest.raises(Damaged, match="no original"):
        store.original("0" * 64)


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "C:\\x\\y.txt", "", "...", "a" * 300, "ünï cödé.txt", "bad\udc80name", ".hidden"],
)
def test_any_name_becomes_a_plain_file_inside_the_store(tmp_path, name):
    store = opened(tmp_path / "s")
    with store.transaction() as tx:
        kept = tx.keep(b"x", name=name, kind="listing")
        tx.log("plover", "record", {"name": name})
    files = [path for path in tmp_path.rglob("*") if path.is_file() and path.read_bytes() == b"x"]
    assert len(files) == 1
    assert files[0].parent == tmp_path / "s/originals/2026/03/07"
    assert len(files[0].name.encode()) < 100
    assert store.original(kept.sha256) == b"x"
    assert store.book("plover")[0].body == {"name": name}
    assert verify(store).holds


def test_a_number_that_is_none_is_refused(tmp_path):
    store = opened(tmp_path)
    with pytest.raises(InputError), store.transaction() as tx:
        tx.log("plover", "record", {"factor": float("nan")})
    assert store.books() == ()


def test_an_entry_that_was_handed_over_keeps_its_hash_and_must_follow(tmp_path):
    one, two = opened(tmp_path / "1", who="Ida"), opened(tmp_path / "2", who="Ben")
    work_once(one, 1)
    work_once(one, 2)
    first, second = one.book("plover")
    with two.transaction() as tx:
        tx.append(first)
        tx.append(second)
    assert two.book("plover") == (first, second)
    stranger = chained(book="plover", number=3, kind="gate", at="", who="x", body={}, previous="f" * 64)
    for wrong in (first, stranger):
        with pytest.raises(Stale, match="does not follow"), two.transaction() as tx:
            tx.append(wrong)


def test_a_transaction_that_sqlite_ended_takes_nothing_more(tmp_path):
    store = opened(tmp_path)
    with pytest.raises(StoreError, match="has ended"), store.transaction() as tx:  # noqa: PT012 - the block is what is tested
        store._connection.execute("ROLLBACK")
        tx.put("aircraft", "plover", b"x")
    assert store.documents("aircraft") == ()


# ------------------------------------------------------------------------------------ laws

TEXT = st.text(min_size=1, max_size=8)
BODY = st.dictionaries(
    TEXT,
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), TEXT
    ),
)
ACT = st.one_of(
    st.tuples(st.just("keep"), st.binary(max_size=30), TEXT),
    st.tuples(st.just("put"), st.sampled_from(["note", "other"]), TEXT, st.binary(max_size=20)),
    st.tuples(st.just("log"), st.sampled_from(["plover", "heron"]), BODY),
    st.tuples(st.just("sheet"), st.sampled_from(["plover", "heron"])),
)


class Model:
    """What should be kept, in plain lists."""

    def __init__(self) -> None:
        self.originals: dict[str, bytes] = {}
        self.documents: list[tuple[str, str, bytes]] = []
        self.entries: list[tuple[str, dict]] = []
        self.sheets: dict[str, int] = {}

    def copy(self) -> Model:
        made = Model()
        made.originals, made.documents = dict(self.originals), list(self.documents)
        made.entries, made.sheets = list(self.entries), dict(self.sheets)
        return made


def act(tx: FolderTransaction, model: Model, what: tuple) -> None:
    if what[0] == "keep":
        model.originals[tx.keep(what[1], name=what[2], kind="listing").sha256] = what[1]
    elif what[0] == "put":
        tx.put(*what[1:])
        model.documents.append(what[1:])
    elif what[0] == "log":
        tx.log(what[1], "comparison", what[2])
        model.entries.append(what[1:])
    else:
        model.sheets[what[1]] = model.sheets.get(what[1], 0) + 1
        assert tx.next_sheet(what[1]) == model.sheets[what[1]]


class GivenUp(Exception):
    """The job stops half-way."""


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.lists(ACT, max_size=5), st.booleans()), max_size=6))
def test_what_is_kept_is_what_the_ended_transactions_said(tmp_path_factory, transactions):
    folder: Path = tmp_path_factory.mktemp("law")
    store, model = opened(folder), Model()
    for acts, gives_up in transactions:
        after = model.copy()
        try:
            with store.transaction() as tx:
                for what in acts:
                    act(tx, after, what)
                if gives_up:
                    raise GivenUp
            model = after
        except GivenUp:
            pass
    store.close()
    store = opened(folder)
    assert {o.sha256: store.original(o.sha256) for o in store.originals()} == model.originals
    for kind, id in {(kind, id) for kind, id, _ in model.documents}:
        said = [body for k, i, body in model.documents if (k, i) == (kind, id)]
        assert [document.body for document in store.revisions(kind, id)] == said
    for book in ("plover", "heron"):
        assert [entry.body for entry in store.book(book)] == [b for name, b in model.entries if name == book]
        with store.transaction() as tx:
            assert tx.next_sheet(book) == model.sheets.get(book, 0) + 1
    found = verify(store)
    assert found.faults == ()
    store.close()
