"""Who may import whom. Function-level and type-checking imports count too; only cycles look at the top level."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

import pytest
from source_tree import Import, imports, imports_of, modules

#: The rooms of the house: the longest prefix that fits names a module's room.
ROOMS = (
    "asflown.errors",
    "asflown.core",
    "asflown.formats",
    "asflown.adapters",
    "asflown.app",
    "asflown.app.needs",
    "asflown.figures",
    "asflown.demo",
    "asflown.data",
    "asflown.faces.wiring",
    "asflown.faces.drawings",
    "asflown.faces.cli",
    "asflown.faces.web",
    "asflown.faces.report",
    "asflown.faces.sheets",
    "asflown.faces",
    "asflown",
)

#: What each room may import besides itself and ``asflown`` (the version, and nothing else, lives there).
ALLOWED = {
    "asflown": {"asflown.errors", "asflown.core", "asflown.formats", "asflown.app", "asflown.app.needs"},
    "asflown.errors": set(),
    "asflown.core": {"asflown.errors"},
    "asflown.formats": {"asflown.errors", "asflown.core"},
    # app.needs: the plain types a store hands back (Document). The protocols are met without importing them.
    "asflown.adapters": {
        "asflown.errors",
        "asflown.core",
        "asflown.formats",
        "asflown.app.needs",
        "asflown.data",
    },
    "asflown.app.needs": {"asflown.errors", "asflown.core"},
    "asflown.app": {"asflown.errors", "asflown.core", "asflown.formats", "asflown.app.needs"},
    "asflown.figures": {"asflown.errors", "asflown.core"},
    "asflown.demo": {"asflown.errors", "asflown.core", "asflown.formats", "asflown.app.needs"},
    "asflown.data": set(),
    "asflown.faces": set(),
}
_FACE = {
    "asflown.errors",
    "asflown.core",
    "asflown.app",
    "asflown.app.needs",
    "asflown.figures",
    "asflown.faces",
    "asflown.faces.wiring",
    "asflown.faces.drawings",
}
ALLOWED["asflown.faces.drawings"] = _FACE - {"asflown.faces.wiring"}
# `asflown serve` starts the pages; --pdf and a page's .pdf print
ALLOWED["asflown.faces.cli"] = _FACE | {"asflown.faces.web", "asflown.faces.report"}
ALLOWED["asflown.faces.sheets"] = _FACE - {"asflown.faces.wiring"}
ALLOWED["asflown.faces.report"] = _FACE | {"asflown.faces.sheets"}
ALLOWED["asflown.faces.web"] = _FACE | {"asflown.faces.sheets", "asflown.faces.report"}
ALLOWED["asflown.faces.wiring"] = _FACE | {
    "asflown.adapters",
    "asflown.demo",
    "asflown.formats",
    "asflown.data",
}

#: The order inside core: a module imports only from its own row and the rows above. What is in no row may import
#: from every row and is imported by none of them.
CORE_ORDER = (
    (
        "rings",
        "transcript",
        "expression",
        "unit_table",
        "units",
        "signals",
        "measured",
        "atmosphere",
        "identified",
        "ports.needs",
        "ports.processor",
    ),
    ("record", "log_table", "flight", "layout", "control", "stick"),
    ("reply_words",),
    ("catalog", "logbook", "listing", "replies"),
    ("values", "conversion"),
    ("aircraft", "finding", "evidence", "extent"),
    ("carry.before",),
    ("carry.dispositions",),
    ("plan",),
    ("carry",),
    ("signal",),
    ("behaviour",),
    ("columns", "vibration", "motors", "power", "calibrate", "segments"),
    ("fitness",),
    ("study",),
    ("verdict",),
)


def room(module: str) -> str:
    return max((r for r in ROOMS if module == r or module.startswith(r + ".")), key=len)


def row(module: str) -> int:
    inner = module.removeprefix("asflown.core").lstrip(".")
    places = {name: i for i, names in enumerate(CORE_ORDER) for name in names}
    fits = [name for name in places if inner == name or inner.startswith(name + ".")]
    return places[max(fits, key=len)] if fits else len(CORE_ORDER)


def forbidden(found: Import) -> bool:
    here, there = room(found.importer), room(found.imported)
    return here != there and there != "asflown" and there not in ALLOWED[here]


def against_core_order(found: Import) -> bool:
    inside = all(name.startswith("asflown.core.") for name in (found.importer, found.imported))
    return inside and row(found.imported) > row(found.importer)


def told(found: Import) -> str:
    return f"{modules()[found.importer].name}:{found.line}: {found.importer} imports {found.imported}"


def test_each_room_imports_only_what_it_may():
    wrong = [told(found) for found in imports() if forbidden(found)]
    assert not wrong, "\n".join(wrong)


def test_core_imports_downwards_only():
    wrong = [told(found) for found in imports() if against_core_order(found)]
    assert not wrong, "\n".join([*wrong, "a new low module of core needs a row in CORE_ORDER"])


def test_no_cycle_at_the_top_level():
    graph: dict[str, set[str]] = {name: set() for name in modules()}
    for found in imports():
        if found.at_top:
            graph[found.importer] |= loaded_by(found) - {found.importer}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail("imports run in a circle: " + " <- ".join(error.args[1]))


def loaded_by(found: Import) -> set[str]:
    """The module and the packages around it that are not already around the importer."""
    parts = found.imported.split(".")
    around = {".".join(parts[:i]) for i in range(1, len(parts))}
    mine = found.importer.split(".")
    return {found.imported} | (around - {".".join(mine[:i]) for i in range(1, len(mine))})


def test_every_import_names_a_module_that_is_there():
    known = set(modules())
    assert [told(found) for found in imports() if found.imported not in known] == []


@pytest.mark.parametrize(
    ("importer", "source"),
    [
        ("asflown.core.plan", "def f():\n    from asflown.formats import documents"),
        ("asflown.core.plan", "from asflown.app.needs import Store"),
        ("asflown.app.found", "from importlib import import_module\nimport_module('asflown.adapters.store')"),
        ("asflown.app.found", "import asflown.faces.cli.main"),
        ("asflown.formats.listing.learn", "from asflown.adapters.files import read_file"),
        ("asflown.faces.cli.demo", "from asflown.demo import story"),
        ("asflown.faces.cli.found", "from asflown.adapters.store import open_store"),
        ("asflown.faces.web.pages", "from asflown.faces.cli import console"),
        ("asflown.demo.board", "from asflown.app.found import keep_found"),
        ("asflown.adapters.clock", "from ..app import kept"),
    ],
)
def test_the_rule_catches(importer, source):
    known = frozenset({*modules(), "asflown.app.kept", "asflown.demo.story", "asflown.formats.documents"})
    assert any(forbidden(found) for found in imports_of(importer, source, known))


@pytest.mark.parametrize(
    ("importer", "source"),
    [
        ("asflown.core.catalog", "from asflown.core.carry.carry import carry_over"),
        ("asflown.core.carry.dispositions", "from asflown.core.plan import Plan"),
        ("asflown.core.record", "if TYPE_CHECKING:\n    from asflown.core.refit import Refit"),
    ],
)
def test_the_order_of_core_catches(importer, source):
    assert any(against_core_order(found) for found in imports_of(importer, source, frozenset(modules())))
