"""The order in which a listing is understood: what tells itself first, what needs evidence last."""

from __future__ import annotations

import re
from collections import Counter

from asflown.core.listing import PieceKind
from asflown.formats.listing.attributes import ElementShape, learn_attributes
from asflown.formats.listing.banks import (
    mark_blocks,
    mark_braces,
    mark_opening_selectors,
    mark_selectors,
    mark_titles,
    mark_underlined,
    sections,
)
from asflown.formats.listing.cutting import mark_cuts
from asflown.formats.listing.describing import mark_described, mark_wrapped
from asflown.formats.listing.learn import learn
from asflown.formats.listing.marks import Header, Marks
from asflown.formats.listing.shape import LineShape, SettingShape
from asflown.formats.listing.surroundings import (
    mark_acknowledgements,
    mark_echo,
    mark_framed,
    mark_plain,
    mark_prompts,
    mark_remarks,
)
from asflown.formats.listing.table import TableShape, is_ruler, learn_table

_KEEP_PROSE = 4


def understand(marks: Marks, pinned: tuple[SettingShape, ...] = ()) -> None:
    """Decide for every line what it is."""
    mark_plain(marks)
    _mark_records(marks)
    _carried_on(marks)
    if pinned:
        for shape in pinned:
            _apply(marks, shape)
    mark_underlined(marks)
    mark_framed(marks)
    mark_remarks(marks)
    mark_framed(marks)
    mark_opening_selectors(marks)
    mark_prompts(marks)
    if not pinned:
        mark_echo(marks)
        mark_acknowledgements(marks)
    mark_braces(marks)
    if not pinned:
        mark_wrapped(marks)
        _learn_main(marks)
        _learn_split(marks)
        mark_described(marks)
        _drop_prose(marks)
    mark_blocks(marks)
    mark_cuts(marks)
    mark_selectors(marks)
    mark_titles(marks)
    if not pinned:
        _learn_rest(marks)
    mark_cuts(marks)
    _continuations(marks)
    _fixed(marks)
    for number in marks.open():
        marks.kinds[number] = PieceKind.NOT_UNDERSTOOD


def _mark_records(marks: Marks) -> None:
    """The first pair of a record names the bank of the pairs behind it."""
    for number in marks.records:
        text = marks.text(number).partition("=")[2]
        bare = text[1:-1] if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'" else text
        marks.kinds[number] = PieceKind.BANK
        marks.headers[number] = Header(bare, "record", marks.indent(number))


def _carried_on(marks: Marks) -> None:
    """Mark deeper-indented lines behind a backslash: they carry the line above on."""
    owner: int | None = None
    for number in range(1, len(marks.lines)):
        above = number - 1
        if marks.kinds[number] is None and marks.text(above).endswith("\\"):
            owner = above if owner is None else owner
            head = marks.text(owner).lstrip()
            if marks.indent(number) > marks.indent(owner) and head[:1] not in "#;!/":
                marks.continues[number] = owner
                marks.kinds[number] = PieceKind.SETTING
                continue
        owner = None


def _apply(marks: Marks, shape: SettingShape) -> int:
    place = len(marks.shapes)
    hits = 0
    for number in marks.open():
        text = marks.text(number)
        if isinstance(shape, TableShape) and not shape.delimiter and "\t" in text:
            text = marks.lines[number].text = text.expandtabs(8)
        found = shape.match(text)
        if found is not None:
            marks.found[number] = found
            marks.shape_of[number] = place
            marks.kinds[number] = PieceKind.SETTING
            if isinstance(shape, TableShape) and shape.bank_columns:
                marks.more[number] = shape.matches(text)[1:]
            hits += 1
        elif isinstance(shape, TableShape):
            cells = shape.cells(text)
            if cells is not None and shape.is_titles(text, cells):
                marks.kinds[number] = PieceKind.HEADER
    if hits:
        marks.shapes.append(shape)
    return hits


