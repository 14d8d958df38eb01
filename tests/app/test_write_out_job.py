"""The listing to write, and the way back made at the same moment."""

from __future__ import annotations

import pytest
from golden_text import check_golden
from small_world import FOUND, NEW, OLD, changed, planned, put, world

from asflown.app import carry_over, kept
from asflown.app.rehearse import rehearse
from asflown.app.views.written_out import written_json, written_sheet
from asflown.app.write_out import write_out
from asflown.core.catalog import Catalog, CatalogSource, ParameterDef
from asflown.core.record import Extent
from asflown.core.refit import GateName, State
from asflown.errors import InputError, NeedsPerson, Stale
from asflown.faces.cli.console import sheet_text
from asflown.formats import listing


def delivered():
    got: dict[str, bytes] = {}

    def deliver(files):
        got.update(files)
        return "wren-out"

    return got, deliver


def values(data: bytes) -> dict[str, str]:
    return {setting.key.name: setting.value for setting in listing.read(data).settings}


def test_the_files_hold_the_plan_the_way_back_and_the_original() -> None:
    made = world()
    planned(made)
    got, deliver = delivered()
    out = write_out(made.work, "wren", deliver)
    assert sorted(got) == [
        "README.txt",
        "as-found-original.txt",
        "go-back-thrush-1.0.txt",
        "to-write-thrush-2.0.txt",
    ]
    assert values(got["to-write-thrush-2.0.txt"]) == {
        "tilt_mode": "1",
        "tilt_gain": "5.5",
        "low_pack": "11.2",
        "horn_pitch": "440",
        "spin_slow": "7",
        "lost_after_ms": "2500",
    }
    assert values(got["go-back-thrush-1.0.txt"]) == FOUND
    assert got["as-found-original.txt"] == made.board.listing()
    assert b"thrush>" not in got["go-back-thrush-1.0.txt"]
    check_golden("write-out-readme.txt", got["README.txt"].decode())
    check_golden("write-out-sheet.txt", sheet_text(written_sheet(out)))
    refit = kept.needed_refit(made.store, "wren").refit
    assert refit.state is State.WRITTEN_OUT
    assert refit.gates[GateName.WAY_BACK].answer == "passed"
    assert [entry.kind for entry in made.store.book("wren")][-2:] == ["write-out", "gate"]
    body = written_json(out)
    assert body["at_factory"] == 2
    assert [row["setting"] for row in body["lines"]][:2] == ["tilt_mode", "tilt_gain"]


def test_what_others_need_stands_first_in_both_directions() -> None:
    made = world()
    planned(made)
    got, deliver = delivered()
    write_out(made.work, "wren", deliver, everything=True)
    for name in ("to-write-thrush-2.0.txt", "go-back-thrush-1.0.txt"):
        names = list(values(got[name]))
        assert names.index("tilt_mode") < names.index("tilt_gain")
    assert len(values(got["to-write-thrush-2.0.txt"])) == 8  # all of the new release but the calibration


def test_everything_is_written_when_factory_values_are_not_stated() -> None:
    bare = changed(
        NEW,
        catalog=Catalog(
            tuple(ParameterDef(p.name, p.group, p.kind, description=p.description, unit=p.unit, consequence=p.consequence,
                               redo=p.redo, choices=p.choices) for p in NEW.catalog.parameters),
            CatalogSource.STATED,
        ),
    )  # fmt: skip
    made = world()
    put(made.work, "release", NEW.id, bare)
    planned(made)
    out = write_out(made.work, "wren")
    assert out.job.refit.write_out.everything
    assert "is not stated" in out.everything_why


def test_nothing_is_kept_when_the_folder_cannot_be_written() -> None:
    made = world()
    planned(made)

    def deliver(files):
        raise InputError("is there already and is not written over", where="wren-out")

    before = len(made.store.book("wren"))
    with pytest.raises(InputError):
        write_out(made.work, "wren", deliver)
    assert kept.needed_refit(made.store, "wren").refit.state is State.DECIDED
    assert len(made.store.book("wren")) == before


