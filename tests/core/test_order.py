"""Writing order and what is written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.carry.dispositions import Basis, Disposition, Found, Left, Line
from asflown.core.carry.order import selection, to_write, writing_order
from asflown.core.catalog import Catalog, CatalogSource, Consequence, ParameterDef
from asflown.core.plan import Plan, Purpose
from asflown.core.record import Key
from asflown.core.rings import rings


def catalog(*parameters: ParameterDef) -> Catalog:
    return Catalog(parameters, CatalogSource.STATED)


def lefts(*names: str) -> tuple[Left, ...]:
    items = []
    for name in names:
        bank, _, rest = name.rpartition("/")
        items.append(Left(Key(rest, bank or None), "1"))
    return tuple(items)


def texts(ordered: object) -> list[str]:
    return [str(item.key) for item in ordered.items]  # type: ignore[attr-defined]


def test_a_need_comes_first_and_the_rest_keeps_catalog_order() -> None:
    book = catalog(ParameterDef("a", needs=("c",)), ParameterDef("b"), ParameterDef("c"))
    assert texts(writing_order(lefts("c", "b", "a"), book)) == ["b", "c", "a"]


def test_the_parameter_a_unit_comes_from_is_written_first() -> None:
    book = catalog(ParameterDef("limit", unit_from="unit_word"), ParameterDef("unit_word"))
    assert texts(writing_order(lefts("limit", "unit_word"), book)) == ["unit_word", "limit"]


def test_banks_stay_together_unless_a_need_asks() -> None:
    book = catalog(
        ParameterDef("p", banks=("1", "2")), ParameterDef("q", banks=("1", "2")), ParameterDef("z")
    )
    order = writing_order(lefts("2/q", "1/q", "z", "1/p", "2/p"), book)
    assert texts(order) == ["z", "1/p", "1/q", "2/p", "2/q"]
    crossed = catalog(
        ParameterDef("p", banks=("1",)),
        ParameterDef("q", banks=("1",), needs=("z",)),
        ParameterDef("z", needs=("p",)),
    )
    assert texts(writing_order(lefts("z", "1/q", "1/p"), crossed)) == ["1/p", "z", "1/q"]


def test_a_need_is_looked_for_in_the_same_bank() -> None:
    book = catalog(ParameterDef("p", banks=("1", "2"), needs=("q",)), ParameterDef("q", banks=("1", "2")))
    assert texts(writing_order(lefts("1/p", "2/p", "1/q", "2/q"), book)) == ["1/q", "1/p", "2/q", "2/p"]


def test_a_ring_is_named_and_nothing_is_lost() -> None:
    book = catalog(
        ParameterDef("a", needs=("b",), consequence=Consequence.SAFETY),
        ParameterDef("b", needs=("c",), consequence=Consequence.NONE),
        ParameterDef("c", needs=("a",), consequence=Consequence.NONE),
        ParameterDef("d", needs=("c",)),
        ParameterDef("self", needs=("self",)),
    )
    ordered = writing_order(lefts("d", "c", "b", "a", "self"), book)
    assert texts(ordered) == ["a", "b", "c", "d", "self"]
    (finding,) = ordered.findings
    assert finding.statement.startswith("3 settings each need another one first: a -> b -> c -> a")
    assert finding.consequence is Consequence.SAFETY


@given(
    st.integers(1, 12).flatmap(
        lambda n: st.tuples(
            st.just(n), st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=25)
        )
    )
)
def test_every_need_outside_a_ring_is_kept(drawn: tuple[int, list[tuple[int, int]]]) -> None:
    count, arrows = drawn
    needs = {i: sorted({b for a, b in arrows if a == i and b != i}) for i in range(count)}
    book = catalog(*(ParameterDef(f"n{i}", needs=tuple(f"n{j}" for j in needs[i])) for i in range(count)))
    ordered = writing_order(lefts(*(f"n{i}" for i in range(count))), book)
    place = {item.key.name: at for at, item in enumerate(ordered.items)}
    assert len(place) == count
    reach = {i: set(needs[i]) for i in range(count)}
    for _ in range(count):
        for i in range(count):
            reach[i] |= {k for j in tuple(reach[i]) for k in reach[j]}
    for i in range(count):
        for j in needs[i]:
            if i not in reach[j]:  # not in one ring
                assert place[f"n{j}"] < place[f"n{i}"]
    in_rings = {i for i in range(count) if i in reach[i]}
    assert {
        int(n[1:])
        for ring in rings({f"n{i}": [f"n{j}" for j in needs[i]] for i in range(count)})
        for n in ring
    } == in_rings


def line(
    name: str, value: str | None, factory: str | None = None, kind: Disposition = Disposition.KEEP
) -> Line:
    return Line(
        name,
        kind,
        (Found(Key(name), "0"),),
        (Left(Key(name), value, factory),),
        "",
        Basis.SAME_NAME,
        Consequence.NONE,
    )


def plan(*lines: Line) -> Plan:
    return Plan("wren", Purpose.REFIT, "reed-1", "reed-2", len(lines), lines)


def test_only_what_differs_from_factory_is_written() -> None:
    book = catalog(
        ParameterDef("x", decimals=1),
        ParameterDef("ro", read_only=True),
        ParameterDef("cal", redo="level it"),
    )
    made = plan(
        line("x", "1.0", "1"),
        line("y", "2", "3"),
        line("z", "4"),
        line("ro", "5", "6"),
        line("cal", None, "0", Disposition.REDO),
    )
    chosen = selection(made, book, everything=False)
    assert [item.key.name for item in chosen.write] == ["y", "z"]
    assert chosen.at_factory == 1
    assert {out.key.name: out.why for out in chosen.left_out} == {
        "ro": "the device shows it and does not take it",
        "cal": "redo: level it",
    }
    assert [item.key.name for item in to_write(made, book, everything=True)] == ["x", "y", "z"]


def test_an_open_line_is_never_written() -> None:
    with pytest.raises(ValueError, match="still to decide"):
        to_write(plan(line("x", "1", kind=Disposition.DECIDE)), None, everything=True)
