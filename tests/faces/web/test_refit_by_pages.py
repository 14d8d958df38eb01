"""A whole refit by the pages alone, as the commands do it, and what they say in between."""

import io
import zipfile

from desk_files import LISTING

from asflown.app import logbook as book
from asflown.faces.wiring import kept_store


def test_an_empty_list_leads_to_the_first_record(empty):
    first = empty.get("/")
    assert "asflown demo" in first.words
    made = empty.send(empty.get("/new-aircraft"), "new", id="wren")
    assert made.status == 200
    page = empty.get("/aircraft/wren/take")
    shown = empty.send(page, "look", files={"listing": ("wren.txt", b"a = 1\nb = 2\nc = 3\n")})
    assert "3 settings" in shown.words
    assert empty.json("/aircraft/wren/records.json")["records"] == []  # looked at, not kept
    kept = empty.send(shown, "keep")
    assert kept.path.startswith("/record/wren-001")


def test_from_record_to_sign_off(small):
    shown = small.send(
        small.get("/aircraft/plover/take"), "look", files={"listing": ("before.txt", LISTING.encode())}
    )
    small.send(shown, "keep")
    page = small.send(small.get("/aircraft/plover/plan"), "plan", to="marl-2.0")
    assert "to decide" in page.words
    while groups := [act for act in page.acts if act.startswith("decide:")]:
        form = page.form(groups[0])
        first = str(form.select_one("input[type=radio]")["value"])
        page = small.send(page, groups[0], option=first, why="looked at together")
    page = small.send(
        small.get("/aircraft/plover/gates"),
        "answer",
        gate="second reading",
        answer="passed",
        why="read twice",
    )
    written = small.send(small.get("/aircraft/plover/write"), "write-out", extent="everything")
    assert "way back" in written.words
    files = small.sent(written, "files")
    assert files.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(files.content)) as packed:
        listing = next(name for name in packed.namelist() if "to-write" in name)
        left = packed.read(listing)
    small.send(
        small.get("/aircraft/plover/gates"),
        "answer",
        gate="before loading",
        answer="passed",
        why="propellers off",
    )
    compared = small.send(
        small.get("/aircraft/plover/read-back"), "compare", files={"listing": ("left.txt", left)}
    )
    assert compared.error == ""
    cards = small.get("/aircraft/plover/cards")
    assert "propellers off" in cards.words.lower()
    _at_the_bench(small)
    signed = small.send(small.get("/aircraft/plover/sign"), "sign", name="Ines Vale", role="maintainer")
    assert "not bench-checked" in signed.words
    assert "not flown" in signed.words
    kinds = [entry.kind for entry in kept_store(small.store).book("plover")]
    assert "sign-off" in kinds[-2:]
    assert book.verify(kept_store(small.store)).holds


def _at_the_bench(small):
    """Values that are not as expected, a card that fails, what was put right, and the same card again."""
    bench = small.get("/aircraft/plover/bench")
    assert "lithium packs" in bench.words
    card = "/aircraft/plover/card/meter"
    small.send(small.get("/aircraft/plover/card/propellers-off"), "mark", result="pass")
    empty = small.sent(small.get(card), "read")
    assert empty.status_code == 400
    read = small.send(small.get(card), "read", **{"value-0": "15.92", "value-1": "15.1"})
    assert "Not as expected: shown" in read.words
    assert small.sent(small.get(card), "mark", result="pass").status_code == 409
    assert "fixed" not in small.get(card).acts
    small.send(small.get(card), "mark", result="fail", note="0.8 V apart")
    assert "closed" in small.get("/aircraft/plover/bench").words
    opened = small.send(small.get(card), "fixed", what="calibration", said="scale set by the meter")
    assert "Done again: meter" in opened.words
    small.send(small.get(card), "read", **{"value-0": "15.92", "value-1": "15.90"})
    small.send(small.get(card), "mark", result="pass")


def test_what_was_typed_stays_when_it_is_refused(planned):
    page = planned.get("/aircraft/plover/plan")
    act = next(act for act in page.acts if act.startswith("decide:"))
    again = planned.sent(page, act, option="no-such-way", why="for a reason")
    assert again.status_code == 400
    assert "for a reason" in again.text
    assert "Not done." in again.text


def test_two_tabs_lose_no_decision(planned):
    """Both tabs show two open questions; one settles the first, the other the second: both stay."""
    one = planned.get("/aircraft/plover/plan")
    other = planned.get("/aircraft/plover/plan")
    first, second = [act for act in one.acts if act.startswith("decide:")][:2]

    def way(page, act):
        return str(page.form(act).select_one("input[type=radio]")["value"])

    planned.send(one, first, option=way(one, first), why="by one")
    planned.send(other, second, option=way(other, second), why="by the other")
    said = [entry.body for entry in kept_store(planned.store).book("plover") if entry.kind == "decision"]
    assert [body["reason"] for body in said] == ["by one", "by the other"]
    again = planned.get("/aircraft/plover/plan")
    assert not {first, second} & set(again.acts)


def test_the_same_question_settled_in_two_tabs_is_told(planned):
    one = planned.get("/aircraft/plover/plan")
    other = planned.get("/aircraft/plover/plan")
    act = next(act for act in one.acts if act.startswith("decide:"))
    way = str(one.form(act).select_one("input[type=radio]")["value"])
    planned.send(one, act, option=way, why="by one")
    late = planned.sent(other, act, option=way, why="by the other")
    assert late.status_code in (400, 409)
    assert "Not done." in late.text
    said = [entry.body for entry in kept_store(planned.store).book("plover") if entry.kind == "decision"]
    assert [body["reason"] for body in said] == ["by one"]
