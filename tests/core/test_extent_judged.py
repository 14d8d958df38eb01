"""Full or changes-only, judged from a catalog."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from asflown.core.catalog import Catalog, CatalogSource, ParameterDef
from asflown.core.extent import judge_extent
from asflown.core.record import Extent, Key, Setting

NAMES = [f"p{n}" for n in range(40)]
CATALOG = Catalog(tuple(ParameterDef(name, default="1") for name in NAMES), CatalogSource.STATED)


def listing(values):
    return tuple(Setting(Key(name), value) for name, value in values.items())


@given(st.sets(st.sampled_from(NAMES), max_size=39))
def test_law_a_full_listing_is_full_while_something_stands_at_factory(changed):
    values = {name: "2" if name in changed else "1" for name in NAMES}
    assert judge_extent(listing(values), CATALOG)[0] is Extent.FULL


@given(st.sets(st.sampled_from(NAMES), min_size=1, max_size=32))
def test_law_only_changes_is_changes_only(changed):
    assert judge_extent(listing(dict.fromkeys(changed, "2")), CATALOG)[0] is Extent.CHANGES_ONLY


def test_what_does_not_agree_is_unknown():
    half = {name: "1" for name in NAMES[:20]}
    extent, why = judge_extent(listing(half), CATALOG)
    assert extent is Extent.UNKNOWN
    assert why.startswith("shows 20 of the 40 settings the release has; 20 of 20 stand")
    every = dict.fromkeys(NAMES, "2")  # everything changed: cannot be told apart
    assert judge_extent(listing(every), CATALOG)[0] is Extent.UNKNOWN
    assert judge_extent((), CATALOG)[0] is Extent.UNKNOWN
    assert judge_extent(listing(half), Catalog((), CatalogSource.STATED))[0] is Extent.UNKNOWN


def test_factory_is_compared_as_a_number_and_a_bank_is_a_heading():
    settings = tuple(Setting(Key(name, bank="main"), "1.0") for name in NAMES)
    assert judge_extent(settings, CATALOG)[0] is Extent.FULL
