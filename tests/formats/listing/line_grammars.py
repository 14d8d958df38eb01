"""Random line grammars: draws a way to print settings, and settings; the reader must get the tuples back.

Nothing here knows the reader. Draws that a person could not tell apart either are not made: a name of several
words needs a separator that is no blank; a value with blanks behind a blank separator comes without unit.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

STEMS = [
    "gain",
    "rate",
    "limit",
    "span",
    "tilt",
    "drift",
    "pulse",
    "lamp",
    "horn",
    "crest",
    "vane",
    "rotor",
    "mast",
    "heel",
    "keel",
    "wick",
    "ember",
    "spool",
    "latch",
    "brace",
    "pivot",
    "ridge",
    "flare",
    "notch",
    "sway",
    "yawl",
    "hinge",
    "cleat",
    "strut",
    "ballast",
    "trim",
    "slope",
    "decay",
    "settle",
    "linger",
    "guard",
    "margin",
    "floor",
    "ceiling",
    "window",
    "fence",
    "anchor",
    "relay",
    "beacon",
    "chime",
    "dial",
    "gauge",
    "probe",
    "filter",
    "edge",
    "corner",
    "shelf",
    "step",
    "ramp",
    "delay",
    "hold",
    "cutoff",
]
UNITS = ("ms", "us", "Hz", "deg", "V", "mA", "%", "m/s", "rad", "dB")
WORDS = (
    "auto",
    "none",
    "slow",
    "fast",
    "linear",
    "curved",
    "upper",
    "lower",
    "both",
    "north",
    "safe",
    "manual",
)
MARKS = ("#", ";", "//", "!", "--")
BANKS = ("net", "motors", "radio", "lamp unit", "frame", "pack", "inner loop", "outer loop", "gimbal", "logs")
Tuple4 = tuple[str | None, str, str | None, str]


@dataclass
class Grammar:
    """One way to print settings."""

    seed: int
    name_style: str
    prefix: str
    separator: str
    aligned: bool
    quoting: str
    index: str
    terminator: str
    units: str
    remarks: str
    banks: str
    prompt: str
    terminal: str
    newline: str
    encoding: str
    count: int
    expected: list[Tuple4] = field(default_factory=list)

    def classes(self) -> list[str]:
        """Labels to count failures by."""
        return [
            f"separator {self.separator!r}", f"index {self.index}", f"banks {self.banks}", f"prompt {self.prompt}",
            f"units {self.units}", f"remarks {self.remarks}", f"quoting {self.quoting}", f"terminal {self.terminal}",
            f"name {self.name_style}", f"prefix {self.prefix!r}", f"newline {self.newline}", f"terminator {self.terminator!r}",
        ]  # fmt: skip


def draw(seed: int) -> Grammar:
    r = random.Random(seed)
    separator = r.choice(
        [
            "=",
            " = ",
            " = ",
            ":",
            ": ",
            " : ",
            " := ",
            ":=",
            " -> ",
            " => ",
            " ",
            " ",
            "\t",
            "....",
            " | ",
            " is ",
            " ~ ",
            "=",
        ]
    )
    blank = separator in (" ", "\t")
    name_style = r.choice(["snake", "snake", "camel", "kebab", "dotted", "upper", "digits", "slash"])
    if not blank and separator not in (" is ",) and r.random() < 0.08:
        name_style = "several words"
    units = r.choice(["none", "none", "none", "blank", "bracket"])
    index = r.choice(["none", "none", "none", "square", "round", "word", "two", "two brackets"])
    if name_style == "several words" or separator == " is ":
        index = "none" if index == "word" else index
    quoting = r.choice(["bare", "bare", "double", "single", "texts"])
    if quoting in ("double", "single"):
        units = "none"
    banks = r.choice(
        ["none", "none", "none", "square", "framed", "selector", "indent", "brace", "underlined", "remark"]
    )
    if blank and banks == "indent":
        banks = "square"
    remarks = r.choice(["none", "none", "lines", "trailing", "both"])
    if separator == "\t" and units != "none":
        units = "none"
    mark_free = "//" if separator.strip() in ("=", ":") else "#"
    if banks == "remark":
        remarks = "none"
    return Grammar(
        seed, name_style, r.choice(["", "", "", "put", "let", "cfg put"]), separator, (not blank and r.random() < 0.3) or (separator == " " and r.random() < 0.5),
        quoting, index, r.choice(["", "", "", ";", ","]), units, f"{remarks} {r.choice([*MARKS, mark_free])}", banks,
        r.choice(["none", "none", "none", "head", "each", "before"]), r.choice(["none", "none", "colour", "pager", "erase"]),
        r.choice(["\n", "\n", "\r\n", "\r", "mixed"]), r.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16", "latin-1"]),
        r.choice([6, 12, 40, 120]),
    )  # fmt: skip


def _name(r: random.Random, style: str, taken: set[str]) -> str:
    while True:
        parts = r.sample(STEMS, r.choice([2, 2, 3]))
        name = {
            "snake": "_".join(parts),
            "camel": parts[0] + "".join(p.capitalize() for p in parts[1:]),
            "kebab": "-".join(parts),
            "dotted": ".".join(parts),
            "upper": "_".join(parts).upper(),
            "digits": f"{parts[0]}{r.randint(1, 4)}_{parts[1]}",
            "slash": "/".join(parts),
            "several words": " ".join(parts[: r.choice([1, 2, 3])]),
        }[style]
        if name not in taken:
            taken.add(name)
            return name


def _value(r: random.Random, g: Grammar) -> tuple[str, bool]:
    """A value and whether it is a number."""
    kind = r.random()
    if kind < 0.4:
        return str(r.choice([0, 1, r.randint(-200, 4000), r.randint(0, 100)])), True
    if kind < 0.6:
        return f"{r.uniform(-5, 90):.{r.choice([1, 2, 3])}f}", True
    if kind < 0.8:
        return r.choice(WORDS), False
    if kind < 0.86:
        return r.choice(["true", "false", "on", "off"]), False
    if kind < 0.9:
        return hex(r.randint(0, 65535)), True
    if g.quoting != "bare" and kind < 0.97:
        return " ".join(r.sample(WORDS, 2)), False
    return ",".join(str(r.randint(0, 9)) for _ in range(3)) if g.terminator != "," else "1/2/3", False


def _line(r: random.Random, g: Grammar, name: str, width: int, text: str, number: bool, indent: str) -> str:
    quote = {"double": '"', "single": "'", "texts": "" if number else '"', "bare": ""}[g.quoting]
    left = " ".join(part for part in (g.prefix, name) if part)
    if g.separator == "....":
        left = left + " " + "." * max(3, width + 6 - len(left)) + " "
    elif g.aligned:
        left = left.ljust(width) + (g.separator if g.separator.strip() else "  ")
    else:
        left += g.separator
    line = f"{indent}{left}{quote}{text}{quote}"
    if g.units != "none" and number:
        unit = UNITS[sum(map(ord, name)) % len(UNITS)]
        line += f" {unit}" if g.units == "blank" else f" [{unit}]"
    line += g.terminator
    where, mark = g.remarks.split()
    if where in ("trailing", "both") and r.random() < 0.4:
        line += f"  {mark} {' '.join(r.sample(STEMS, 3))}"
    return line


def render(g: Grammar) -> bytes:  # noqa: C901 - one straight list of draws, clearer in one place
    """Print settings in the grammar, and note the tuples expected back."""
    r = random.Random(g.seed + 1)
    groups: list[tuple[str | None, list[tuple[str, str | None]]]] = []
    bank_names: list[str | None] = [None]
    if g.banks == "selector":
        word = r.choice(["profile", "bank", "slot", "preset"])
        bank_names = [f"{word} {n}" for n in range(r.choice([0, 1]), 4)]
    elif g.banks == "remark":
        bank_names = [f"{r.choice(['part'])} {n}" for n in range(1, 4)]
    elif g.banks != "none":
        bank_names = list(r.sample(BANKS, r.choice([2, 3, 4])))
    alike = g.banks in ("selector", "remark") or r.random() < 0.5
    taken: set[str] = set()
    per_bank = max(3, g.count // len(bank_names))
    shared = _keys(r, g, per_bank, taken)
    for bank in bank_names:
        groups.append((bank, shared if alike else _keys(r, g, per_bank, taken)))
    lines: list[str] = []
    where, mark = g.remarks.split()
    if where in ("lines", "both"):
        lines += [f"{mark} listing of the {r.choice(STEMS)} unit", f"{mark} taken by hand", ""]
    prompt = r.choice(["dev> ", "unit$ ", "box:~# ", "> "])
    for bank, keys in groups:
        indent = ""
        if bank is not None:
            rule = r.choice(["==", "---", "***"]) if g.banks == "framed" else ""
            if lines and r.random() < 0.5:
                lines.append("")
            lines += {
                "square": [f"[{bank}]"], "framed": [f"{rule} {bank} {rule}"], "selector": [bank], "indent": [f"{bank}:"],
                "brace": [f"{bank} {{"], "underlined": [bank, "-" * len(bank)], "remark": [f"# {bank}"],
            }[g.banks]  # fmt: skip
            indent = "    " if g.banks in ("indent", "brace") else ""
        printed = [(name, index, _with_index(g, name, index)) for name, index in keys]
        width = max(len(" ".join(p for p in (g.prefix, shown) if p)) for _, _, shown in printed)
        for name, index, shown in printed:
            text, number = _value(r, g)
            if g.prompt == "each":
                lines.append(f"{prompt}get {shown}")
            line = _line(r, g, shown, width, text, number, indent)
            lines.append(f"{prompt}{line}" if g.prompt == "before" and not indent else line)
            g.expected.append((bank, name, index, text))
            if where in ("lines", "both") and r.random() < 0.05:
                lines.append(f"{indent}{mark} {' '.join(r.sample(STEMS, 4))}")
        if g.banks == "brace":
            lines.append("}")
    if g.prompt == "head":
        lines = [f"{prompt}print everything", *lines, prompt.rstrip()]
    elif g.prompt == "each":
        lines.append(prompt.rstrip())
    return _encode(r, g, lines)


def _keys(r: random.Random, g: Grammar, count: int, taken: set[str]) -> list[tuple[str, str | None]]:
    keys: list[tuple[str, str | None]] = []
    while len(keys) < count:
        name = _name(r, g.name_style, taken)
        if g.index == "none" or r.random() < 0.5:
            keys.append((name, None))
        elif g.index in ("two", "two brackets"):
            keys += [(name, f"{i},{j}") for i in range(2) for j in range(2)]
        else:
            base = r.choice([0, 1])
            keys += [(name, str(i)) for i in range(base, base + r.choice([2, 3, 4]))]
    return keys


def _with_index(g: Grammar, name: str, index: str | None) -> str:
    if index is None:
        return name
    if g.index == "round":
        return f"{name}({index})"
    if g.index == "word":
        return f"{name} {index}"
    if g.index == "two brackets":
        return name + "".join(f"[{part}]" for part in index.split(","))
    return f"{name}[{index}]"


def _encode(r: random.Random, g: Grammar, lines: list[str]) -> bytes:
    if g.terminal == "colour":
        lines = [
            f"\x1b[{r.choice(['1', '32', '0;36'])}m{line}\x1b[0m" if line and r.random() < 0.5 else line
            for line in lines
        ]
    elif g.terminal == "erase":
        lines = ["\x1b[2K" + line if r.random() < 0.3 else line for line in lines]
    elif g.terminal == "pager":
        shown = []
        for number, line in enumerate(lines):
            shown.append(line)
            if number % 24 == 23:
                shown.append("--More--")
        lines = shown
    ends = {"mixed": None}.get(g.newline, g.newline)
    text = "".join(line + (ends if ends is not None else r.choice(["\n", "\r\n"])) for line in lines)
    return text.encode(g.encoding, "replace")
