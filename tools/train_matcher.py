"""Train the matcher and write its weights; every published family but the aliases, and made-up cases of them.

Run from the project's folder: ``.venv/bin/python tools/train_matcher.py [FOLDER ...]``. Reads
``../shared/data/renames`` and ``benchmarks/families`` unless folders are given.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from matcher.families import read_cases
from matcher.made_up import made_up_cases
from matcher.train import fit, is_trained_on, see
from matcher.weights_file import module_text

ROOT = Path(__file__).parents[1]
FAMILIES = (ROOT.parent / "shared/data/renames", ROOT / "benchmarks/families")
WEIGHTS = ROOT / "src/asflown/core/carry/matching/weights.py"
#: Made-up cases of each published one.
EACH = 2


def main() -> None:
    """Train on everything and write the weights."""
    roots = [Path(word) for word in sys.argv[1:]] or list(FAMILIES)
    cases = [case for case in read_cases(*roots) if is_trained_on(case)]
    seen = [see(case) for case in (*cases, *made_up_cases(cases, EACH))]
    print(f"{len(cases)} cases of {len({case.family for case in cases})} families", file=sys.stderr)
    WEIGHTS.write_text(module_text(fit(seen), [case.name for case in cases]), encoding="utf-8")
    print(f"written: {WEIGHTS.relative_to(ROOT)}", file=sys.stderr)


if __name__ == "__main__":
    main()