def _learn_main(marks: Marks) -> None:
    opened = [
        n
        for n, kind in enumerate(marks.kinds)
        if kind is None or (kind is PieceKind.STRUCTURE and is_ruler(marks.text(n)))
    ]
    table = learn_table([marks.text(number) for number in opened])
    if table is not None:
        _apply(marks, table)
        _drop_wordy_rows(marks)
        return
    opened = marks.open()
    named = learn_attributes([marks.text(n) for n in opened])
    if named is not None:
        _apply(marks, named)
        if isinstance(named, ElementShape) or named.escaped:
            _mark_tags(marks, rooted=isinstance(named, ElementShape))
        return
    where = sections(marks)
    learned = learn([marks.text(n) for n in opened], [where[n] for n in opened], marks.remark_marks)
    if learned is None or learned.score < 0.45:
        return
    _apply(marks, _lone(learned.shape, marks))


def _learn_split(marks: Marks) -> None:
    """A second template at once for statements that stood on one line with others."""
    if not marks.split or not marks.found:
        return
    for number in marks.open():
        words = marks.text(number).split()
        if len(words) > 2 and any(re.fullmatch(r"-[A-Za-z]\w*", word) for word in words):
            marks.kinds[number] = PieceKind.NOT_UNDERSTOOD  # a row of switches
    opened = marks.open()
    if not opened:
        return
    learned = learn([marks.text(n) for n in opened], [0] * len(opened), marks.remark_marks)
    if learned is not None and learned.coverage >= 0.8:
        _apply(marks, learned.shape)


def _mark_tags(marks: Marks, *, rooted: bool) -> None:
    """Opening tags around elements are headers; declarations, and a root without a name, are fixed."""
    for number, kind in enumerate(marks.kinds):
        text = marks.text(number).strip()
        if text.startswith(("<?", "<!")) and text.endswith(">"):
            marks.kinds[number] = PieceKind.FIXED if not text.startswith("<!--") else PieceKind.COMMENT
            marks.headers.pop(number, None)
        elif (opening := re.fullmatch(r"<([A-Za-z_][\w.\-:]*)(\s[^<>]*[^/<>])?>", text)) and (
            kind in (None, PieceKind.BANK)
        ):
            label = re.search(r"\b(?:name|id|key)\s*=\s*[\"']([^\"']*)[\"']", opening.group(2) or "")
            marks.kinds[number] = PieceKind.BANK
            bank = label.group(1) if label else opening.group(1)
            marks.headers[number] = Header(bank, "{", marks.indent(number))
            if not rooted and label is None and all(number < n for n in marks.found):
                _fix_root(marks, number, f"</{bank}>")


def _fix_root(marks: Marks, number: int, closing: str) -> None:
    """A tag around everything belongs to the form, as its closing tag does."""
    last = max(marks.closers, default=-1)
    if last > max(marks.found) and marks.text(last).strip() == closing:
        marks.kinds[number] = marks.kinds[last] = PieceKind.FIXED
        marks.closers.discard(last)
        del marks.headers[number]


def _lone(shape: LineShape, marks: Marks) -> LineShape:
    """Let names stand without a value where such lines stand among the settings and look like names."""
    if not shape.separator.blank or shape.prefix or shape.skip or shape.trailing or shape.skip_after:
        return shape
    from dataclasses import replace

    opened = marks.open()
    matched = [n for n in opened if shape.match(marks.text(n)) is not None]
    single = [n for n in opened if len(marks.text(n)[:500].split()) == 1]
    if not matched or not single or len(single) > len(matched):
        return shape
    counts = Counter(marks.text(n).strip() for n in single)
    if max(counts.values()) > 1 or not all(matched[0] < n < matched[-1] for n in single):
        return shape
    joined = [n for n in single if re.search(r"\w[_.\-]\w", marks.text(n))]
    styled = [n for n in matched if re.match(r"\s*\w+[_.\-]\w", marks.text(n))]
    if len(joined) == len(single) and len(styled) >= 0.5 * len(matched):
        return replace(shape, lone_names=True)
    return shape


def _drop_wordy_rows(marks: Marks) -> None:
    """Rows whose name has blanks while (nearly) all others have none are no rows."""
    wordy = [n for n, found in marks.found.items() if " " in found.name]
    if wordy and len(wordy) <= 0.05 * len(marks.found):
        for number in wordy:
            _reopen(marks, number)


def _reopen(marks: Marks, number: int) -> None:
    marks.found.pop(number, None)
    marks.shape_of.pop(number, None)
    marks.kinds[number] = None


