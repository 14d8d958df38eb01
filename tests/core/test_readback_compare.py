"""As left against as planned."""

from __future__ import annotations

from asflown.core.carry.dispositions import Basis, Disposition, Found, Left, Line
from asflown.core.carry.readback import ReadKind, compare_as_left
from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Extent, Key, Moment, Record, Setting, Unread

CATALOG = Catalog(
    (
        ParameterDef("gain", decimals=1, default="4.0", consequence=Consequence.HANDLING),
        ParameterDef("delay", default="10", consequence=Consequence.SAFETY),
        ParameterDef("light", default="1", consequence=Consequence.COMFORT),
        ParameterDef("extra", default="0", consequence=Consequence.NONE),
        ParameterDef("counter", volatile=True, default="0"),
        ParameterDef("level", redo="level the frame and store", default="0"),
    ),
    CatalogSource.STATED,
)


def line(name: str, value: str | None, factory: str | None, kind: Disposition = Disposition.KEEP) -> Line:
    parameter = CATALOG.by_name.get(name)
    consequence = parameter.consequence if parameter else Consequence.UNKNOWN
    return Line(
        name,
        kind,
        (Found(Key(name), "0"),),
        (Left(Key(name), value, factory),),
        "",
        Basis.CATALOG,
        consequence,
    )


PLAN = Plan(
    "wren",
    Purpose.REFIT,
    "reed-1",
    "reed-2",
    4,
    (
        line("gain", "5.0", "4.0"),
        line("delay", "3000", "10"),
        line("light", "1", "1"),
        line("level", None, "0", Disposition.REDO),
    ),
)


def read(values: dict[str, str], extent: Extent = Extent.FULL, **more: object) -> Record:
    settings = tuple(Setting(Key(key), value) for key, value in values.items())
    return Record("wren-9", "wren", "board", Moment.AS_LEFT, "reed-2", "b", "2026", settings, extent, **more)  # type: ignore[arg-type]


def kinds(found: object) -> dict[str, ReadKind]:
    return {item.key.name: item.kind for item in found.items}  # type: ignore[attr-defined]


GOOD = {"gain": "5", "delay": "3000", "light": "1", "extra": "0", "counter": "77", "level": "12"}


def test_as_planned_at_the_precision_of_the_device() -> None:
    found = compare_as_left(PLAN, read({**GOOD, "gain": "5.04"}), CATALOG)
    assert found.is_as_planned
    assert found.counts[ReadKind.SAME] == 4
    assert found.counts[ReadKind.REDO] == 1
    assert found.counts[ReadKind.DEVICE] == 1
    assert found.redo[0].why == "level the frame and store"


def test_differences_are_a_list_by_setting_safety_first() -> None:
    found = compare_as_left(PLAN, read({**GOOD, "gain": "4", "delay": "30", "extra": "2"}), CATALOG)
    assert [(i.key.name, i.kind, i.planned, i.read) for i in found.differing] == [
        ("delay", ReadKind.DIFFERS, "3000", "30"),
        ("gain", ReadKind.DIFFERS, "5.0", "4"),
        ("extra", ReadKind.NOT_PLANNED, None, "2"),
    ]
    assert not found.is_as_planned
    assert found.consequence is Consequence.SAFETY
    assert [(left.key.name, left.value) for left in found.still_to_write] == [
        ("delay", "3000"),
        ("gain", "5.0"),
        ("extra", "0"),
    ]


def test_absent_from_a_full_read_back_is_missing_even_at_factory() -> None:
    found = compare_as_left(PLAN, read({"gain": "5", "delay": "3000"}), CATALOG)
    assert kinds(found)["light"] is ReadKind.MISSING


def test_absent_from_a_changes_only_read_back_is_factory() -> None:
    found = compare_as_left(PLAN, read({"gain": "5"}, Extent.CHANGES_ONLY), CATALOG)
    assert kinds(found)["light"] is ReadKind.SAME
    delay = next(item for item in found.items if item.key.name == "delay")
    assert (delay.kind, delay.read, delay.implied) == (ReadKind.DIFFERS, "10", True)


def test_absent_without_factory_value_is_not_stated() -> None:
    bare = Plan("wren", Purpose.REFIT, "a", "b", 1, (line("odd", "1", None),))
    found = compare_as_left(bare, read({}, Extent.CHANGES_ONLY), None)
    assert kinds(found) == {"odd": ReadKind.NOT_STATED}
    assert not found.is_as_planned


def test_an_unknown_extent_claims_nothing_for_absent_settings() -> None:
    found = compare_as_left(PLAN, read({"gain": "5", "delay": "3000"}, Extent.UNKNOWN), CATALOG)
    assert kinds(found)["light"] is ReadKind.NOT_STATED
    assert found.findings[0].statement.startswith("not stated whether")


def test_lines_not_understood_keep_it_from_being_as_planned() -> None:
    found = compare_as_left(PLAN, read(GOOD, unread=(Unread(3, "?"),)), CATALOG)
    assert not found.differing
    assert not found.is_as_planned


def test_a_heading_the_catalog_does_not_know_does_not_hide_a_setting() -> None:
    settings = tuple(Setting(Key(name, "page one"), value) for name, value in GOOD.items())
    record = Record("w", "wren", "board", Moment.AS_LEFT, "reed-2", "b", "2026", settings, Extent.FULL)
    assert compare_as_left(PLAN, record, CATALOG).is_as_planned


def test_a_setting_of_another_bank_is_not_taken_for_one_left_at_factory() -> None:
    book = Catalog((ParameterDef("roll", banks=("1", "2"), default="4"),), CatalogSource.STATED)
    lines = tuple(
        Line(
            bank,
            Disposition.KEEP,
            (),
            (Left(Key("roll", bank), value, "4"),),
            "",
            Basis.CATALOG,
            Consequence.HANDLING,
        )
        for bank, value in (("1", "4"), ("2", "7"))
    )
    plan = Plan("wren", Purpose.REFIT, "a", "b", 0, lines)
    settings = (Setting(Key("roll", "2"), "7"),)
    record = Record("w", "wren", "board", Moment.AS_LEFT, "b", "b", "2026", settings, Extent.CHANGES_ONLY)
    found = compare_as_left(plan, record, book)
    assert found.is_as_planned
    assert found.counts[ReadKind.SAME] == 2


def test_another_active_bank_is_a_difference() -> None:
    found = compare_as_left(PLAN, read(GOOD, active_banks={"bank": "2"}), CATALOG, {"bank": "1"})
    assert found.banks == (("bank", "1", "2"),)
    assert not found.is_as_planned
