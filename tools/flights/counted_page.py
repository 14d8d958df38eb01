"""The tables of ``docs/explanation/how-flying-is-judged.md`` from the counted results.

``python tools/flights/counted_page.py`` writes them into the page, between its marks.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from pairs import binomial

ROOT = Path(__file__).parents[2]
RESULTS = ROOT / "benchmarks" / "results"
PAGE = ROOT / "docs" / "explanation" / "how-flying-is-judged.md"
Cell = dict[str, Any]
LEVELS = {"0": ("0",), "5": ("+5", "-5"), "10": ("+10", "-10"), "20": ("+20", "-20"), "40": ("+40", "-40")}
#: Columns of one figure's table, and what is right there.
COLUMNS = {
    "0 %": (("0",), "as_before"),
    "±5 %": (("+5", "-5"), "as_before"),
    "±10 %": (("+10", "-10"), "as_before"),
    "−20 %": (("-20",), "differs"),
    "+20 %": (("+20",), "differs"),
    "±40 %": (("+40", "-40"), "differs"),
}
EDGES = ("+edge", "-edge")
ROUTES = {"known controller": "known controller", "model-free": "model-free"}


def per_cent(hits: int, total: int) -> str:
    """A rate with its Clopper-Pearson 95 % bounds."""
    if not total:
        return "none flown"
    low, high = binomial(hits, total)
    return f"{_short(hits / total)} ({_short(low)} to {_short(high)})"


def _short(share: float) -> str:
    return f"{100 * share:.1f}" if 0.0 < share < 1.0 else f"{100 * share:.0f}"


def summed(cells: Iterable[Cell], levels: Iterable[str], name: str) -> tuple[int, int]:
    """Calls of a name, and pairs, over levels."""
    own = [one for one in cells if one.get("level") in set(levels)]
    return sum(one[name] for one in own), sum(one["pairs"] for one in own)


def by_flight(cells: Iterable[Cell]) -> dict[str, list[Cell]]:
    """Cells by length and activity, in words."""
    made: dict[str, list[Cell]] = defaultdict(list)
    for one in cells:
        made[f"{one['seconds']:g} s, {one['activity']}"].append(one)
    return made


def bandwidth_table(made: Cell) -> list[str]:
    """Bandwidth of one axis, nothing added between flights."""
    rows = [
        f"| route | flights | *as before* at an edge | *differs* at an edge | {' | '.join(COLUMNS)} |",
        "| --- " * (4 + len(COLUMNS)) + "|",
    ]
    for route in ROUTES:
        cells = [
            one
            for one in made["bandwidth"]
            if (one["route"], one["scatter"], one["truth"]) == (route, "none", "as flown")
        ]
        for flight, own in by_flight(cells).items():
            wrong = [per_cent(*summed(own, EDGES, name)) for name in ("as_before", "differs")]
            right = [
                f"{_short(hits / total)} of {total}"
                for levels, name in COLUMNS.values()
                for hits, total in [summed(own, levels, name)]
            ]
            rows.append("| " + " | ".join([route, flight, *wrong, *right]) + " |")
    return rows


def whole_table(made: Cell) -> list[str]:
    """Everything of three axes, no scatter stated."""
    rows = [
        "| route | flights | nothing changed: *as before* | *differs* | ±20 %: *differs* | *as before* |"
        " a needed figure truly beyond its margin by a tenth or more: *as before* |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for route in ROUTES:
        cells = [one for one in made["whole"] if (one["route"], one["scatter_told"]) == (route, "none")]
        for flight, own in by_flight(cells).items():
            beyond = [
                one
                for one in own
                if str(one.get("farthest_difference", "")).startswith("a needed one beyond")
            ]
            told = [
                per_cent(*summed(own, levels, name))
                for levels, name in (
                    (("0",), "as_before"),
                    (("0",), "differs"),
                    (LEVELS["20"], "differs"),
                    (LEVELS["20"], "as_before"),
                )
            ]
            wrong = sum(one["as_before"] for one in beyond), sum(one["pairs"] for one in beyond)
            rows.append("| " + " | ".join([route, flight, *told, per_cent(*wrong)]) + " |")
    return rows


def scatter_table(made: Cell) -> list[str]:
    """Bandwidth with 2 % of scatter drawn, one flight before and one after."""
    rows = [
        "| the verdict is told | *as before* at an edge, % | *differs* at an edge, % | right at 0 % | ±10 %"
        " | ±20 % | ±40 % |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    words = {"prior": "nothing: its prior of 2 %, 4 degrees of freedom", "stated": "2 %, known exactly"}
    for scatter, word in words.items():
        own = [
            one
            for one in made["bandwidth"]
            if (one["route"], one["scatter"], one["truth"]) == ("known controller", scatter, "as flown")
        ]
        wrong = [per_cent(*summed(own, EDGES, name)) for name in ("as_before", "differs")]
        right = [
            f"{_short(hits / total)} of {total}"
            for size in ("0", "10", "20", "40")
            for hits, total in [summed(own, LEVELS[size], "as_before" if size in ("0", "10") else "differs")]
        ]
        rows.append("| " + " | ".join([word, *wrong, *right]) + " |")
    return rows


def others_table(made: Cell) -> list[str]:
    """Pairs of equal bandwidth in which something else changed."""
    rows = [
        "| what changed | pairs | *as before* | *differs* | not enough | what showed it most |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for one in made["others"]:
        if one["scatter_told"] != "none":
            continue
        as_before, differs, rest = (
            one[name] for name in ("flies_as_before", "differs", "not_enough_evidence")
        )
        showed = ", ".join(f"`{name}`" for name in list(one["showed"])[:2]) or "nothing"
        rows.append(
            f"| {one['kind']} | {one['pairs']} | {per_cent(as_before, one['pairs'])} | {differs} | {rest}"
            f" | {showed} |"
        )
    return rows


def planned_table(made: Cell) -> list[str]:
    """What was planned, flown, and sufficed."""
    rows = [
        "| planned | baselines | some figure is *never* told | too long to fly here | flown | sufficed, % |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for one in made["planned_flights"]:
        rows.append(
            f"| {one['plan']} | {one['aircraft']} | {one['some_quantity_never']} |"
            f" {one['too_long_to_fly_here']} | {one['flown']} | {per_cent(one['sufficed'], one['flown'])} |"
        )
    return rows


def refits_table(made: Cell) -> list[str]:
    """How often the interval of a difference holds the true one."""
    figures = ("bandwidth", "phase_delay", "phase_margin", "peak_sensitivity")
    rows = [
        "| after | pairs | " + " | ".join(name.replace("_", " ") for name in figures) + " |",
        "| --- | --- " * 1 + "| --- " * len(figures) + "|",
    ]
    kinds = dict.fromkeys(one["kind"] for one in made["cells"])
    for kind in kinds:
        own = {
            one["figure"]: one
            for one in made["cells"]
            if (one["kind"], one["route"]) == (kind, "known controller")
        }
        held = [_bounds_of(own[name]["held_95"]) for name in figures]
        rows.append("| " + " | ".join([kind, str(own[figures[0]]["pairs"]), *held]) + " |")
    return rows


def _bounds_of(rate: list[float]) -> str:
    return f"{_short(rate[0])} ({_short(rate[1])} to {_short(rate[2])})"


def prediction_table(made: Cell) -> list[str]:
    """95th percentiles of predictions against the truth."""
    rows = [
        "| aircraft | axes | figure | predictions | half are within | 95 % are within | intervals hold |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    shown = {
        "bandwidth": (100.0, " %"),
        "phase_margin": (1.0, " deg"),
        "gain_margin": (1.0, " dB"),
        "overshoot": (1.0, ""),
    }
    for one in made["figures"]:
        if one["refit"] != "all" or one["figure"] not in shown:
            continue
        times, unit = shown[one["figure"]]
        low, high = one["p95_bounds"]
        rows.append(
            f"| {one['structures']} | {one['axes']} | {one['figure'].replace('_', ' ')} | {one['count']}"
            f" | {times * one['median']:.2g}{unit} | {times * one['p95']:.2g}"
            f" ({times * low:.2g} to {times * high:.2g}){unit} | {_short(one['covered'])} % |"
        )
    return rows


def retune_table(made: Cell) -> list[str]:
    """Retunes by gains and filters, and by gains alone."""
    rows = [
        "| gyro filter | naive copy | turned | plant | retunes | refused | unstable | dB: half, 95 %"
        " | deg: half, 95 % | within 0.5 dB and 4 deg, % | peak: 95 % | noise: 95 % | crossover: 5 %, half"
        " | crossover 10 % less or more, % |",
        "| --- " * 14 + "|",
    ]
    for one in made["cells"]:
        if one["structures"] != "all" or one["plant"] == "none":
            continue
        less = one["crossover_less_by_0.1"]
        rows.append(
            f"| {one['order']} | {one['case']} | {one['turned']} | {one['plant']} | {one['retunes']}"
            f" | {one['refused']} | {one['unstable']}"
            f" | {one['decibels'][1]:.2f}, {one['decibels'][2]:.2f}"
            f" | {one['degrees'][1]:.1f}, {one['degrees'][2]:.1f}"
            f" | {_bounds_of([one['kept'][0] / one['retunes'], *one['kept'][1:]])}"
            f" | {one['peak'][2]:.3f} | {one['noise'][2]:.3f}"
            f" | {one['crossover'][0]:.2f}, {one['crossover'][1]:.2f}"
            f" | {_bounds_of([less[0] / one['axes'], *less[1:]])} |"
        )
    return rows


#: By mark in the page: file of results, and what makes the table.
TABLES: dict[str, tuple[str, Callable[[Cell], list[str]]]] = {
    "bandwidth": ("verdict.json", bandwidth_table),
    "scatter": ("verdict.json", scatter_table),
    "whole": ("verdict.json", whole_table),
    "others": ("verdict.json", others_table),
    "planned": ("verdict.json", planned_table),
    "refits": ("refits.json", refits_table),
    "prediction": ("prediction.json", prediction_table),
    "retune": ("retune.json", retune_table),
}


def table(name: str) -> list[str]:
    """Lines of a table."""
    file, make = TABLES[name]
    return make(json.loads((RESULTS / file).read_text()))


def marks(name: str) -> tuple[str, str]:
    """Lines around a table in the page."""
    return f"<!-- counted {name}: begin -->\n", f"\n<!-- counted {name}: end -->"


def main() -> None:
    """Write every table whose results are there."""
    text = PAGE.read_text()
    for name, (file, _) in TABLES.items():
        begin, end = marks(name)
        if begin not in text or not (RESULTS / file).exists():
            print(f"{name}: left as it is")
            continue
        head, rest = text.split(begin)
        text = head + begin + "\n".join(table(name)) + end + rest.split(end.lstrip())[1]
    PAGE.write_text(text)


if __name__ == "__main__":
    main()
