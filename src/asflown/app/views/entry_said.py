"""What each kind of logbook entry says, in one sentence a person can read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from asflown.app.views.sheet import counted, listed
from asflown.core.logbook import Entry

Body = Mapping[str, Any]


def said(entry: Entry) -> str:
    """What an entry says, in one sentence."""
    return _SAYINGS.get(entry.kind, _any)(entry.body)


def _aircraft(body: Body) -> str:
    what, id = body.get("what"), body.get("id")
    if what == "described":
        return f"{id} described: {body.get('title') or id}"
    if body.get("changed"):
        return f"{id} changed: {listed(map(str, body['changed']))}"
    parts = [f"{word} {_was(body[word])}" for word in ("release", "board") if _moved(body.get(word))]
    return f"{id} {what}" + (f": {', '.join(parts)}" if parts else "")


def _moved(pair: object) -> bool:
    return isinstance(pair, list | tuple) and len(pair) == 2 and pair[0] != pair[1]


def _was(pair: Any) -> str:
    return f"{pair[0] or 'not stated'} → {pair[1] or 'not stated'}"


def _record(body: Body) -> str:
    device = "" if body.get("device") in (None, "board") else f" of {body['device']}"
    text = (
        f"{body.get('id')}: {counted(int(body.get('settings') or 0), 'setting')}{device} {body.get('moment')}"
    )
    text += f", {body.get('release') or 'release not stated'}"
    if body.get("open_lines"):
        text += f"; {counted(int(body['open_lines']), 'line')} not understood"
    if body.get("repeated"):
        text += f"; more than once: {listed(str(key) for key, _ in body['repeated'])}"
    return f"{text}; received" if body.get("received") else text


def _plan(body: Body) -> str:
    waiting = len(body.get("open") or ())
    what = "" if body.get("purpose") in (None, "refit") else f", {body['purpose']}"
    text = f"{body.get('plan')}{what}, {body.get('from') or 'not stated'} → {body.get('to')}:"
    text += f" {counted(waiting, 'decision')} open" if waiting else " nothing open"
    if body.get("replaced") == "provisional" and body.get("plan") == "final":
        text += f"; {counted(len(body.get('moved') or ()), 'line')} moved since the provisional plan"
    lapsed = len(body.get("lapsed") or ())
    return f"{text}; {counted(lapsed, 'decision line')} lapsed" if lapsed else text


def _decision(body: Body) -> str:
    undone = body.get("undone")
    if isinstance(undone, Mapping):
        return f"taken back: {undone.get('group')}: {undone.get('option')}; {body.get('why')}"
    number = counted(len(body.get("lines") or ()), "setting")
    return f"{body.get('group')}: {body.get('option')} ({number}); {body.get('reason')}"


def _gate(body: Body) -> str:
    statement = body.get("statement")
    return f"gate {body.get('gate')}: {body.get('answer')}" + (f": {statement}" if statement else "")


def _margins(body: Body) -> str:
    stated = body.get("stated") or {}
    own = f"; own: {listed(f'{name} {size}' for name, size in stated.items())}" if stated else ""
    return f"margins of {body.get('refit')} sealed: {str(body.get('digest'))[:12]}{own}"


def _verdict(body: Body) -> str:
    flights = (
        f"{listed(map(str, body.get('after') or ()))} against {listed(map(str, body.get('before') or ()))}"
    )
    text = f"{body.get('outcome')}: {flights}"
    if body.get("different"):
        return f"{text}; different: {listed(map(str, body['different']))}"
    return f"{text}; open: {listed(map(str, body['open']))}" if body.get("open") else text


def _card(body: Body) -> str:
    note = body.get("note")
    return f"card {body.get('number')} {body.get('card')}: {body.get('result')}" + (
        f": {note}" if note else ""
    )


def _bench(body: Body) -> str:
    if body.get("what") == "put right":
        again = body.get("again") or ()
        text = f"card {body.get('card')} failed and was put right ({body.get('fix')}): {body.get('note')}"
        return f"{text}; done again: {listed(map(str, again))}" if again else text
    values = listed(
        f"{what} {value}{f' {unit}' if unit else ''}{' (over the link)' if over_link else ''}"
        for what, value, unit, _, over_link in body.get("readings") or ()
    )
    text = f"read for card {body.get('card')}: {values}"
    wrong = body.get("not_as_expected") or ()
    return f"{text}; not as expected: {listed(map(str, wrong))}" if wrong else text


def _write_out(body: Body) -> str:
    text = f"sheet {_sheet(body)}: {counted(int(body.get('written') or 0), 'setting')} to write"
    if body.get("at_factory") and not body.get("everything"):
        text += f", {body['at_factory']} stand at factory"
    if body.get("left_out"):
        text += f", {len(body['left_out'])} left out"
    return f"{text}; the way back made with it"


def _replies(body: Body) -> str:
    found = int(body.get("settings_found") or 0)
    rest = int(body.get("rest_settings") or 0)
    everything = found + len(body.get("not_found") or ())
    text = f"replies to {body.get('what')}: {found} of {counted(everything, 'setting')} show"
    if body.get("stopped_after"):
        text += f", stopped after line {body['stopped_after']}"
    if body.get("complaints"):
        text += f", {counted(len(body['complaints']), 'complaint')}"
    if rest:
        text += f", {counted(rest, 'setting')} still to write"
    return f"{text}; {body.get('state')}"


def _read_back(body: Body) -> str:
    differs = len(body.get("differs") or ()) + len(body.get("banks") or ())
    wanted = "as planned" if body.get("of") == "as left" else "as found"
    text = f"{body.get('record')}: "
    text += f"{counted(differs, 'setting')} not {wanted}" if differs else f"every setting {wanted}"
    rest = int(body.get("rest_settings") or 0)
    if rest:
        text += f", {counted(rest, 'setting')} still to write"
    return f"{text}; {body.get('state')}" if body.get("state") else text


def _went_back(body: Body) -> str:
    return f"{body.get('refit')} went back; {_read_back(body)} again"


def _sign_off(body: Body) -> str:
    role = f" as {body['role']}" if body.get("role") else ""
    text = f"{body.get('from') or 'not stated'} → {body.get('to')} signed off by {body.get('name')}{role}:"
    text += f" {body.get('statement')}"
    return f"{text}; remark: {body['remark']}" if body.get("remark") else text


def _not_now(body: Body) -> str:
    purpose = body.get("purpose")
    if purpose == "new board":
        return f"not set up on board {body.get('to_board')}: {body.get('why')}"
    if purpose == "sister aircraft":
        return f"keeps its own set-up: {body.get('why')}"
    text = f"stays on {body.get('stays_on') or 'the old release'}: {body.get('why')}"
    waiting = int(body.get("open") or 0)
    open_ = f"; {counted(waiting, 'decision')} {'was' if waiting == 1 else 'were'} open" if waiting else ""
    return f"{text} (not to {body.get('not_to')}{open_})"


def _correction(body: Body) -> str:
    more = body.get("counts") or body.get("is") or ", ".join(map(str, body.get("lines") or ()))
    reason = f" ({body['said']})" if body.get("said") else ""
    says = f": {more}{reason}" if more else ""
    return f"{body.get('what')}, {body.get('record') or body.get('id') or 'a record'}{says}"


def _release(body: Body) -> str:
    number = body.get("parameters")
    return f"{body.get('id')} {body.get('what')}" + (
        f": {counted(int(number), 'parameter')}" if number else ""
    )


def _evidence(body: Body) -> str:
    number = counted(int(body.get("measured") or 0), "figure")
    text = f"{body.get('id')}: {number} measured of {body.get('log_name')}"
    missing = int(body.get("not_measured") or 0)
    text += f", {missing} not" if missing else ""
    return f"{text}; the log itself {'kept' if body.get('log_kept') else 'not kept, its hash is'}"


def _flight(body: Body) -> str:
    return f"{body.get('id')} {body.get('what')}: {body.get('said')}"


def _received(body: Body) -> str:
    entries = counted(int(body.get("entries") or 0), "entry", "entries")
    return f"taken in with {entries}, {_whole(body)}; last entry {str(body.get('last_hash'))[:12]}"


def _handed(body: Body) -> str:
    documents = counted(int(body.get("documents") or 0), "document")
    return f"handed over, {_whole(body)}: {documents}, {counted(int(body.get('originals') or 0), 'original')}"


def _whole(body: Body) -> str:
    if body.get("with_private"):
        return "whole"
    return f"{counted(int(body.get('left_out') or 0), 'thing')} left out"


def _sheet(body: Body) -> str:
    return f"{int(body.get('sheet') or 0):03d}"


def _any(body: Body) -> str:
    """A kind of a later asflown: its short facts, as they stand."""
    facts = (
        f"{name} {value}"
        for name, value in body.items()
        if isinstance(value, str | int | float) and not isinstance(value, bool) and len(str(value)) <= 60
    )
    return ", ".join(facts)


def _field(body: Body) -> str:
    flown = body.get("flown") or ()
    logs = [str(one.get("log")) for one in flown if one.get("log")]
    text = f"{body.get('refit')}: {counted(len(flown), 'flight')} written down at the field"
    text += f" by {body['name']}" if body.get("name") else ""
    return f"{text}: {listed(logs)}" if logs else text


def _load(body: Body) -> str:
    name = (body.get("image") or ["an image"])[0]
    text = f"{body.get('load')}: {body.get('writes')} {name}, {body.get('what')}"
    if body.get("sectors"):
        text += (
            f"; {counted(len(body['sectors']), 'sector')} written in {float(body.get('seconds') or 0):.1f} s"
        )
    if body.get("what") == "flash kept, nothing erased":
        text += f"; old flash SHA-256 {str(body.get('before'))[:12]}; {body.get('confirmed')}"
    return text


def _link(body: Body) -> str:
    text = f"{body.get('refit')}: {body.get('what')} over the terminal at {body.get('port')}"
    if "lines" in body:
        text += f", {counted(int(body['lines']), 'line')} in {counted(int(body.get('rounds') or 0), 'round')}"
    if body.get("refused"):
        text += f"; not taken: {listed(str(name) for name, _ in body['refused'])}"
    return f"{text}; {body.get('state') or body.get('confirmed')}"


def _calibration(body: Body) -> str:
    scale = (body.get("results") or {}).get("scale") or [None]
    number = "" if scale[0] is None else f", scale {float(scale[0]):.4f}"
    return f"{body.get('id')}: {body.get('what')} {body.get('when')}{number}; {body.get('why')}"


def _terminal(body: Body) -> str:
    return f"words of {body.get('id')}'s terminal {body.get('what')}"


_SAYINGS: Mapping[str, Callable[[Body], str]] = {
    "aircraft": _aircraft,
    "record": _record,
    "plan": _plan,
    "decision": _decision,
    "gate": _gate,
    "card": _card,
    "bench": _bench,
    "field": _field,
    "margins": _margins,
    "verdict": _verdict,
    "write-out": _write_out,
    "load": _load,
    "link": _link,
    "calibration": _calibration,
    "terminal": _terminal,
    "replies": _replies,
    "read-back": _read_back,
    "went back": _went_back,
    "sign-off": _sign_off,
    "not now": _not_now,
    "correction": _correction,
    "release": _release,
    "evidence": _evidence,
    "flight": _flight,
    "received": _received,
    "hand-over": _handed,
}
