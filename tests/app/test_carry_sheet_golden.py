"""The text of the carry-over sheet, the decide slip and their JSON, from a plan made by hand.

Golden files hold the words people read; ASFLOWN_GOLDEN_UPDATE=1 writes them anew.
"""

from __future__ import annotations

import os
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from asflown.app.carry_over import Made, MovedLine
from asflown.app.views.carry_json import carry_json
from asflown.app.views.carry_shown import Show, carry_sheet, needs_person
from asflown.app.views.decide_shown import open_sheet, slip_sheet
from asflown.core.carry.dispositions import (
    Basis,
    Cause,
    Disposition,
    Found,
    Left,
    Line,
    Option,
    Settled,
)
from asflown.core.catalog import (
    Catalog,
    CatalogSource,
    Choice,
    Consequence,
    ParameterDef,
    ValueKind,
)
from asflown.core.finding import Finding
from asflown.core.plan import Plan, Purpose, Sealed
from asflown.core.record import Extent, Key, Moment, Record, Setting
from asflown.core.refit import Refit, State
from asflown.errors import Damaged
from asflown.faces.cli.console import ascii_only, sheet_text

GOLDEN = Path(__file__).resolve().parents[1] / "golden"


def line(kind, old, new, why, consequence=Consequence.NONE, **more):
    return Line(
        id=f"l{abs(hash((old, new))) % 10**6}" if not more.get("id") else more.pop("id"),
        disposition=kind,
        old=tuple(Found(Key(name), value) for name, value in old),
        new=tuple(Left(Key(name), value, factory) for name, value, factory in new),
        why=why,
        basis=more.pop("basis", Basis.SAME_NAME),
        consequence=consequence,
        **more,
    )


def lines():
    left = (Left(Key("lost.act"), None, "land"),)
    return (
        line(
            Disposition.KEEP,
            [("tilt.max", "35")],
            [("tilt.max", "35", "35")],
            "same name, same meaning",
            id="l1",
        ),
        line(
            Disposition.RENAME, [("led.on", "1")], [("lights.on", "1", "0")], "renamed by the notes", id="l2"
        ),
        line(
            Disposition.CONVERT,
            [("lost.wait", "1.5")],
            [("lost.wait", "1500", "1000")],
            "s to ms, by the notes",
            Consequence.SAFETY,
            copied="1.5 ms: the receiver-loss action comes a thousandfold early",
            id="l3",
        ),
        line(Disposition.RETIRE, [("beep.low", "3")], [], "taken out in 2.0", Consequence.COMFORT, id="l4"),
        line(
            Disposition.REDO, [("acc.zero", "12")], [("acc.zero", None, None)], "level calibration", id="l5"
        ),
        line(
            Disposition.DECIDE,
            [("lost.do", "2")],
            [],
            "choice 2 was 'climb and hold', is 'cut motors'",
            Consequence.SAFETY,
            cause=Cause.RENUMBERED,
            id="l6",
            consequence_why="what happens when the link is lost",
            options=(
                Option(
                    "convert",
                    "it is lost.act now: 3 (climb and hold)",
                    Disposition.CONVERT,
                    (Left(Key("lost.act"), "3", "1"),),
                    is_recommended=True,
                ),
                Option("value", "set a value of your own", Disposition.CONVERT, left),
            ),
            steps=("marl-1.0 -> marl-2.0: rename lost.do -> lost.act",),
        ),
        line(
            Disposition.DECIDE,
            [],
            [("idle.new", None, "0.06")],
            "new in this release; factory value 0.06",
            Consequence.HANDLING,
            cause=Cause.NEW,
            id="l7",
            options=(
                Option(
                    "factory",
                    "take the new factory value: 0.06",
                    Disposition.ADOPT,
                    (Left(Key("idle.new"), "0.06", "0.06"),),
                    is_recommended=True,
                ),
            ),
        ),
        line(Disposition.ADOPT, [], [("log.rate", "50", "50")], "new; factory value 50 Hz", id="l8"),
    )


CATALOG = Catalog(
    (
        ParameterDef("tilt.max", unit="deg", kind=ValueKind.REAL, maximum=Decimal(60)),
        ParameterDef("lost.wait", unit="s", kind=ValueKind.REAL),
        ParameterDef("lost.do", kind=ValueKind.CHOICE, choices=(Choice("2", "climb and hold"),)),
    ),
    CatalogSource.STATED,
)
NEW = Catalog(
    (ParameterDef("tilt.max", unit="deg"), ParameterDef("lost.wait", unit="ms")), CatalogSource.STATED
)


