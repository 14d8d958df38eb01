"""What differs between two records."""

from __future__ import annotations

from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef
from asflown.core.differences import DifferenceKind, differences
from asflown.core.record import Extent, Key, Moment, Record, Setting, Unread


def record(name: str, values: dict[str, str], extent: Extent = Extent.FULL, **more: object) -> Record:
    settings = tuple(Setting(Key(key), value) for key, value in values.items())
    return Record(
        name, "wren", "board", Moment.READING, "reed-1.0", "b1", "2026-01-01", settings, extent, **more
    )  # type: ignore[arg-type]


CATALOG = Catalog(
    (
        ParameterDef("alpha", decimals=2, default="1.00", consequence=Consequence.COMFORT),
        ParameterDef("beta", default="5", consequence=Consequence.SAFETY, unit="s", group="link"),
        ParameterDef("gamma", consequence=Consequence.NONE),
    ),
    CatalogSource.STATED,
)


def test_the_same_record_differs_in_nothing() -> None:
    a = record("a", {"alpha": "1", "beta": "5"})
    found = differences(a, a, CATALOG)
    assert found.is_same
    assert found.same == 2
    assert found.findings == ()


def test_safety_comes_first_and_values_are_kept_as_printed() -> None:
    found = differences(
        record("a", {"alpha": "1.00", "beta": "5", "gamma": "x"}),
        record("b", {"alpha": "1.25", "beta": "0.5", "gamma": "x"}),
        CATALOG,
    )
    assert [(d.key.name, d.first, d.second) for d in found.items] == [
        ("beta", "5", "0.5"),
        ("alpha", "1.00", "1.25"),
    ]
    assert found.items[0].unit == "s"
    assert found.same == 1
    assert found.counts[DifferenceKind.CHANGED] == 2


def test_a_number_written_otherwise_is_no_difference() -> None:
    a, b = record("a", {"alpha": "1", "beta": "05"}), record("b", {"alpha": "1.000", "beta": "5.0"})
    assert differences(a, b, CATALOG).is_same
    assert differences(a, b, None).is_same


def test_full_records_tell_what_only_one_has() -> None:
    found = differences(record("a", {"alpha": "1"}), record("b", {"beta": "5"}), CATALOG)
    assert {(d.key.name, d.kind) for d in found.items} == {
        ("alpha", DifferenceKind.ONLY_FIRST),
        ("beta", DifferenceKind.ONLY_SECOND),
    }


def test_what_a_changes_only_record_leaves_out_stands_at_factory() -> None:
    full = record("a", {"alpha": "1", "beta": "7", "gamma": "3"})
    changes = record("b", {"gamma": "3"}, Extent.CHANGES_ONLY)
    found = differences(full, changes, CATALOG)
    assert [(d.key.name, d.kind, d.second, d.second_implied) for d in found.items] == [
        ("beta", DifferenceKind.CHANGED, "5", True)
    ]


def test_without_factory_values_nothing_is_claimed() -> None:
    full = record("a", {"gamma": "3"})
    found = differences(full, record("b", {"alpha": "2"}, Extent.CHANGES_ONLY), CATALOG)
    assert {(d.key.name, d.kind) for d in found.items} == {
        ("alpha", DifferenceKind.ONLY_SECOND),
        ("gamma", DifferenceKind.NOT_STATED),
    }
    assert not found.is_same


def test_other_release_open_lines_and_active_banks_are_said() -> None:
    a = record("a", {"alpha": "1"}, active_banks={"bank": "1"})
    b = record("b", {"alpha": "1"}, Extent.UNKNOWN, active_banks={"bank": "2"}, unread=(Unread(4, "??"),))
    found = differences(a, b, CATALOG)
    assert found.banks == (("bank", "1", "2"),)
    assert not found.is_same
    assert [f.statement for f in found.findings] == [
        "b: 1 lines were not understood and are not compared",
        "b: not stated whether it shows every setting or only changes from factory",
    ]