def _drop_prose(marks: Marks) -> None:
    """Lines before the first and behind the last plain setting that read as sentences are no settings."""
    numbers = sorted(marks.found)
    if len(numbers) < 4 or not marks.shapes or not isinstance(marks.shapes[0], LineShape):
        return
    shape = marks.shapes[0]
    if not shape.separator.blank or shape.prefix:
        return
    wordy = {n for n in numbers if _is_prose(marks, n)}
    if not wordy or len(wordy) > 0.34 * len(numbers):
        return
    for order in (numbers, numbers[::-1]):
        for number in order:
            if number not in wordy:
                break
            if number in marks.found:
                _reopen(marks, number)


def _is_prose(marks: Marks, number: int) -> bool:
    found = marks.found.get(number)
    if found is not None and re.match(r"\s*\S+(?:[ ]{2,}|\t)", marks.text(number)):
        return False
    text = marks.text(number).strip() if found is None else f"{found.name} {found.value}".strip()
    words = text[:1000].split()
    if len(words) < 3:
        return text[-1:] in ".!:" and len(words) == 2 and words[0][0].isupper()
    plain = sum(bool(re.fullmatch(r"[A-Za-z]+[.,:;!]?", word)) for word in words)
    if text[-1] in ".!:" and plain >= 0.5 * len(words):
        return True
    return plain >= _KEEP_PROSE and plain >= 0.7 * len(words)


def _learn_rest(marks: Marks) -> None:
    """A second template for lines the first one leaves over, where they are many and plain."""
    for _ in range(3):
        opened = marks.open()
        if len(opened) < 3 or not marks.found:
            return
        where = sections(marks)
        learned = learn([marks.text(n) for n in opened], [where[n] for n in opened], marks.remark_marks)
        if learned is None:
            return
        least = 0.95 if learned.shape.separator.blank and not learned.shape.prefix else 0.85
        if learned.coverage < 0.5 or learned.score < least or learned.coverage * len(opened) < 3:
            return
        if learned.shape.separator.blank and (
            learned.coverage < 0.9 or any(_is_prose(marks, n) for n in opened)
        ):
            return
        if not _apply(marks, learned.shape):
            return


def _continuations(marks: Marks) -> None:
    """Deeper-indented lines behind a setting carry its value on."""
    for number, owner in list(marks.continues.items()):
        if owner not in marks.found:
            marks.kinds[number] = None
            del marks.continues[number]
    settings = sorted(marks.found)
    if not settings:
        return
    usual = Counter(marks.indent(n) for n in settings).most_common(1)[0][0]
    last: int | None = None
    for number, kind in enumerate(marks.kinds):
        if number in marks.continues:
            continue
        if kind is PieceKind.SETTING:
            last = number
        elif kind in (PieceKind.BLANK, PieceKind.BANK):
            last = None
        elif kind is None and last is not None and marks.indent(number) > max(usual, marks.indent(last)):
            head = marks.text(last).rstrip()
            value = marks.found[last].value
            if not value or head[-1:] in "\\,[{(" or last in marks.continues.values():
                marks.continues[number] = last
                marks.kinds[number] = PieceKind.SETTING


def _fixed(marks: Marks) -> None:
    """Single words around the settings, and those that close each bank, belong to the listing's form."""
    if not marks.found:
        return
    first = min([*marks.found, *marks.headers])
    last = max([*marks.found, *marks.headers])
    counts = Counter(marks.text(n).strip() for n in marks.open())
    for number in marks.open():
        text = marks.text(number).strip()
        word = re.fullmatch(r"[\w\-.:/]{1,32}[;.!]?", text) is not None and not text.rstrip(";.!").isdecimal()
        outside = number < first or number > last
        cut = number == len(marks.lines) - 1 and not _ends_line(marks)
        if word and outside and not cut and text.rstrip(";.!").isalpha():
            marks.kinds[number] = PieceKind.FIXED
        elif word and len(marks.headers) and (counts[text] >= 2 or len(marks.headers) == 1):
            marks.kinds[number] = PieceKind.FIXED
            marks.closers.add(number)
    total = len(marks.found)
    for number in marks.open():
        numbers = re.findall(r"\d+", marks.text(number)[:500])
        outside = number < first or number > last
        if outside and numbers == [str(total)] and len(marks.text(number)[:500].split()) <= 4:
            marks.kinds[number] = PieceKind.COMMENT


def _ends_line(marks: Marks) -> bool:
    return marks.ends_with_break
