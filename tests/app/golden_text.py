"""Golden files: text people read, kept under tests/golden; ASFLOWN_GOLDEN_UPDATE=1 renews them."""

from __future__ import annotations

import os
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "golden" / "second_half"


def check_golden(name: str, text: str) -> None:
    path = FOLDER / name
    if os.environ.get("ASFLOWN_GOLDEN_UPDATE") == "1":
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8"), (
        f"{path.name} reads otherwise; if meant, renew with ASFLOWN_GOLDEN_UPDATE=1"
    )