def test_open_decisions_refuse() -> None:
    made = world()
    put(made.work, "release", NEW.id, changed(NEW, notes=()))
    carry_over.make_plan(made.work, carry_over.Ask("wren", NEW.id))
    with pytest.raises(NeedsPerson) as caught:
        write_out(made.work, "wren")
    assert caught.value.exit_code == 2
    assert any("lost_after" in str(f) or "still to decide" in str(f) for f in caught.value.faults)


def test_a_moved_input_is_named() -> None:
    made = world()
    planned(made)
    put(made.work, "release", NEW.id, changed(NEW, remarks=("brought in again",)))
    with pytest.raises(Stale) as caught:
        write_out(made.work, "wren")
    assert [fault.where for fault in caught.value.faults] == [f"release {NEW.id}"]


def test_an_incomplete_way_back_is_refused_with_what_is_missing() -> None:
    no_factory = changed(
        OLD,
        catalog=Catalog(
            tuple(ParameterDef(p.name, p.group, p.kind, unit=p.unit, consequence=p.consequence, description=p.description,
                               choices=p.choices, redo=p.redo) for p in OLD.catalog.parameters),
            CatalogSource.STATED,
        ),
    )  # fmt: skip
    made = world(old=no_factory)
    # the same listing, said to be changes-only, without two settings
    record, document = kept.record_with_document(made.store, "wren-001")
    short = changed(
        record,
        extent=Extent.CHANGES_ONLY,
        settings=tuple(s for s in record.settings if s.key.name not in ("lamp_level", "horn_pitch")),
    )
    put(made.work, "record", record.id, short)
    planned(made)
    with pytest.raises(NeedsPerson, match="way back is incomplete") as caught:
        write_out(made.work, "wren")
    (fault,) = caught.value.faults
    assert "factory value under thrush-1.0 of 2 settings" in fault.what
    assert "lamp_level" in fault.what
    assert document.revision == 1


def test_a_changes_only_record_goes_back_with_the_old_factory_values() -> None:
    made = world()
    record, _ = kept.record_with_document(made.store, "wren-001")
    short = changed(
        record,
        extent=Extent.CHANGES_ONLY,
        settings=tuple(s for s in record.settings if s.key.name != "lamp_level"),
    )
    put(made.work, "record", record.id, short)
    planned(made)
    got, deliver = delivered()
    write_out(made.work, "wren", deliver)
    assert values(got["go-back-thrush-1.0.txt"]) == FOUND  # lamp_level comes from the factory value, 3


def test_the_rehearsal_rebuilds_the_same_bytes_even_after_the_release_came_in_anew() -> None:
    made = world()
    planned(made)
    write_out(made.work, "wren")
    refit = kept.needed_refit(made.store, "wren").refit
    put(
        made.work,
        "release",
        OLD.id,
        changed(OLD, catalog=Catalog(tuple(reversed(OLD.catalog.parameters)), CatalogSource.STATED)),
    )
    done = rehearse(made.store, refit)
    assert done.holds
    assert done.same_bytes
    assert done.settings == 9


def test_the_rehearsal_finds_a_kept_listing_that_lost_a_setting() -> None:
    made = world()
    planned(made)
    write_out(made.work, "wren")
    refit = kept.needed_refit(made.store, "wren").refit
    data = made.store.original(refit.write_out.back_listing.sha256).replace(
        b"low_pack be 11.2", b"low_pack be 10.2"
    )
    with made.store.transaction() as tx:
        forged = tx.keep(data, name="x", kind="go-back")
    done = rehearse(made.store, changed(refit, write_out=changed(refit.write_out, back_listing=forged)))
    assert not done.holds
    assert not done.same_bytes
    assert any(
        "low_pack: the kept go-back listing says 10.2, as found was 11.2" in fault for fault in done.faults
    )
