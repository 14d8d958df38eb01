"""The best choice by mixed-integer programming: HiGHS, through its own package.

Levels are solved one after the other; what a level reached is kept by the ones after it (lexicographic).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from asflown.core.ports.problem import Claim, Demand, Option, Problem, Solution, costs_of


@dataclass
class _Model:
    """Columns (all 0 or 1) and rows of the program, put together a row at a time."""

    columns: int = 0
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def column(self) -> int:
        self.columns += 1
        return self.columns - 1

    def row(self, terms: Mapping[int, float], least: float, most: float) -> None:
        self.rows.append((dict(terms), least, most))

    def solve(self, costs: Mapping[int, float]) -> npt.NDArray[np.bool_] | None:
        import highspy

        if not self.columns:
            return None if any(least > 0 for _, least, _ in self.rows) else np.zeros(0, dtype=bool)
        weights = np.zeros(self.columns)
        for column, weight in costs.items():
            weights[column] = weight
        starts, columns, values = [0], [], []
        for terms, _, _ in self.rows:
            columns += list(terms)
            values += list(terms.values())
            starts.append(len(columns))
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = self.columns, len(self.rows)
        program.col_cost_ = weights
        program.col_lower_, program.col_upper_ = np.zeros(self.columns), np.ones(self.columns)
        program.row_lower_ = np.array([least for _, least, _ in self.rows], dtype=float)
        program.row_upper_ = np.array([most for _, _, most in self.rows], dtype=float)
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = np.array(starts, dtype=np.int32)
        program.a_matrix_.index_ = np.array(columns, dtype=np.int32)
        program.a_matrix_.value_ = np.array(values, dtype=float)
        program.integrality_ = [highspy.HighsVarType.kInteger] * self.columns
        solver = highspy.Highs()
        for name, value in (("output_flag", False), ("mip_rel_gap", 0.0), ("threads", 1)):
            solver.setOptionValue(name, value)
        solver.passModel(program)
        solver.run()
        status = solver.getModelStatus()
        if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
            return None
        if status != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"the solver gave no answer: {solver.modelStatusToString(status)}")
        return np.asarray(np.array(solver.getSolution().col_value) > 0.5)


def solve(problem: Problem, *, without: Iterable[frozenset[str]] = ()) -> Solution | None:
    """The best solution, or ``None`` where there is none.

    Parameters
    ----------
    without
        Sets of eases that may not all be given up together (what was found before).

    Returns
    -------
    Solution
        The least cost of what is given up; among those the least of each level in turn.
    """
    model, columns, eases = _modelled(problem, without)
    goals: list[dict[int, float]] = [{eases[name]: cost for name, cost in problem.eases.items()}]
    for level in range(problem.levels):
        goals.append(
            {
                column: option.costs[level]
                for (_, option), column in columns
                if level < len(option.costs) and option.costs[level]
            }
        )
    goals = [goal for goal in goals if goal] or [{}]
    found: npt.NDArray[np.bool_] | None = None
    for goal in goals:
        found = model.solve(goal)
        if found is None:
            return None
        reached = round(sum(weight for column, weight in goal.items() if found[column]))
        if goal:
            model.row(goal, -np.inf, reached)
    assert found is not None
    chosen = {name: option for (name, option), column in columns if found[column]}
    eased = frozenset().union(*(option.eases for option in chosen.values()))
    return Solution(chosen, eased, costs_of(problem, chosen))


def is_feasible(problem: Problem) -> bool:
    """Whether all demands can be served together."""
    model, _, _ = _modelled(problem, ())
    return model.solve({}) is not None


_Column = tuple[tuple[str, Option], int]


class _Gathered:
    """Columns of a problem's options, gathered by what they share; of one demand in one group."""

    def __init__(self, problem: Problem) -> None:
        self.model = _Model()
        self.eases = {name: self.model.column() for name in problem.eases}
        self.columns: list[_Column] = []
        self.alone: dict[str, list[int]] = {}
        self.together: dict[str, dict[str, list[list[int]]]] = {}
        self.claimed: dict[str, dict[str, dict[int, list[list[int]]]]] = {}
        for demand in problem.demands:
            self._demand(demand)

    def _demand(self, demand: Demand) -> None:
        modes: dict[tuple[str, str], list[int]] = {}
        claims: dict[Claim, list[int]] = {}
        eases: dict[str, list[int]] = {}
        served: dict[int, float] = {}
        for option in demand.options:
            if not option.eases <= set(self.eases):
                continue
            column = self.model.column()
            self.columns.append(((demand.name, option), column))
            served[column] = 1
            for resource in option.takes:
                self.alone.setdefault(resource, []).append(column)
            for item in option.modes.items():
                modes.setdefault(item, []).append(column)
            for claim in option.claims:
                claims.setdefault(claim, []).append(column)
            for name in option.eases:
                eases.setdefault(name, []).append(column)
        self.model.row(served, 1, 1)
        for (resource, mode), found in modes.items():
            self.together.setdefault(resource, {}).setdefault(mode, []).append(found)
        for claim, found in claims.items():
            items = self.claimed.setdefault(claim.capacity, {}).setdefault(claim.item, {})
            items.setdefault(claim.amount, []).append(found)
        for name, found in eases.items():
            self.implied([found], self.eases[name])

    def implied(self, groups: Iterable[list[int]], column: int) -> None:
        """Whatever of a group is chosen, the column is 1."""
        for found in groups:
            self.model.row({**dict.fromkeys(found, 1.0), column: -1.0}, -np.inf, 0)

    def shared(self) -> None:
        """What is held alone has one holder; what is shared has one mode."""
        for found in self.alone.values():
            if len(found) > 1:
                self.model.row(dict.fromkeys(found, 1), 0, 1)
        for modes in self.together.values():
            if len(modes) == 1:
                continue
            chosen = {}
            for groups in modes.values():
                column = self.model.column()
                self.implied(groups, column)
                chosen[column] = 1.0
            self.model.row(chosen, 0, 1)

    def limited(self, capacities: Mapping[str, int]) -> None:
        """What is claimed of a capacity has room in it; an item counts once, with its largest amount."""
        for capacity, items in self.claimed.items():
            if capacity not in capacities:
                continue
            terms: dict[int, float] = {}
            for amounts in items.values():
                # steps above one another: who asks for the larger amount takes the smaller steps too
                before, lower = 0, -1
                for amount, groups in sorted(amounts.items()):
                    column = self.model.column()
                    terms[column] = amount - before
                    self.implied(groups, column)
                    if lower >= 0:
                        self.model.row({column: 1.0, lower: -1.0}, -np.inf, 0)
                    before, lower = amount, column
            self.model.row(terms, -np.inf, capacities[capacity])


def _modelled(
    problem: Problem, without: Iterable[frozenset[str]]
) -> tuple[_Model, list[_Column], dict[str, int]]:
    made = _Gathered(problem)
    made.shared()
    made.limited(problem.capacities)
    for names in without:
        made.model.row({made.eases[name]: 1 for name in names}, 0, len(names) - 1)
    return made.model, made.columns, made.eases
