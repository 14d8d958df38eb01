"""Two catalogs matched, as JSON."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from asflown.app.catalogs import Given
from asflown.app.matched import Group, Matched, group_of
from asflown.core.carry.matching.result import Pair

#: The names of the groups in JSON.
FIELDS = {
    Group.UNCHANGED: "unchanged",
    Group.UNSTATED: "unstated",
    Group.RENAMED: "renamed",
    Group.MEANING: "other_meaning",
    Group.FACTORY: "default_shift",
    Group.UNKNOWN: "unknown",
    Group.RETIRED: "gone",
}


def match_json(matched: Matched) -> dict[str, Any]:
    """What became of every name (described in docs/reference/json.md)."""
    matching = matched.matching
    return {
        "old_catalog": catalog_json(matched.old),
        "new_catalog": catalog_json(matched.new),
        "counts": counts_json(matched),
        "pairs": [pair_json(pair) for pair in matching.pairs],
        "retired": list(matching.retired),
        "new": list(matching.new),
    }


def catalog_json(given: Given) -> dict[str, Any]:
    """A catalog that was given."""
    return {
        "name": given.name,
        "release": given.release,
        "release_is_guessed": given.is_guessed,
        "source": given.catalog.source.value,
        "parameters": len(given.catalog.parameters),
        "remarks": list(given.remarks),
    }


def counts_json(matched: Matched) -> dict[str, Any]:
    """Old names by what became of them: these seven add up to ``old``."""
    counts = matched.counts
    return {
        "old": len(matched.old.catalog.parameters),
        **{field: counts[group] for group, field in FIELDS.items()},
        "new_catalog": len(matched.new.catalog.parameters),
        "new": len(matched.matching.new),
        "adds_up": matched.adds_up,
    }


def pair_json(pair: Pair) -> dict[str, Any]:
    """One pair."""
    meaning, runner = pair.meaning, pair.runner_up
    return {
        "old": pair.old,
        "new": pair.new,
        "kind": pair.kind.value,
        "confidence": confidence(pair.confidence),
        "zone": pair.zone.value,
        "group": FIELDS[group_of(pair)],
        "reasons": list(pair.reasons),
        "runner_up": None if runner is None else {"new": runner[0], "confidence": confidence(runner[1])},
        "consequence": pair.consequence.value,
        "meaning": {
            "kinship": meaning.kinship.value,
            "says": meaning.says or None,
            "values": dict(meaning.values),
            "lost": dict(meaning.lost),
        },
        "changed": list(pair.changed),
        "factor": plain(meaning.factor),
        "default_shift": None
        if pair.default_shift is None
        else {"before": pair.default_shift[0], "after": pair.default_shift[1]},
        "others": list(pair.others),
    }


def confidence(value: float) -> float:
    """A confidence to four digits; what is not certain is never shown as 1."""
    rounded = round(float(value), 4)
    return rounded if value >= 1 or rounded < 1 else 0.9999


def plain(factor: Decimal | None) -> str | None:
    """An exact number as text, without an exponent."""
    return None if factor is None else f"{factor:f}"
