"""Lines around the settings that tell themselves: blanks, drawing, remarks, prompts, echo, framed headers."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass

from asflown.core.listing import PieceKind
from asflown.formats.listing.learn import learn
from asflown.formats.listing.marks import Header, Marks
from asflown.formats.listing.noise import is_page_break
from asflown.formats.listing.table import is_ruler
from asflown.formats.listing.values import Found

#: Marks that may begin a remark; each is only believed where the lines behind it are no settings.
REMARKS = ("#", ";", "//", "!", "--", "%", "<!--", "/*", "REM ", "rem ", "dnl ", "'", "*")
_FRAME = re.compile(
    r"^([^\w\s\"'`/$@.,+]{1,8}|[-=*#~_+]{1,120})[ \t]*([^\s].{0,118}?)[ \t]*([^\w\s\"'`,.]{1,120})$"
)
_MIRROR = {"[": "]", "(": ")", "{": "}", "<": ">"}
_PROMPT = re.compile(
    r"^((?:\[[^\]\s]{1,40}(?: [^\]\s]{1,40})?\]|[^\s\[\"'=]{0,40}?)(?:\([^)\s]{0,24}\))?"
    r"\s?(?:>{1,3}|[#$%»❯]))(?:\s+(.*))?$"
)
_CLOSER = re.compile(r"^(\}[;,]?|\][;,]?|\)|\};|</[\w.\-]+>)$")


def mark_plain(marks: Marks) -> None:
    """Mark blank lines, page breaks, drawing and closing brackets."""
    for number, line in enumerate(marks.lines):
        text = line.text.strip()
        if line.number in marks.ignored:
            marks.kinds[number] = PieceKind.NOT_UNDERSTOOD
        elif not text:
            marks.kinds[number] = PieceKind.NOISE if line.noisy else PieceKind.BLANK
        elif is_page_break(line):
            marks.kinds[number] = PieceKind.NOISE
        elif _CLOSER.match(text):
            marks.kinds[number] = PieceKind.STRUCTURE
            marks.closers.add(number)
        elif is_ruler(text) and len(text) > 1:
            marks.kinds[number] = PieceKind.STRUCTURE


def frame_of(text: str) -> tuple[str, str] | None:
    """The frame and the inner text of a framed line such as ``[net]`` or ``== bank 2 ==``."""
    found = _FRAME.match(text) if len(text) < 300 else None
    if found is None or text[0] in "|│┃║+":
        return None
    opening, inner, closing = found.groups()
    if (
        text[0] == "["
        and text[-1] == "]"
        and len(closing) > 1
        and "[" not in text[1:]
        and "]" not in text[:-1]
    ):
        opening, inner, closing = "[", text[1:-1].strip(), "]"
    mirrored = "".join(_MIRROR.get(char, char) for char in reversed(opening))
    if closing != mirrored and not (
        set(opening) == set(closing) and len(set(opening)) == 1 and len(opening) > 1
    ):
        mixed = {*opening, *closing} <= set("-=*#~_+<>[]() :") and opening[0] == _unmirror(closing[-1])
        if not mixed:
            return None
    style = (
        f"{opening[0]}…{closing[-1]}"
        if len(set(opening)) == 1 and opening[0] not in _MIRROR
        else f"{opening}…{closing}"
    )
    nested = frame_of(inner) if opening[0] in "#*;/!-=" else None
    if nested is not None:
        return f"{style}{nested[0]}", nested[1]
    if not any(char.isalnum() for char in inner):
        return None
    return style, inner


def _bare(marks: Marks, number: int) -> str:
    """A line without a trailing remark."""
    text = marks.text(number).strip()
    for mark in marks.remark_marks:
        text = text.partition(f" {mark}")[0].rstrip()
    return text


def _unmirror(char: str) -> str:
    return {value: key for key, value in _MIRROR.items()}.get(char, char)


def mark_framed(marks: Marks) -> None:
    """Mark lines in a frame as headers, unless most lines are framed."""
    found = [(number, frame) for number in marks.open() if (frame := frame_of(_bare(marks, number)))]
    total = len(marks.open())
    by_style = Counter(frame[0] for _, frame in found)
    for number, (style, inner) in found:
        text = marks.text(number).strip()
        if by_style[style] > 0.5 * total and ("=" in inner or ":" in inner or total == by_style[style]):
            continue
        if style[0] in "#;/!%" or text.startswith(("/*", "<!--")):
            continue
        if style[0] in "({" and by_style[style] == 1 and total > 1 and style[0] == "(":
            continue
        marks.kinds[number] = PieceKind.BANK
        marks.headers[number] = Header(inner, style, marks.indent(number))


def mark_remarks(marks: Marks) -> None:
    """Find the marks that begin whole-line remarks, and mark those lines."""
    chosen: list[str] = []
    opened = marks.open()
    total = len(opened)
    firsts = {mark[0] for mark in REMARKS}
    heads: dict[str, list[int]] = {}
    for number in opened:
        first = marks.lines[number].text.lstrip()[:1]
        if first in firsts:
            heads.setdefault(first, []).append(number)
    for mark in REMARKS:
        bucket = [n for n in heads.get(mark[0], ()) if marks.kinds[n] is None]
        group = [n for n in bucket if _begins(marks.text(n).lstrip(), mark)]
        if not group:
            continue
        rest = total - len(group)
        if _are_settings(marks, group, mark, rest):
            continue
        chosen.append(mark.strip())
        total -= len(group)
        for number in group:
            marks.kinds[number] = PieceKind.COMMENT
    if "/*" in chosen:
        _block_remarks(marks)
    marks.remark_marks = tuple(chosen)


def _begins(text: str, mark: str) -> bool:
    if not text.startswith(mark):
        return False
    if mark[0].isalpha():  # a setting may be called so: a remark has more than one word behind it
        return len(text.split()) > 2
    if mark in ("'", "*", "--", "!", "%", "//"):
        after = text[len(mark) :]
        return not after or after[0] in " \t*-=!/" or (mark == "//")
    return True


def _block_remarks(marks: Marks) -> None:
    inside = False
    for number, kind in enumerate(marks.kinds):
        text = marks.text(number)
        if kind is PieceKind.COMMENT and text.lstrip().startswith("/*"):
            inside = "*/" not in text
        elif inside:
            if kind is None:
                marks.kinds[number] = PieceKind.COMMENT
            inside = "*/" not in text


def _are_settings(marks: Marks, group: list[int], mark: str, rest: int) -> bool:
    """Whether lines behind a mark are the listing itself: (nearly) all have it and read as settings."""
    if len(group) < 2 or rest > 0.25 * len(group):
        return False
    bodies = [marks.text(number).lstrip()[len(mark) :].strip() for number in group]
    bodies = [body for body in bodies if body]
    learned = learn(bodies, [0] * len(bodies))
    return learned is not None and learned.coverage >= 0.95 and learned.score >= 1.0


def mark_prompts(marks: Marks) -> None:
    """Mark prompt lines as noise, or take the prompt off where the settings stand behind it."""
    by_prompt: dict[str, list[tuple[int, str]]] = {}
    for number in marks.open():
        text = marks.text(number)
        found = _PROMPT.match(text) if len(text) < 400 else None
        if found is not None and not _no_prompt(found.group(1)):
            by_prompt.setdefault(found.group(1), []).append((number, found.group(2) or ""))
    opened = marks.open()
    for prompt, uses in by_prompt.items():
        edges = {uses[0][0], uses[-1][0]} & {opened[0], opened[-1]}
        if len(uses) < 2 and not edges:
            continue
        if len(uses) < 2 and prompt[0] not in ">$#" and not re.search(r"[\w\])~][>#$%]$", prompt):
            continue
        others = [n for n in opened if n not in {number for number, _ in uses}]
        _settle_prompt(marks, uses, others)


def _no_prompt(prompt: str) -> bool:
    bare = prompt.strip()
    return (
        bare in ("#", "%", "->", "=>", "-->") or bare[:-1].isdecimal() or (bare[0] == "<" and bare[-1] == ">")
    )


def _settle_prompt(marks: Marks, uses: list[tuple[int, str]], others: list[int]) -> None:
    if _asked(marks, uses, others):
        return
    bodies = [body for _, body in uses if body]
    replies = [marks.text(number).strip() for number in others]
    distinct = len(set(replies))
    inside = False
    if len(bodies) >= 3 and len(set(bodies)) >= 0.5 * len(bodies):
        learned = learn(bodies, [0] * len(bodies))
        outer = learn(replies, [0] * len(replies)) if replies else None
        weak = (
            len(replies) < 0.5 * len(bodies)
            or outer is None
            or outer.coverage < 0.5
            or distinct < 0.3 * len(bodies)
        )
        inside = learned is not None and learned.coverage >= 0.8 and weak
    for number, body in uses:
        if inside and body:
            line = marks.lines[number]
            line.text, line.noisy = body, True
        else:
            marks.kinds[number] = PieceKind.NOISE
            if body:
                marks.commands[number] = body
    if inside:
        counts = Counter(replies)
        for number in others:
            if counts[marks.text(number).strip()] >= 3:
                marks.kinds[number] = PieceKind.NOISE


def _asked(marks: Marks, uses: list[tuple[int, str]], others: list[int]) -> bool:
    """Take question and answer together where names stand behind the prompt and values in the reply."""
    commands = dict(uses)
    pairs = [(n - 1, n) for n in others if commands.get(n - 1)]
    asking = [number for number, body in uses if body]
    if len(pairs) < 3 or len(pairs) < 0.8 * len(asking) or len(pairs) < 0.8 * len(others):
        return False
    words = [commands[a].split() for a, _ in pairs]
    if (
        len({tuple(row[:-1]) for row in words}) != 1
        or len(words[0]) < 2
        or len({row[-1] for row in words}) < len(words)
    ):
        return False
    if any(row[-1] in marks.text(b) for row, (_, b) in zip(words, pairs, strict=True)):
        return False
    lead = marks.text(pairs[0][0])
    shape = QuestionShape(lead[: lead.rfind(words[0][-1])])
    marks.shapes.append(shape)
    for number, _ in uses:
        marks.kinds[number] = PieceKind.NOISE
    for question, answer in pairs:
        line = marks.lines[answer]
        joined = f"{marks.text(question).rstrip()}\n{line.text.strip()}"
        found = shape.match(joined)
        if found is not None:
            line.text = joined
            marks.found[answer], marks.shape_of[answer] = found, len(marks.shapes) - 1
            marks.kinds[answer] = PieceKind.SETTING
    return True


@dataclass(frozen=True)
class QuestionShape:
    """A prompt and a command that ends in the name; the line below holds nothing but the value."""

    lead: str

    def match(self, text: str) -> Found | None:
        """The parts of a question and its answer, joined by a line feed."""
        question, feed, answer = text.partition("\n")
        if not feed or not question.startswith(self.lead) or len(question) <= len(self.lead):
            return None
        name = (len(self.lead), len(question))
        start = len(question) + 1
        value = (start, start + len(answer))
        return Found(question[len(self.lead) :], None, answer, None, None, name, None, value, None)

    def pattern(self) -> str:
        """The template as a person may read it."""
        return f"{self.lead}{{name}}"

    def says(self) -> str:
        """What was learned, in one sentence."""
        return "the name is asked for behind a prompt; the value stands alone in the line below"


def mark_echo(marks: Marks) -> None:
    """Mark lines that ask for a setting whose answer is the next line."""
    opened = marks.open()
    pairs = []
    for one, two in itertools.pairwise(opened):
        head, _, asked = marks.text(one)[:500].strip().partition(" ")
        answer = marks.text(two).lstrip()
        if not asked or asked[0] != answer[:1]:
            continue
        asked = " ".join(asked.split())
        rest = answer[len(asked) :]
        few = asked.count(" ") <= 3
        if few and answer.startswith(asked) and rest and not re.match(r"[\w.\-]", rest):
            pairs.append((one, head))
    if len(pairs) >= max(2, 0.35 * len(opened)) and len({word for _, word in pairs}) == 1:
        for number, _ in pairs:
            marks.kinds[number] = PieceKind.NOISE


def mark_acknowledgements(marks: Marks) -> None:
    """Mark a line that comes again after (nearly) every setting, always the same: ``ok``."""
    opened = marks.open()
    words = (marks.lines[number].text.strip() for number in opened)
    counts = Counter(word for word in words if " " not in word and "=" not in word)
    for text, count in counts.items():
        if count >= 3 and count >= 0.3 * len(opened):
            for number in opened:
                if marks.text(number).strip() == text:
                    marks.kinds[number] = PieceKind.NOISE
