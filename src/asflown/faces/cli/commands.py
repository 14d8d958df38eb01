"""The table of commands: name, where its function lives, what it does. Nothing is imported here.

A module is imported only when its command runs, so that ``asflown --help`` stays instant. To add a
command, add a row; ``main`` does the rest.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Command:
    """One command.

    Attributes
    ----------
    target
        ``module:attribute`` under ``asflown.faces.cli``; a function, or an App for a command with parts.
    says
        What it does, in one line.
    """

    name: str
    target: str
    says: str
    group: str


KNOW = "Know what is there"
PLAN = "Plan and decide"
WRITE = "Write, read back, finish"
KEEP = "Keep and hand over"
ABOUT = "About asflown"

COMMANDS: tuple[Command, ...] = (
    Command("release", "release:app", "bring in a release, list them, show one", KNOW),
    Command("aircraft", "aircraft:app", "describe an aircraft, list them, choose the current one", KNOW),
    Command("board", "board:app", "describe what a board leads out: begin, check, keep", KNOW),
    Command("listing", "listing:app", "show what is learned from a settings listing", KNOW),
    Command("image", "image:app", "firmware images: check one before it is written", KNOW),
    Command("terminal", "terminal:app", "the words of a firmware's text terminal, pinned once", KNOW),
    Command("found", "found:found", "keep an as-found record from a settings listing", KNOW),
    Command("records", "records:app", "list records, set lines of one aside", KNOW),
    Command("compare", "compare:compare", "compare two records", KNOW),
    Command("match", "match:match", "match two catalogs: what became of every name", KNOW),
    Command("flight", "flight:app", "flight logs: look at one, measure it, keep its evidence", KNOW),
    Command("behaviour", "behaviour:app", "what settings amount to in the rate loop", KNOW),
    Command(
        "notes", "notes:app", "change notes: draft them, look through them, make them of decisions", KNOW
    ),
    Command("plan", "plan:plan", "make the carry-over to another release", PLAN),
    Command("ports", "ports:app", "which device goes where on the board, and why not", PLAN),
    Command("predict", "predict:predict", "how it would fly with the plan's settings", PLAN),
    Command("retune", "retune:retune", "settings of the new release that keep the old answer", PLAN),
    Command("decide", "decide:decide", "settle what is open, with a choice and a reason", PLAN),
    Command("not-now", "notnow:notnow", "stay on the old release, with the reason", PLAN),
    Command("host-check", "host_check:host_check", "why a board is seen or not, and what to do", WRITE),
    Command("cards", "cards:app", "show or print the cards, note results", WRITE),
    Command("bench", "bench:app", "what is checked on the bench, and the values read there", WRITE),
    Command("field", "field:app", "one file for the phone: cards, test card, way back", WRITE),
    Command("gate", "gate:gate", "answer what must be looked at on the way", WRITE),
    Command("write-out", "writeout:writeout", "write out the listing to write, and the way back", WRITE),
    Command("load", "load:load", "write the image to the board, and read it back", WRITE),
    Command("write", "write:write", "write the plan over the firmware's terminal, and prove it", WRITE),
    Command("replies", "replies:replies", "lay the terminal's replies beside what was written", WRITE),
    Command(
        "readback", "readback:readback", "compare a new listing with the plan: as left = as planned", WRITE
    ),
    Command("calibrate", "calibrate:app", "sensors, meters and receiver: compute, keep, show", WRITE),
    Command("testcard", "testcard:card", "what to fly, and how long, for a verdict", WRITE),
    Command("verdict", "verdict:verdict", "flies as before, differs, or not enough evidence", WRITE),
    Command("sign", "sign:sign", "sign the refit off", WRITE),
    Command("back", "back:back", "go back exactly, and prove it", WRITE),
    Command("logbook", "logbook:logbook", "show the logbook of an aircraft", KEEP),
    Command("verify", "verify:verify", "check logbooks and originals, rehearse the way back", KEEP),
    Command("handover", "handover:handover", "put one aircraft into a self-checking folder or zip", KEEP),
    Command("receive", "receive:receive", "take in what was handed over", KEEP),
    Command("serve", "serve:serve", "show everything as pages in a browser on this machine", ABOUT),
    Command("demo", "demo:demo", "build and run the worked example, and narrate it", ABOUT),
    Command("schema", "schema:schema", "print the JSON Schema of a file people write", ABOUT),
    Command("completion", "completion:completion", "print shell completion for bash, zsh or fish", ABOUT),
)

EXIT_CODES: tuple[tuple[int, str], ...] = (
    (0, "done"),
    (1, "usage or bad input"),
    (2, "needs you: open decisions, a gate not passed"),
    (3, "not enough evidence"),
    (4, "differs"),
    (5, "does not fit"),
    (6, "damaged"),
    (7, "device, link or store"),
    (70, "a fault in asflown itself"),
    (130, "stopped by you (Ctrl-C)"),
)


def overview() -> str:
    """The text of ``asflown --help``."""
    lines = [
        "Usage: asflown COMMAND [ARGS]",
        "",
        "Takes an aircraft's settings from one release to another, with a way back.",
        "",
    ]
    for group in dict.fromkeys(command.group for command in COMMANDS):
        lines.append(f"{group}:")
        lines += [f"  {c.name:<12} {c.says}" for c in COMMANDS if c.group == group]
        lines.append("")
    lines += [
        "Every command: --help with an example, --store FOLDER (or ASFLOWN_STORE), --json, --plain (ASCII).",
        "",
        "Example:",
        "  asflown found before.txt --aircraft plover --release marram-4.1",
        "  asflown plan --to marram-5.0",
        "",
        "Exit codes:",
        *(f"  {code:<4} {says}" for code, says in EXIT_CODES),
    ]
    return "\n".join(lines) + "\n"
