"""The solver and the conflict sets against brute force on small problems."""

from __future__ import annotations

import itertools
import random

import pytest

from asflown.core.ports.conflict import smallest_conflict
from asflown.core.ports.problem import Claim, Demand, Option, Problem, costs_of, holds
from asflown.core.ports.solve import is_feasible, solve


def brute(problem: Problem):
    """Least costs of all choices that hold, or ``None``: every combination is tried."""
    best = None
    names = [demand.name for demand in problem.demands]
    for options in itertools.product(*(demand.options for demand in problem.demands)):
        chosen = dict(zip(names, options, strict=True))
        if holds(problem, chosen):
            costs = costs_of(problem, chosen)
            best = costs if best is None or costs < best else best
    return best


def drawn(dice: random.Random) -> Problem:
    """A small board: exclusive ports, streams shared in one mode, flash counted once for each function."""
    ports = [f"port {n}" for n in range(dice.randint(1, 4))]
    streams = [f"stream {n}" for n in range(dice.randint(1, 4))]
    requests = [f"request {n}" for n in range(dice.randint(1, 4))]
    functions = [f"function {n}" for n in range(dice.randint(1, 3))]
    flash = {name: dice.randint(1, 9) for name in functions}
    eases = {f"ease {n}": dice.randint(1, 4) for n in range(dice.randint(0, 2))}
    demands = []
    for number in range(dice.randint(2, 5)):
        options = []
        for at in range(dice.randint(1, 4)):
            modes = {}
            if dice.random() < 0.6:
                modes[dice.choice(streams)] = dice.choice(requests)
            claims = frozenset(
                Claim("flash", name, flash[name] + dice.choice((0, 0, 2)))
                for name in functions
                if dice.random() < 0.3
            )
            options.append(
                Option(
                    str(at),
                    frozenset({dice.choice(ports)}) if dice.random() < 0.6 else frozenset(),
                    modes,
                    claims,
                    frozenset(name for name in eases if dice.random() < 0.25),
                    (dice.randint(0, 3), dice.randint(0, 3)),
                )
            )
        demands.append(Demand(f"demand {number}", tuple(options)))
    return Problem(tuple(demands), {"flash": dice.randint(3, 16)}, eases, 2)


@pytest.mark.slow
def test_two_thousand_random_boards_as_brute_force():
    """Same feasibility, same optimum, every conflict set of the least size there is."""
    dice = random.Random(20261127)
    impossible = 0
    for _ in range(2000):
        problem = drawn(dice)
        best = brute(problem)
        found = solve(problem)
        assert (found is None) == (best is None)
        assert is_feasible(problem) == (best is not None)
        conflict = smallest_conflict(problem)
        if found is not None:
            assert holds(problem, found.chosen)
            assert found.costs == best == costs_of(problem, found.chosen)
            assert conflict is None
            continue
        impossible += 1
        assert conflict is not None
        assert brute(problem.only(conflict)) is None
        names = [demand.name for demand in problem.demands]
        for fewer in itertools.combinations(names, len(conflict) - 1):
            assert brute(problem.only(fewer)) is not None
    assert 200 < impossible < 1800


def test_an_item_is_counted_once_however_many_ask():
    ask = Option("a", claims=frozenset({Claim("flash", "f", 6)}))
    two = Problem((Demand("x", (ask,)), Demand("y", (ask,))), {"flash": 6})
    assert is_feasible(two)
    other = Option("b", claims=frozenset({Claim("flash", "g", 1)}))
    assert not is_feasible(Problem((*two.demands, Demand("z", (other,))), {"flash": 6}))


def test_what_was_found_before_is_not_found_again():
    demand = Demand("x", (Option("a", eases=frozenset({"p"})), Option("b", eases=frozenset({"q"}))))
    problem = Problem((demand,), eases={"p": 1, "q": 2})
    assert solve(problem).eased == {"p"}
    assert solve(problem, without=[frozenset({"p"})]).eased == {"q"}
    assert solve(problem, without=[frozenset({"p"}), frozenset({"q"})]) is None


def test_nothing_to_serve_is_served():
    assert solve(Problem(())).chosen == {}
    assert smallest_conflict(Problem(())) is None


def test_a_demand_without_an_option_is_the_conflict():
    problem = Problem((Demand("x", ()), Demand("y", (Option("a"),))))
    assert solve(problem) is None
    assert smallest_conflict(problem) == ("x",)


def test_nothing_at_all_to_choose_from_is_no_solution():
    assert solve(Problem((Demand("x", ()),))) is None
    assert smallest_conflict(Problem((Demand("x", ()),))) == ("x",)
