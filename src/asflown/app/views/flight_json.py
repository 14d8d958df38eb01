"""Evidence of a flight as JSON, and the JSON Schema of it; both from the one list of quantities."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from asflown.core.evidence import Evidence
from asflown.core.study.quantities import METHODS, QUANTITIES
from asflown.core.study.quantity import PLACES, Quantity

#: Version of the layout; raised when a field changes its meaning.
LAYOUT = 1


def evidence_json(evidence: Evidence) -> dict[str, Any]:
    """One number: with ``value`` and its interval, or with ``reason``."""
    about = {
        "unit": evidence.unit,
        "route": evidence.route or None,
        "span": None if evidence.span is None else list(evidence.span),
        "method": evidence.method,
        "source": evidence.source,
        "caveats": list(evidence.caveats),
    }
    if evidence.value is None or evidence.interval is None:
        return {"reason": evidence.reason, **about}
    interval = evidence.interval
    return {
        "value": evidence.value,
        "low": interval.low,
        "high": interval.high,
        "coverage": interval.coverage,
        **about,
    }


def nested(evidence: Iterable[Evidence]) -> dict[str, Any]:
    """Evidence in the tree its names make: ``axes.roll.bandwidth`` stands in ``axes``, ``roll``."""
    tree: dict[str, Any] = {}
    for one in evidence:
        *path, last = one.quantity.split(".")
        place = tree
        for part in path:
            place = place.setdefault(part, {})
        place[last] = evidence_json(one)
    return tree


def methods_json(evidence: Iterable[Evidence]) -> dict[str, Any]:
    """The methods that evidence names, with where they come from."""
    keys = dict.fromkeys(one.method for one in evidence)
    return {key: {"text": METHODS[key].text, "source": METHODS[key].source} for key in keys}


# --------------------------------------------------------------------------------- the schema

_NUMBER_OR_NULL = {"type": ["number", "null"]}
_TEXT_OR_NULL = {"type": ["string", "null"]}
_TEXTS = {"type": "array", "items": {"type": "string"}}
_SPAN = {
    "type": ["array", "null"],
    "items": {"type": "number"},
    "minItems": 2,
    "maxItems": 2,
    "description": "start and end of the data used, s from the start of the log",
}
_ABOUT = {
    "unit": {"type": "string"},
    "route": {**_TEXT_OR_NULL, "description": "which of several ways led to it"},
    "span": _SPAN,
    "method": {"type": "string", "description": "a key of methods"},
    "source": {"type": "string", "description": "SHA-256 of the log"},
    "caveats": {**_TEXTS, "description": "what limits it"},
}


def evidence_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of what ``asflown flight measure --json`` prints."""
    from asflown.app.views.flight_measured import OTHER_FIELDS

    groups = {name: _tree(quantities) for name, quantities in _grouped().items()}
    others = {name: {"description": says, **kind} for name, (says, kind) in OTHER_FIELDS.items()}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Evidence of one flight",
        "type": "object",
        "properties": {**others, **groups},
        "required": [*others, *groups],
        "$defs": {"measured": _measured(), "not_measured": _not_measured()},
    }


def _grouped() -> dict[str, list[Quantity]]:
    made: dict[str, list[Quantity]] = {}
    for one in QUANTITIES:
        made.setdefault(one.group, []).append(one)
    return made


def _tree(quantities: Iterable[Quantity]) -> dict[str, Any]:
    tree: dict[str, Any] = {}
    for one in quantities:
        _, *path, last = one.name.split(".")
        place = tree
        for part in path:
            place = place.setdefault(part, {})
        place[last] = one
    return _node(tree)


def _node(tree: Mapping[str, Any] | Quantity) -> dict[str, Any]:
    """An object whose keys are words, or stand for an axis, a number and the like."""
    if isinstance(tree, Quantity):
        return {
            "description": f"{tree.says} ({tree.unit})",
            "oneOf": [{"$ref": "#/$defs/measured"}, {"$ref": "#/$defs/not_measured"}],
        }
    plain = {key: _node(part) for key, part in tree.items() if key not in PLACES}
    patterns = {f"^{PLACES[key]}$": _node(part) for key, part in tree.items() if key in PLACES}
    made: dict[str, Any] = {"type": "object", "additionalProperties": False}
    if plain:
        made["properties"] = plain
    if patterns:
        made["patternProperties"] = patterns
    return made


def _measured() -> dict[str, Any]:
    numbers = {
        "value": {"type": "number"},
        "low": {"type": "number", "description": "lower end of the interval"},
        "high": {"type": "number", "description": "upper end of the interval"},
        "coverage": {"type": "number", "description": "share of cases the interval is meant to cover"},
    }
    properties = {**numbers, **_ABOUT}
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _not_measured() -> dict[str, Any]:
    reason = {"type": "string", "description": "why there is no number, and what to log or fly next"}
    properties = {"reason": reason, **_ABOUT}
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
