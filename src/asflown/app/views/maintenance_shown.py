"""The maintenance entry: what was done, by which reference, when, by whom, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asflown.app.maintenance import Maintenance
from asflown.app.views.entry_said import said
from asflown.app.views.judged_words import RULE
from asflown.app.views.sheet import Sheet, Table, counted, short
from asflown.core.logbook import Entry


def maintenance_sheet(made: Maintenance) -> Sheet:
    """A sign-off as an ordinary maintenance entry."""
    body = made.entry.body
    statement = str(body.get("statement"))
    found, left = _record(body, "as_found"), _record(body, "as_left")
    rows = [
        ("what", _what(made)),
        (
            "reference",
            f"refit {body.get('refit')}, plan {short(str(body.get('plan')))}, sheet {made.sheet:03d}",
        ),
        ("date", made.entry.at),
        ("name", str(body.get("name"))),
        ("role", str(body.get("role"))),
        *([("remark", str(body["remark"]))] if body.get("remark") else []),
        ("as found", f"record {found[0]}, SHA-256 {found[1]}"),
        ("as left", f"record {left[0]}, SHA-256 {left[1]}"),
        ("decision rule, settings", "as left is as planned, setting by setting, as the device stores them"),
        ("decision rule, flying", _rule(made)),
        ("uncertainty", _uncertainty(made)),
    ]
    return Sheet(
        title="Maintenance entry",
        head=(
            ("aircraft", f"{made.aircraft.title} ({made.aircraft.id})"),
            ("sheet", f"{made.sheet:03d}"),
            ("date", made.entry.at),
            ("release", f"{body.get('from') or 'not stated'} → {body.get('to')}"),
        ),
        sentence=f"{statement[:1].upper()}{statement[1:]}.",
        warnings=tuple(_redo(body)),
        tables=(
            Table(("entry", "says"), tuple(rows)),
            Table(
                ("gate", "answer", "statement"),
                tuple((str(name), str(answer), str(says)) for name, answer, says in body.get("gates") or ()),
                title="Gates",
            ),
            Table(
                ("card", "result", "note"),
                tuple((str(card), str(word), str(note)) for card, word, note in body.get("cards") or ()),
                title="Cards",
            ),
        ),
        notes=(str(body.get("certificate")),),
        foot=(
            f"entry {made.entry.number} {short(made.entry.hash)}",
            f"as found {short(found[1])}",
            f"as left {short(left[1])}",
        ),
    )


def _record(body: Any, name: str) -> tuple[str, str]:
    id, digest = body.get(name) or ("not stated", "")
    return str(id), str(digest)


def _what(made: Maintenance) -> str:
    body = made.entry.body
    account = body.get("account") or {}
    counts = ", ".join(
        f"{account[word]} {word}" for word in ("kept", "converted", "gone", "redo", "new") if word in account
    )
    return (
        f"firmware settings taken from {body.get('from') or 'not stated'} to {body.get('to')}:"
        f" {account.get('found')} settings found, {counts};"
        f" {counted(int(body.get('decisions') or 0), 'decision')}"
    )


def _rule(made: Maintenance) -> str:
    if made.verdict is None:
        return "none: no verdict was given"
    sealed = "the usual margins; nobody sealed them before the flight"
    if made.margins is not None:
        sealed = f"margins sealed {made.margins.at}, {short(str(made.margins.body.get('digest')))}"
    return f"{RULE} {sealed[:1].upper()}{sealed[1:]}."


def _uncertainty(made: Maintenance) -> str:
    settings = "settings: none, equal as stored or listed"
    if made.verdict is None:
        return f"{settings}; flying: unknown, no verdict was given"
    where = f"each figure with its 90 % interval on the verdict sheet ({_verdict(made.verdict)})"
    return f"{settings}; flying: {where}"


def _verdict(entry: Entry) -> str:
    return f"entry {entry.number} {short(entry.hash)}, {said(entry)}"


def _redo(body: Any) -> Iterator[str]:
    names = [str(name) for name in body.get("redo") or ()]
    if names:
        more = " …" if len(names) > 6 else ""
        yield f"not stated whether these were done again on the aircraft: {', '.join(names[:6])}{more}"


def maintenance_json(made: Maintenance) -> dict[str, Any]:
    """A maintenance entry as JSON: the logbook's entry with its hash, and the verdict it rests on."""
    return {
        "aircraft": made.aircraft.id,
        "entry": _entry(made.entry),
        "verdict": _entry(made.verdict),
        "margins": _entry(made.margins),
    }


def _entry(entry: Entry | None) -> dict[str, Any] | None:
    if entry is None:
        return None
    return {
        "number": entry.number,
        "kind": entry.kind,
        "at": entry.at,
        "who": entry.who,
        "body": entry.body,
        "previous": entry.previous,
        "hash": entry.hash,
    }
