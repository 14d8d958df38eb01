"""Catalogs of eight unrelated programs, none made for us, are read whole.

The data stands beside the project, in ``shared/data/renames``; each folder's ABOUT.md names source and licence:
accumulo 1.8.0 and 3.0.0 (repository apache/accumulo, Apache-2.0) · celery 3.1.25 and 5.6.3 (PyPI wheels,
BSD-3-Clause) · OpenStack cinder 7.0.0 and 28.0.0, glance 11.0.0 and 32.0.0, ironic 4.2.0 and 38.0.0, keystone
8.0.0 and 29.0.0, neutron 7.0.0 and 28.0.0, nova 12.0.0 and 33.0.0 (repositories openstack/..., Apache-2.0).
"""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest

from asflown.core.catalog import Catalog, CatalogSource, ValueKind
from asflown.formats import catalog_table, documents

FOLDERS = (
    "accumulo", "celery", "openstack_cinder", "openstack_glance", "openstack_ironic", "openstack_keystone", "openstack_neutron",
    "openstack_nova",
)  # fmt: skip


@pytest.mark.parametrize("side", ["old", "new"])
@pytest.mark.parametrize("folder", FOLDERS)
def test_every_entry_is_read_with_what_it_states(shared, folder, side):
    data = (shared / "data" / "renames" / folder / f"catalog_{side}.json").read_bytes()
    made = catalog_table.read(data, f"{folder}.json")
    stated = [entry for entry in json.loads(data, parse_float=Decimal) if entry["name"]]
    assert [parameter.name for parameter in made.parameters] == [entry["name"] for entry in stated]
    assert made.source is CatalogSource.STATED
    for parameter, entry in zip(made.parameters, stated, strict=True):
        assert parameter.group == (entry["group"] or None)
        assert parameter.description == (entry["description"] or None)
        assert parameter.unit == (entry["units"] or None)
        assert (parameter.minimum is None) == (entry["min"] is None)
        assert (parameter.default is None) == (entry["default"] is None)
        assert len(parameter.choices) == len(entry["choices"] or ())
        if entry["min"] is not None:
            assert parameter.minimum == Decimal(str(entry["min"]))
        if isinstance(entry["default"], str):
            assert parameter.default == entry["default"]
    assert documents.load(documents.dump(made), Catalog) == made


@pytest.mark.parametrize("folder", FOLDERS)
def test_the_count_is_the_one_the_source_states(shared, folder):
    about = (shared / "data" / "renames" / folder / "ABOUT.md").read_text("utf-8")
    for side in ("old", "new"):
        data = (shared / "data" / "renames" / folder / f"catalog_{side}.json").read_bytes()
        made = catalog_table.read(data, "catalog.json")
        stated = int(re.search(rf'"{side}": (\d+)', about)[1])
        assert len(made.parameters) + len(made.remarks) == stated


# accumulo is left out: its words (timeduration, bytes, memory …) are a vocabulary of its own, and stay unknown
@pytest.mark.parametrize("folder", FOLDERS[1:])
def test_most_type_words_met_are_known(shared, folder):
    data = (shared / "data" / "renames" / folder / "catalog_new.json").read_bytes()
    made = catalog_table.read(data, "catalog.json").parameters
    typed = [parameter for parameter in made if parameter.type]
    unknown = [parameter.type for parameter in typed if parameter.kind is ValueKind.UNKNOWN]
    assert len(unknown) <= 0.25 * len(typed), sorted(set(unknown))
