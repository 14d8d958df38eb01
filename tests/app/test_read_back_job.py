"""Replies, read-back and sign-off in the small world, also when writing stopped half-way."""

from __future__ import annotations

import pytest
from golden_text import check_golden
from small_world import NEW, OLD, World, changed, planned, put, world

from asflown.app import kept
from asflown.app.read_back import Reading, read_back
from asflown.app.replies import read_transcript
from asflown.app.sign import Signature, sign
from asflown.app.views.read_back_shown import read_back_json, read_back_sheet
from asflown.app.views.replies_shown import replies_json, replies_sheet
from asflown.app.views.signed import signed_json, signed_sheet
from asflown.app.write_out import rest_of, write_out
from asflown.core.record import Extent
from asflown.core.refit import GateName, State
from asflown.errors import InputError, NeedsPerson, UsageError
from asflown.faces.cli.console import sheet_text


def written() -> tuple[World, str]:
    """A world whose listing is written out and whose board has the new image, erased."""
    made = world()
    planned(made)
    got: dict[str, bytes] = {}
    write_out(made.work, "wren", lambda files: got.update(files) or "out")
    made.board.load_image(NEW)
    return made, got["to-write-thrush-2.0.txt"].decode()


def stored(made: World) -> bytes:
    made.board.save()
    made.board.restart()
    return made.board.listing()


def test_as_left_is_as_planned() -> None:
    made, text = written()
    transcript = made.board.paste(text)
    read = read_transcript(made.work, "wren", transcript.encode(), "t.txt")
    assert read.is_clean
    assert read.job.refit.state is State.WRITTEN_OUT
    done = read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    assert done.compared.is_as_planned
    assert done.job.refit.state is State.READ_BACK
    assert done.job.refit.gates[GateName.READ_BACK].answer == "passed"
    check_golden("read-back-as-planned.txt", sheet_text(read_back_sheet(done)))
    assert read_back_json(done)["as_planned"] is True


def test_writing_that_stopped_half_way_and_the_way_on() -> None:
    made, text = written()
    transcript = made.board.paste(text, stop_after=3) + "thrush> let horn_p"
    read = read_transcript(made.work, "wren", transcript.encode(), "t.txt")
    assert read.replies.stopped
    assert read.job.refit.state is State.PARTLY_WRITTEN
    check_golden("replies-stopped.txt", sheet_text(replies_sheet(read)))
    assert replies_json(read)["stopped_after"]["line"] == 3
    with pytest.raises(NeedsPerson, match="partly written: do not fly"):
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
    rest = rest_of(made.work, "wren")
    again = read_transcript(made.work, "wren", made.board.paste(rest.data.decode()).encode(), "t2.txt")
    assert again.sent.what == "the listing with the rest"
    assert again.is_clean
    assert again.job.refit.state is State.PARTLY_WRITTEN  # only the read-back proves it
    done = read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    assert done.job.refit.state is State.READ_BACK


def test_a_half_written_read_back_lists_each_setting_and_offers_the_rest() -> None:
    made, text = written()
    made.board.paste(text, stop_after=2)
    done = read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    assert done.job.refit.state is State.PARTLY_WRITTEN
    assert [item.key.name for item in done.compared.differing] == [
        "low_pack",
        "spin_slow",
        "lost_after_ms",
        "horn_pitch",
    ]
    check_golden("read-back-partly-written.txt", sheet_text(read_back_sheet(done)))
    made.board.paste(rest_of(made.work, "wren").data.decode())
    assert read_back(made.work, "wren", Reading(stored(made), "after2.txt")).compared.is_as_planned


def test_erase_and_start_again() -> None:
    made, text = written()
    made.board.paste(text, stop_after=2)
    read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    made.board.erase()
    made.board.paste(text)
    assert read_back(made.work, "wren", Reading(stored(made), "after2.txt")).compared.is_as_planned


def test_a_changes_only_read_back_is_completed_from_factory_values() -> None:
    made, text = written()
    made.board.paste(text)
    factory = {p.name: p.default for p in NEW.catalog.parameters}
    rows = "".join(f"let {n} be {v}\r\n" for n, v in made.board.live.items() if v != factory[n])
    done = read_back(made.work, "wren", Reading(rows.encode(), "after.txt", Extent.CHANGES_ONLY))
    assert done.compared.is_as_planned
    lost = rows.replace("let low_pack be 11.2\r\n", "")
    done = read_back(made.work, "wren", Reading(lost.encode(), "after.txt", Extent.CHANGES_ONLY))
    (item,) = done.compared.differing
    assert (item.key.name, item.read, item.implied) == ("low_pack", "10.5", True)


