"""Verify on a whole store: everything that was changed, cut off or lost is named; what cannot be seen is stated."""

from __future__ import annotations

import hashlib
import sqlite3

import pytest
from handed_world import Desk, plan_and_write, with_aircraft

from asflown.app.logbook import verify
from asflown.app.views.logbook_shown import verified_json


@pytest.fixture
def worked(tmp_path) -> Desk:
    made = with_aircraft(tmp_path / "s")
    plan_and_write(made)
    return made


def by_hand(at: Desk, *statements: str) -> None:
    """Someone with the file and without scruples: the triggers dropped first."""
    connection = sqlite3.connect(at.folder / "asflown.db")
    for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert connection.execute(statement).rowcount > 0, statement
    connection.commit()
    connection.close()


def said(at: Desk) -> list[str]:
    found = verify(at.store)
    assert verified_json(found)["holds"] is found.holds
    return [str(fault) for fault in found.faults] + [
        f"{r.refit}: {r.says}" for r in found.rehearsals if not r.holds
    ]


def test_an_untouched_store_holds_with_its_counts_and_a_rehearsal(worked):
    found = verify(worked.store)
    assert said(worked) == []
    assert found.holds
    assert found.entries == len(worked.store.book("wren"))
    assert found.originals == len(worked.store.originals()) == 3  # as found, to write, to go back
    connection = sqlite3.connect(worked.folder / "asflown.db")
    assert found.documents == connection.execute("SELECT count(*) FROM document").fetchone()[0]
    connection.close()
    assert [r.refit for r in found.rehearsals] == ["wren-r1"]


CUT = "DELETE FROM entry WHERE number = (SELECT max(number) FROM entry)"
CUT_LEDGER = "DELETE FROM ledger WHERE number >= (SELECT min(number) FROM ledger WHERE what = (SELECT 'entry wren ' || max(number) || ' ' || hash FROM entry))"


@pytest.mark.parametrize(
    "statements, says",
    [
        (("UPDATE entry SET body = replace(body, '\"sheet\":1', '\"sheet\":7') WHERE number = 1",), "logbook wren entry 1: was changed"),
        (("UPDATE entry SET who = 'nobody' WHERE number = 2",), "logbook wren entry 2: was changed"),
        (("DELETE FROM entry WHERE number = 2",), "logbook wren entry 3: entry 2 is missing"),
        (("UPDATE entry SET body = '[' WHERE number = 2",), "logbook wren entry 2: was changed"),
        ((CUT,), "logbook wren: went to entry"),
        ((CUT_LEDGER, CUT), "logbook wren: went to entry"),
        (("UPDATE document SET body = CAST(replace(CAST(body AS TEXT), '5.5', '5.6') AS BLOB) WHERE kind = 'record'",), "record wren-001 revision 1: was changed"),
        (("DELETE FROM document WHERE kind = 'record'",), "record wren-001"),
        (("DELETE FROM original WHERE name = 'before.txt'",), "names original before.txt"),
    ],
)  # fmt: skip
def test_what_was_changed_by_hand_is_named(worked, statements, says):
    by_hand(worked, *statements)
    assert any(says in line for line in said(worked)), said(worked)


def test_a_document_rewritten_with_its_hash_is_named(worked):
    old = worked.store.document("record", "wren-001")
    body = old.body.replace(b'"5.5"', b'"5.6"')
    assert body != old.body
    connection = sqlite3.connect(worked.folder / "asflown.db")
    connection.execute("DROP TRIGGER document_stays")
    connection.execute(
        "UPDATE document SET body = ?, sha256 = ? WHERE kind = 'record'",
        (body, hashlib.sha256(body).hexdigest()),
    )
    connection.commit()
    connection.close()
    faults = said(worked)
    assert any("logbook wren entry 1: names record wren-001" in line for line in faults), faults


@pytest.mark.parametrize("kind", ["listing", "write-out", "go-back"])
@pytest.mark.parametrize("act", ["change", "remove"])
def test_an_original_that_was_changed_or_lost_is_named(worked, kind, act):
    original = next(o for o in worked.store.originals() if o.kind == kind)
    (path,) = (worked.folder / "originals").rglob(f"*-{original.sha256[:12]}-*")
    if act == "change":
        path.write_bytes(path.read_bytes() + b"\n")
    else:
        path.unlink()
    word = "changed" if act == "change" else "gone"
    assert any(
        f"original {original.name} {original.sha256[:12]}" in line and word in line for line in said(worked)
    )
    assert verify(worked.store).rehearsals == ()  # nothing is rehearsed from damaged things


def test_a_file_nobody_names_is_counted_and_no_fault(worked):
    (worked.folder / "originals" / "2026" / "left.txt").write_bytes(b"x")
    found = verify(worked.store)
    assert (found.loose, found.holds) == (1, True)


def test_heads_behind_are_no_fault_and_heads_ahead_are_one(worked):
    path = worked.folder / "heads"
    heads = path.read_text()
    first = worked.store.book("wren")[0]
    lines = [line for line in heads.split("\n") if line.startswith("=")]
    path.write_text("\n".join([f"wren 1 {first.hash}", *lines, ""]))
    assert said(worked) == []
    path.write_text("\n".join([f"wren 99 {first.hash}", *lines, ""]))
    assert any("logbook wren: went to entry 99" in line for line in said(worked))


def test_a_cut_that_is_written_over_is_still_found(worked):
    by_hand(worked, CUT_LEDGER, CUT)
    with worked.store.transaction() as tx:
        tx.log("wren", "comparison", {})
        tx.log("wren", "comparison", {})
    assert any("is not the entry that was last written" in line for line in said(worked))


def test_what_nobody_can_see_here_alone_is_seen_with_a_hand_over_elsewhere(worked, tmp_path):
    """A tail cut out of logbook, ledger and heads together: this machine cannot tell; a hand-over can."""
    from asflown.app.handover import hand_over

    handed = hand_over(worked.work, "wren", with_private=True)
    assert said(worked) == []
    number = len(worked.store.book("wren"))
    by_hand(worked, CUT_LEDGER, CUT)
    last = worked.store.book("wren")[-1]
    row = sqlite3.connect(worked.folder / "asflown.db")
    ledger = row.execute("SELECT number, hash FROM ledger ORDER BY number DESC LIMIT 1").fetchone()
    row.close()
    (worked.folder / "heads").write_text(f"=ledger {ledger[0]} {ledger[1]}\nwren {last.number} {last.hash}\n")
    assert said(worked) == [], "if this is found now, say so in docs/decisions/0004-store.md"
    received = worked.takes(handed.files)
    assert received.continued_from == number - 1
