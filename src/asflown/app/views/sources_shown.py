"""Rules and sources: what decides, and what the numbers rest on."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from asflown.app.views.judged_words import margin_says
from asflown.app.views.sheet import Sheet, Table
from asflown.core.study.quantities import METHODS, QUANTITIES
from asflown.core.verdict.margins import DEFAULTS, Weight

_WEIGHTS = {
    Weight.REQUIRED: "needed",
    Weight.WHERE_MEASURED: "needed where both sides have it",
    Weight.WATCHED: "watched: may show a difference",
}
_RULES = (
    ("verdict", "as before: every needed figure lies within its margin (two one-sided tests, 5 % each)"),
    ("verdict", "differs: a figure is beyond its margin after Holm's correction over all"),
    ("verdict", "not enough evidence: neither; it says how much more flying would settle it"),
    ("carry-over", "every setting found and every new one has exactly one disposition; the sum is shown"),
    ("carry-over", "nothing that touches safety, handling or nobody knows what is matched by guess"),
    ("writing", "the way back is complete before a listing to write is made"),
    ("logbook", "each entry carries the hash of the one before; verify holds all of it against its hashes"),
    ("motors", "asflown never arms or turns a motor"),
)


def sources_sheet() -> Sheet:
    """Rules, margins and methods."""
    margins = tuple((one.quantity, margin_says(one), _WEIGHTS[one.weight], one.reason) for one in DEFAULTS)
    methods = tuple((method.key, method.text, method.source) for method in _used())
    return Sheet(
        title="Rules and sources",
        head=(),
        sentence=f"{len(_RULES)} rules, {len(margins)} margins and {len(methods)} methods of measuring.",
        tables=(
            Table(("about", "rule"), _RULES, title="Rules"),
            Table(("figure", "usual margin", "weight", "why"), margins, title="Margins of a verdict"),
            Table(("method", "what it does", "source"), methods, title="Methods"),
        ),
        notes=(
            "Margins can be set for each aircraft before the flight: asflown testcard AIRCRAFT --margin.",
            "Local aviation and radio rules and qualified people come first; no sheet replaces them.",
        ),
    )


def _used() -> Iterable[Any]:
    used = {one.method for one in QUANTITIES}
    return (method for key, method in METHODS.items() if key in used)


def sources_json() -> dict[str, Any]:
    """The same as JSON."""
    return {
        "rules": [{"about": about, "rule": rule} for about, rule in _RULES],
        "margins": [
            {
                "quantity": one.quantity,
                "scale": str(one.scale),
                "low": one.low,
                "high": one.high,
                "weight": str(one.weight),
                "reason": one.reason,
            }
            for one in DEFAULTS
        ],
        "methods": [{"key": one.key, "text": one.text, "source": one.source} for one in _used()],
    }