def test_a_complaint_is_explained_from_the_carry_over() -> None:
    made, text = written()
    bad = text.replace("spin_slow be 7", "spin_slow be 700")
    assert "explained" not in text
    transcript = made.board.paste(text).replace(
        "let spin_slow be 7\r\nso be it", "let spin_slow be 7\r\nflash worn"
    )
    read = read_transcript(made.work, "wren", transcript.encode(), "t.txt")
    (item,) = read.explained
    assert (str(item.reply.after.key), item.reply.text, item.says) == (
        "spin_slow",
        "flash worn",
        "unexplained",
    )
    assert not read.is_clean
    # a line typed by hand with a value out of range does not show as written
    read = read_transcript(made.work, "wren", made.board.paste(bad).encode(), "t2.txt")
    assert [str(line.key) for line in read.replies.not_found] == ["spin_slow"]
    assert read.job.refit.state is State.PARTLY_WRITTEN


def test_the_as_found_listing_sent_to_the_new_release_is_noticed_and_explained() -> None:
    made, _ = written()
    refit = kept.needed_refit(made.store, "wren").refit
    original = made.store.original(refit.write_out.back_listing.sha256).decode()
    read = read_transcript(made.work, "wren", made.board.paste(original).encode(), "t.txt")
    assert read.sent.what == "the go-back listing"
    assert {str(e.reply.after.key): e.reply.text for e in read.explained} == {
        "lost_after": "no such thing: lost_after",
        "old_toy": "no such thing: old_toy",
    }
    assert any("belongs on thrush-1.0 and on no other release" in text for text in read.remarks)


def test_explanations_name_the_disposition_and_the_consequence() -> None:
    from asflown.app.state import job_of, written_plan
    from asflown.core.explain import Grounds
    from asflown.core.record import Key
    from asflown.core.replies import Reply, ReplyKind, WrittenLine

    made, _ = written()
    job = job_of(made.store, kept.needed_refit(made.store, "wren"))
    grounds = Grounds(written_plan(made.store, job.refit), job.new, "thrush-2.0", frozenset({"tilt_mode"}))

    def says(name: str, value: str) -> str:
        line = WrittenLine(1, f"let {name} be {value}", Key(name), value)
        return grounds.explain(Reply(1, "no", ReplyKind.COMPLAINT, line)).says

    assert says("old_toy", "1") == "thrush-2.0 has no such name: disposition retire, consequence comfort"
    assert says("lost_after", "2.5").startswith(
        "thrush-2.0 has no such name: disposition convert to lost_after_ms, consequence safety"
    )
    assert (
        says("spin_slow", "700")
        == "value not allowed: 700 is above the most allowed, 100; the nearest allowed is 100"
    )
    assert says("tilt_gain", "5.5") == "it needs tilt_mode, which was refused or not written"
    assert says("level_trim", "31") == "the device makes this value itself: level the frame and store"
    assert says("unheard_of", "1") == "thrush-2.0 has no such name: the carry-over does not know it either"
    assert says("low_pack", "11.2") == "unexplained"


def test_a_sign_off_says_what_was_not_done_and_moves_the_aircraft() -> None:
    made, text = written()
    with pytest.raises(NeedsPerson, match="waits for the gate 'read-back'"):
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))
    made.board.paste(text)
    read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    with pytest.raises(UsageError, match="name and a role"):
        sign(made.work, "wren", Signature(" ", "maintainer"))
    signed = sign(made.work, "wren", Signature("Ida Holm", "maintainer", "first of three"))
    assert signed.proven == "settings proven; not bench-checked, not flown"
    check_golden("sign-off.txt", sheet_text(signed_sheet(signed)))
    assert kept.aircraft(made.store, "wren").release == NEW.id
    assert kept.latest_record(made.store, "wren").id == signed.as_left.id
    entry = next(e for e in made.store.book("wren") if e.kind == "sign-off")
    assert entry.body["statement"] == signed.proven
    assert ["baseline flight", "not stated", ""] in entry.body["gates"]
    assert signed_json(signed)["redo_not_stated"] == ["level_trim"]
    with pytest.raises(NeedsPerson, match="no refit is open"):
        sign(made.work, "wren", Signature("Ida Holm", "maintainer"))


def test_refusals_before_anything_was_written_out() -> None:
    made = world()
    planned(made)
    for act in (
        lambda: read_back(made.work, "wren", Reading(made.board.listing(), "x")),
        lambda: read_transcript(made.work, "wren", b"x", "x"),
    ):
        with pytest.raises(NeedsPerson, match="nothing was written out"):
            act()
    made, _ = written()
    with pytest.raises(InputError, match="transcript is empty"):
        read_transcript(made.work, "wren", b"\r\n", "x")
    assert OLD.id == "thrush-1.0"


def test_another_active_bank_is_said() -> None:
    made, text = written()
    record, _ = kept.record_with_document(made.store, "wren-001")
    put(made.work, "record", "wren-001", changed(record, active_banks={"page": "2"}))
    made.board.paste(text)
    done = read_back(made.work, "wren", Reading(stored(made), "after.txt"))
    assert done.remarks == ()  # the reading says nothing about pages
    from asflown.app.read_back import _remarks

    said = _remarks(done.job, changed(done.record, active_banks={"page": "1"}))
    assert said == ("another bank is active: page 2 as found, 1 now",)
