"""How right the matcher is, each family judged by a model that never saw it; and how fast.

Run from the project's folder: ``.venv/bin/python benchmarks/matching.py [--errors] [--no-speed]``.

Families: ``../shared/data/renames`` (openstack, celery, accumulo: the development part of the benchmark)
and ``benchmarks/families``. Figures of a share carry a 95 % interval (Wilson). Baselines in the same run:
likeness of names alone (rapidfuzz), and a logistic model of name, description, type, factory value and
range with assignment (scikit-learn, scipy), leave-one-family-out too.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tools"))

from asflown.core.catalog import Catalog, CatalogSource, ParameterDef
from matcher.baselines import Logistic, by_name
from matcher.families import Case, read_cases
from matcher.judge import Answer, answers, by_model, figures
from matcher.made_up import made_up_cases
from matcher.train import fit, is_trained_on, see

DEVELOPMENT = ROOT.parent / "shared/data/renames"
OTHERS = ROOT / "benchmarks/families"
EACH = 2


def main() -> None:
    options = argparse.ArgumentParser(description="Judge the matcher, leave-one-family-out, and time it.")
    options.add_argument("--errors", action="store_true", help="print every error with its confidence")
    options.add_argument("--no-speed", action="store_true", help="leave the timing out")
    chosen = options.parse_args()
    if not chosen.no_speed:
        speed()
    judge(with_errors=chosen.errors)


def judge(*, with_errors: bool) -> None:
    development = read_cases(DEVELOPMENT)
    cases = [*development, *read_cases(OTHERS)]
    known = {case.family for case in development}
    trained = [case for case in cases if is_trained_on(case)]
    seen = [see(case) for case in (*trained, *made_up_cases(trained, EACH))]
    said: dict[str, list[Answer]] = {name: [] for name in ("matcher", "names", "logistic", "careful")}
    for family in dict.fromkeys(case.family for case in cases):
        model = fit([s for s in seen if s.case.family != family])
        plain = Logistic([case for case in trained if case.family != family])
        for case in (case for case in cases if case.family == family):
            for name, says in (
                ("matcher", by_model(model)),
                ("names", by_name),
                ("logistic", plain.says(0.5)),
                ("careful", plain.says(0.75)),
            ):
                said[name] += answers(case, says)
        print(f"judged: {family}", file=sys.stderr)
    print("Development families, each judged by a model that never saw it")
    for name, made in said.items():
        told(f"{name}, all", [a for a in made if a.family in known])
    for family in sorted(known):
        told(f"matcher, {family}", [a for a in said["matcher"] if a.family == family])
    print("\nFurther families, the same way (lightgbm holds aliases: names a program takes as well)")
    for family in sorted({case.family for case in cases} - known):
        told(f"matcher, {family}", [a for a in said["matcher"] if a.family == family])
    if with_errors:
        errors([a for a in said["matcher"] if a.family in known])


def told(title: str, said: Sequence[Answer]) -> None:
    made = figures(said)
    print(f"{title}")
    print(f"  top-1 {made.top}; hard {made.top_hard}; merges {made.merges}")
    print(f"  claims: precision {made.precision}; recall {made.recall}; hard recall {made.recall_hard}")
    print(f"  false renames: declared {made.declared}; vanished {made.vanished}")
    print(f"  calibration error {made.calibration:.3f}")


def errors(said: Sequence[Answer]) -> None:
    print("\nErrors of the matcher in the development families")
    for answer in said:
        if answer.word == "retired":
            wrong = answer.is_claimed
            what = f"false rename of a {answer.kind} retirement"
        else:
            wrong = not answer.is_right or not answer.is_claimed
            what = "wrong candidate" if not answer.is_right else "right, but not claimed"
        if wrong:
            print(f"  {answer.case}: {what}: {answer.old} -> {answer.said} ({answer.confidence:.2f})", end="")
            print(f", truth {answer.truth} ({answer.word}, {answer.kind})")


def speed() -> None:
    """Time of ``match`` in this process, imports included the first time."""
    cases = read_cases(DEVELOPMENT)
    for size in (1500, 5000):
        old, new = enlarged(cases, size)
        from asflown.core.carry.matching.match import match

        begun = time.perf_counter()
        match(old, new)
        spent = time.perf_counter() - begun
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{size} x {size}, no name kept: {spent:.2f} s, peak of the process {peak:.0f} MB")


def enlarged(cases: Sequence[Case], size: int) -> tuple[Catalog, Catalog]:
    """Catalogs of ``size`` parameters made of the cases', every new name changed so that none stays."""
    sides: tuple[dict[str, ParameterDef], dict[str, ParameterDef]] = ({}, {})
    copy = 0
    while min(map(len, sides)) < size:
        for case in cases:
            for which, given in enumerate((case.old, case.new)):
                for place, p in enumerate(given):
                    name = p.name if not copy else p.name.replace(".", f".v{copy}.", 1) + str(copy)
                    if which:
                        name = name.replace("_", ".").upper() if place % 2 else f"x.{name}"
                    if len(sides[which]) < size:
                        sides[which][name] = replace(p, name=name)
        copy += 1
    old, new = (Catalog(tuple(side.values()), CatalogSource.STATED) for side in sides)
    return old, new


if __name__ == "__main__":
    main()