def made(plan_lines=None, *, found=6, provisional=None, findings=(), lapsed=(), moved=()):
    plan = Plan(
        "plover",
        Purpose.REFIT,
        "marl-1.0",
        "marl-2.0",
        found,
        tuple(plan_lines or lines()),
        findings=tuple(findings),
        is_provisional=provisional is not None,
        provisional_why=provisional,
        inputs=(Sealed("record plover-001", "ab" * 32),),
        lapsed=tuple(lapsed),
        route=("marl-1.0", "marl-2.0"),
    )
    record = Record(
        "plover-001",
        "plover",
        "board",
        Moment.AS_FOUND,
        "marl-1.0",
        "brant-h7",
        "2026-03-07T09:12:44+01:00",
        (Setting(Key("tilt.max"), "35"),),
        Extent.FULL,
    )
    refit = Refit(
        "plover-r1", "plover", "board", Purpose.REFIT, "marl-1.0", "marl-2.0", State.PLANNING, "plover-001"
    )
    if not plan.open_groups and not plan.blocking and provisional is None:
        refit = replace(refit, state=State.DECIDED)
    return Made(
        plan, refit, record, CATALOG, NEW, 2, "2026-03-07T10:00:00+01:00", True, tuple(moved), bool(moved)
    )


def settled():
    mark = Settled("convert", "checked on the bench", "ines", "2026-03-07T10:00:00+01:00")
    return [
        replace(
            one,
            disposition=one.options[0].disposition,
            new=one.options[0].new,
            settled=mark,
            why=f"{one.options[0].label}; decided: checked on the bench",
        )
        if one.is_open
        else one
        for one in lines()
    ]


BLOCK = Finding(
    "listing",
    "plover-001",
    Consequence.UNKNOWN,
    "2 lines of the listing were not understood",
    ("say that they are no settings: asflown records set-aside plover-001 --lines all",),
    blocks=True,
)
NOTE = Finding(
    "release",
    "esc",
    Consequence.SAFETY,
    "speed controllers need 2.1: its version is not stated",
    ("bring esc to what is needed before loading",),
)

CASES = {
    "needs_you": lambda: carry_sheet(made(findings=[NOTE])),
    "all": lambda: carry_sheet(made(), Show.ALL),
    "changed": lambda: carry_sheet(made(), Show.CHANGED),
    "decided": lambda: carry_sheet(made(settled())),
    "blocked": lambda: carry_sheet(made(findings=[BLOCK], lapsed=["lost.do: decide again"])),
    "provisional": lambda: carry_sheet(made(settled(), provisional="nobody stated a catalog")),
    "final_after_provisional": lambda: carry_sheet(
        made(settled(), moved=[MovedLine("log.rate", "adopt: log.rate = 25", "adopt: log.rate = 50")])
    ),
    "open": lambda: open_sheet(made()),
    "slip": lambda: slip_sheet(made(), made().plan.open_groups[0]),
}


@pytest.mark.parametrize("name", CASES)
def test_golden_sheets(name):
    text = sheet_text(CASES[name](), columns=100)
    path = GOLDEN / f"carry_{name}.txt"
    if os.environ.get("ASFLOWN_GOLDEN_UPDATE"):
        path.write_text(text, "utf-8")
    assert text == path.read_text("utf-8")
    assert ascii_only(text).isascii()
    for word in ("sync", "deploy", "health", "score", "success", "oops"):
        assert word not in text.lower()


def test_a_sheet_whose_sum_does_not_add_up_is_not_made():
    for show in Show:
        with pytest.raises(Damaged, match="does not add up"):
            carry_sheet(made(found=7), show)
    with pytest.raises(Damaged):
        open_sheet(made(found=7))
    with pytest.raises(Damaged):
        carry_json(made(found=7))


def test_json_says_what_the_sheet_says():
    body = carry_json(made())
    account = body["account"]
    assert account["adds_up"] is True
    assert (
        account["found"] == 6 == sum(account[k] for k in ("kept", "converted", "gone", "redo", "to_decide"))
    )
    assert (account["new"], account["new_to_decide"]) == (2, 1)
    assert sum(account["by_disposition"].values()) == account["found"] + account["new"]
    assert body["decisions_asked"] == len(body["groups"]) == 2
    assert body["groups"][0]["consequence"] == "safety"
    assert body["seconds"] == sum(group["seconds"] for group in body["groups"])
    wait = next(one for one in body["lines"] if one["id"] == "l3")
    assert wait["old"] == wait["new"] == ["lost.wait"]
    assert (wait["as_found"], wait["to_be_left"], wait["consequence"]) == (["1.5"], ["1500"], "safety")
    assert "thousandfold" in wait["copied"]
    assert wait["settled"] is None
    decided = carry_json(made(settled()))
    assert decided["decisions_asked"] == 0
    assert next(one for one in decided["lines"] if one["id"] == "l6")["settled"]["who"] == "ines"


def test_what_needs_a_person():
    assert needs_person(made())
    assert needs_person(made(settled(), findings=[BLOCK]))
    assert needs_person(made(settled(), provisional="nobody stated a catalog"))
    assert not needs_person(made(settled(), findings=[NOTE]))
