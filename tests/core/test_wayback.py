"""What a way back needs."""

from __future__ import annotations

from asflown.core.aircraft import Aircraft, FittedDevice
from asflown.core.catalog import Catalog, CatalogSource, ParameterDef, Release
from asflown.core.record import Extent, Key, Moment, Record, Setting, Unread
from asflown.core.wayback import wanted_back, way_back

OLD = Release(
    "reed-1",
    "reed",
    "1",
    Catalog(
        (
            ParameterDef("b", needs=("a",), default="2"),
            ParameterDef("a", default="1"),
            ParameterDef("serial", read_only=True, default="0"),
            ParameterDef("level", redo="level the frame", default="0"),
        ),
        CatalogSource.STATED,
    ),
)


def found(values: dict[str, str], extent: Extent, release: str | None = "reed-1", **more: object) -> Record:
    settings = tuple(Setting(Key(name), value) for name, value in values.items())
    return Record("wren-1", "wren", "board", Moment.AS_FOUND, release, "b", "2026", settings, extent, **more)  # type: ignore[arg-type]


ALL = {"b": "7", "a": "1", "serial": "99", "level": "13"}


def test_a_full_listing_is_a_complete_way_back_in_writing_order() -> None:
    way = way_back(found(ALL, Extent.FULL), OLD)
    assert way.complete
    assert [(left.key.name, left.value) for left in way.settings_to_write] == [
        ("a", "1"),
        ("b", "7"),
        ("level", "13"),
    ]
    assert "1 of 4 settings stand at the old factory value" in way.says[0]
    assert way.not_stated == ("the old image: keep the file, or read the flash back, before loading",)


def test_what_cannot_be_restored_is_named_beforehand() -> None:
    aircraft = Aircraft("wren", "Wren", devices=(FittedDevice("esc", "speed controller", version="3.1"),))
    names = [item.subject for item in way_back(found(ALL, Extent.FULL), OLD, aircraft).cannot_restore]
    assert names == ["serial", "level", "esc (speed controller)", "the transmitter's model memory"]


def test_changes_only_is_complete_only_with_the_old_factory_values() -> None:
    changes = found({"b": "7"}, Extent.CHANGES_ONLY)
    way = way_back(changes, OLD)
    assert way.complete
    assert [(left.key.name, left.value) for left in way.settings_to_write] == [("a", "1"), ("b", "7")]
    without = way_back(changes, None)
    assert not without.complete
    assert "the factory values of reed-1" in without.missing[0]
    bare = Release(
        "reed-1", "reed", "1", Catalog((ParameterDef("a"), ParameterDef("b")), CatalogSource.STATED)
    )
    assert "of 1 settings that the as-found listing does not show (a)" in way_back(changes, bare).missing[0]


def test_a_setting_shown_in_one_bank_does_not_stand_for_the_other() -> None:
    book = Catalog((ParameterDef("roll", banks=("1", "2")),), CatalogSource.STATED)
    settings = (Setting(Key("roll", "2"), "7"),)
    record = Record(
        "w", "wren", "board", Moment.AS_FOUND, "reed-1", "b", "2026", settings, Extent.CHANGES_ONLY
    )
    way = way_back(record, Release("reed-1", "reed", "1", book))
    assert not way.complete
    assert "1/roll" in way.missing[0]


def test_unknown_extent_open_lines_and_no_release_are_missing_things() -> None:
    way = way_back(found(ALL, Extent.UNKNOWN, None, unread=(Unread(8, "x"),)), None)
    assert not way.complete
    assert [text.split(":")[0] for text in way.missing] == [
        "the name of the old release",
        "the meaning of 1 lines of the as-found listing (line 8)",
        "whether the as-found listing shows every setting or only changes from factory",
    ]


def test_after_going_back_every_setting_is_wanted_as_found() -> None:
    wanted = wanted_back(found({"b": "7"}, Extent.CHANGES_ONLY), OLD.catalog)
    assert {key.name: want.value for key, want in wanted.items()} == {
        "b": "7",
        "a": "1",
        "serial": None,
        "level": "0",
    }


def test_a_record_without_its_private_settings_is_no_complete_way_back():
    from dataclasses import replace

    from asflown.core.record import Extent, Key, Moment, Record, Setting

    whole = Record(
        "p-1", "p", "board", Moment.AS_FOUND, "old-1", None, "t", (Setting(Key("a"), "1"),), Extent.FULL
    )
    assert way_back(whole, None, None).complete
    reduced = replace(whole, left_out=2)
    made = way_back(reduced, None, None)
    assert not made.complete
    assert "2 private settings" in made.missing[0]
    assert reduced.digest != whole.digest
