"""Section headers and bank selectors among the lines, and which bank each setting stands in."""

from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict

from asflown.core.listing import PieceKind
from asflown.formats.listing.cutting import WORD, labels
from asflown.formats.listing.marks import Header, Marks
from asflown.formats.listing.roles import is_title_row
from asflown.formats.listing.surroundings import frame_of
from asflown.formats.listing.table import is_ruler
from asflown.formats.listing.words import are_choices, cuts_alike, opening_selectors

#: Signs in front of a selector that are no part of what it selects.
_SIGNS = "!@$%&*+~^/\\.>"
ACTIVE = re.compile(r"\b(active|current|selected|in use|using|now)\b", re.IGNORECASE)


def sections(marks: Marks) -> list[int]:
    """A section number for every line, from headers known so far and from indentation."""
    number = 0
    found: list[int] = []
    before = None
    for place in range(len(marks.lines)):
        if place in marks.headers or place in marks.closers:
            number += 1
        if marks.kinds[place] is None:
            indent = marks.indent(place)
            later = marks.next_of_interest(place)
            if before is not None and indent < before and later is not None and marks.indent(later) > indent:
                number += 1
            before = indent
        found.append(number)
    return found


def mark_braces(marks: Marks) -> None:
    """Mark ``word {`` lines and the brackets that close them."""
    for number in marks.open():
        text = marks.text(number).strip()
        if len(text) < 200 and text.endswith("{") and len(text) > 1:
            inner = text[:-1].strip().rstrip("=:").strip()
            marks.kinds[number] = PieceKind.BANK
            marks.headers[number] = Header(_bare(inner), "{", marks.indent(number))


def _bare(text: str) -> str:
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1]
    return text


def aligned_right(marks: Marks, numbers: list[int]) -> bool:
    """Whether names end in one column: white space before them is alignment then."""
    ends = Counter(marks.found[n].name_at[1] for n in numbers if n in marks.found)
    starts = Counter(marks.found[n].name_at[0] for n in numbers if n in marks.found)
    total = sum(ends.values())
    return (
        total >= 4 and ends.most_common(1)[0][1] >= 0.9 * total and starts.most_common(1)[0][1] < 0.9 * total
    )


def mark_blocks(marks: Marks) -> None:
    """Mark lines that open a block of deeper-indented lines."""
    settings = sorted(marks.found)
    if not settings or aligned_right(marks, settings):
        return
    if len({marks.indent(n) for n in settings}) > 6:
        return
    for number in [*settings, *marks.open()]:
        later = marks.next_of_interest(number)
        if later is None or number in marks.headers or marks.kinds[later] not in (None, PieceKind.SETTING):
            continue
        if marks.indent(later) <= marks.indent(number):
            continue
        header = _block_header(marks, number, later)
        if header is not None:
            marks.found.pop(number, None)
            marks.shape_of.pop(number, None)
            marks.kinds[number] = PieceKind.BANK
            marks.headers[number] = header


def _block_header(marks: Marks, number: int, later: int) -> Header | None:
    text = marks.text(number).strip()
    found = marks.found.get(number)
    if found is not None:
        separator = getattr(marks.shapes[marks.shape_of[number]], "separator", None)
        blank = separator is not None and separator.blank
        if not blank and (found.value or text[-1] not in ":="):
            return None
        if blank and (len(text[:500].split()) > 4 or "  " in text):
            return None
        if later not in marks.found and not _opens(marks, later):
            return None
    elif len(text) > 100 or (later not in marks.found and not _opens(marks, later)):
        return None
    label = text.rstrip(":{ =").strip() if text[-1:] in ":{=" else text
    return Header(_bare(label), "indent", marks.indent(number), block=True)


def _opens(marks: Marks, number: int) -> bool:
    """Whether a line that is no setting opens a deeper block itself."""
    later = marks.next_of_interest(number)
    return later is not None and marks.indent(later) > marks.indent(number)


def mark_underlined(marks: Marks) -> None:
    """Mark lines with a rule of their own length below as headers."""
    for number in marks.open():
        text = marks.text(number).strip()
        under = number + 1
        while under < len(marks.lines) and marks.kinds[under] is PieceKind.NOISE:
            under += 1
        below = marks.text(under).strip() if under < len(marks.lines) else ""
        if not any(char.isalnum() for char in text) or len(below) < 2:
            continue
        if len(set(below)) != 1 or not is_ruler(below) or abs(len(below) - len(text)) > 2 or len(text) > 60:
            continue
        if is_title_row(text.lower().split(), (), strict=True) or "|" in text or "\t" in text:
            continue
        marks.kinds[number] = PieceKind.BANK
        marks.headers[number] = Header(text.rstrip(": "), "underlined", marks.indent(number))


def mark_titles(marks: Marks) -> None:
    """Mark underlined titles, and titles that end in a colon, as headers."""
    opened = marks.open()
    colons = [
        n for n in opened if marks.text(n).rstrip().endswith(":") and len(marks.text(n)[:500].split()) <= 4
    ]
    colons = [n for n in colons if (later := marks.next_of_interest(n)) is not None and later in marks.found]
    for number in opened:
        text = marks.text(number).strip()
        below = (
            number + 1 < len(marks.lines)
            and is_ruler(marks.text(number + 1))
            and bool(marks.text(number + 1).strip())
        )
        if below and len(text) < 80 and len(set(marks.text(number + 1).strip())) == 1:
            marks.kinds[number] = PieceKind.BANK
            marks.headers[number] = Header(text.rstrip(": "), "underlined", marks.indent(number))
        elif number in colons and (len(colons) > 1 or any(n < number for n in marks.found)):
            marks.kinds[number] = PieceKind.BANK
            marks.headers[number] = Header(text.rstrip(": "), "colon", marks.indent(number))
    _paragraph_titles(marks)


def _paragraph_titles(marks: Marks) -> None:
    """Mark short lines behind a blank line and before settings, where there are several such."""
    titles = []
    for number in marks.open():
        text = marks.text(number).strip()
        behind = number == 0 or marks.kinds[number - 1] in (PieceKind.BLANK, PieceKind.STRUCTURE)
        later = number + 1
        before = later < len(marks.lines) and (later in marks.found or marks.kinds[later] is PieceKind.HEADER)
        if behind and before and len(text) < 80 and len(text.split()) <= 3 and text[-1:] not in ".!?,":
            titles.append(number)
    if len(titles) >= 2:
        for number in titles:
            marks.kinds[number] = PieceKind.BANK
            marks.headers[number] = Header(
                marks.text(number).strip().rstrip(": "), "title", marks.indent(number)
            )


def mark_selectors(marks: Marks) -> None:
    """Mark ``word choice`` lines that select the bank for the settings after them."""
    _open_selectors(marks)
    _remark_banks(marks)
    _setting_selectors(marks)


def mark_opening_selectors(marks: Marks) -> None:
    """Mark selectors that show before the template is known: ``profile 1`` … ``profile 2`` …."""
    texts = [marks.text(n)[:400].strip() if kind is None else "" for n, kind in enumerate(marks.kinds)]
    least = min((marks.indent(n) for n in marks.open()), default=0)
    known = [n for n, kind in enumerate(marks.kinds) if n in marks.headers]
    for numbers in opening_selectors(texts):
        if any(marks.indent(n) > least for n in numbers):
            continue
        led = sum(_led(marks, n) for n in numbers)
        parted = sum(any(a < k < b for k in known) for a, b in itertools.pairwise(numbers))
        if led >= 0.6 * len(numbers) or parted:
            continue
        if any(marks.is_prompt(n) for n in numbers):
            continue
        rows = [WORD.findall(texts[n]) for n in numbers]
        plain = all(" ".join(row) == " ".join(texts[n].split()) for row, n in zip(rows, numbers, strict=True))
        for number, label in zip(numbers, labels(rows), strict=True):
            words = texts[number].split() if plain and len(rows[0]) <= 3 else label.split(" ")
            _selector(marks, number, words, "select " + " ".join(words[:-1]))
        return


def _led(marks: Marks, number: int) -> bool:
    """Whether a remark or a header stands right before a line."""
    for before in range(number - 1, max(-1, number - 3), -1):
        kind = marks.kinds[before]
        if kind is PieceKind.COMMENT or before in marks.headers:
            return True
        if kind is not PieceKind.BLANK:
            return False
    return False


def _selector(marks: Marks, number: int, words: list[str], style: str) -> None:
    prefix = _prefix(marks)
    if prefix and tuple(words[: len(prefix)]) == prefix and len(words) - len(prefix) >= 2:
        words = words[len(prefix) :]
    words = words[-2:] if len(words) == 3 else words
    words = [words[0].lstrip(_SIGNS) or words[0], *words[1:]]
    marks.found.pop(number, None)
    marks.shape_of.pop(number, None)
    marks.kinds[number] = PieceKind.BANK
    marks.headers[number] = Header(
        " ".join(words), style, marks.indent(number), word=" ".join(words[:-1]), choice=words[-1]
    )


def _prefix(marks: Marks) -> tuple[str, ...]:
    return tuple(getattr(marks.shapes[0], "prefix", ())) if marks.shapes else ()


def _open_selectors(marks: Marks) -> None:
    groups: dict[tuple[str, ...], list[tuple[int, list[str]]]] = defaultdict(list)
    for number in marks.open():
        text = marks.text(number)[:200].strip().strip("*-=<>#").rstrip(":;{").strip()
        words = [word for word in re.split(r"[\s=:]+", text) if word]
        if 2 <= len(words) <= 3 and len(text) < 80:
            groups[tuple(words[:-1])].append((number, words))
    settings = sorted(marks.found)
    for head, uses in groups.items():
        picks = {words[-1] for _, words in uses}
        several = len(picks) >= 2 and all(_follows(settings, n) for n, _ in uses[:1])
        bare = all(not re.search(r"[=:]", marks.text(n)) for n, _ in uses)
        numbered = bare and all(pick.strip("()#").isdecimal() for pick in picks) and len(head) <= 2
        lone = numbered and not several and len(uses) == 1
        if lone and _follows(settings, uses[0][0]) and (marks.headers or _like_a_setting(marks, head)):
            continue  # among sections of another form, or a row that lost a column: left for a person
        if several or numbered:
            for number, words in uses:
                _selector(marks, number, words, "select " + " ".join(head))


def _like_a_setting(marks: Marks, head: tuple[str, ...]) -> bool:
    """Whether a word looks like a setting of this listing: joined like their names, or begun like them."""
    names: list[str] = [marks.found[number].name for number in marks.found]
    joins = {sign for name in names for sign in re.findall(r"[^\w\s]|_", name)}
    word = head[-1]
    if any(sign in word for sign in joins):
        return True
    first = re.split(r"[^A-Za-z0-9]", word)[0].lower()
    begun = sum(re.split(r"[^A-Za-z0-9]", name)[0].lower() == first for name in names)
    return bool(begun >= 2)


def _follows(settings: list[int], number: int) -> bool:
    return bool(settings) and settings[-1] > number


def _setting_selectors(marks: Marks) -> None:
    """Mark settings that come again with other values and cut the listing into like stretches."""
    for _ in range(4):
        order = sorted([*marks.found, *marks.headers])
        heads = [_key(marks, n) if n in marks.found else "\0" + marks.headers[n].text for n in order]
        places: dict[str, list[int]] = defaultdict(list)
        for spot, head in enumerate(heads):
            places[head].append(spot)
        chosen = None
        for head, spots in places.items():
            if head.startswith("\0") or len(spots) < 2:
                continue
            founds = [marks.found[order[spot]] for spot in spots]
            picks = [found.value for found in founds]
            plain = all(re.fullmatch(r"[\w.\-]{1,24}", pick) for pick in picks)
            if not plain or len(set(picks)) < 2 or not are_choices(picks, founds[0].name) or founds[0].index:
                continue
            if not _explains(heads, spots):
                continue
            chosen = (head, [order[spot] for spot in spots])
            break
        if chosen is None:
            return
        for number in chosen[1]:
            found = marks.found[number]
            name = found.name.lstrip(_SIGNS) or found.name
            marks.headers[number] = Header(
                f"{name} {found.value}", "select " + name, marks.indent(number), False, name, found.value
            )
            marks.kinds[number] = PieceKind.BANK
            marks.found.pop(number)
            marks.shape_of.pop(number, None)


def _key(marks: Marks, number: int) -> str:
    found = marks.found[number]
    name = found.name if found.index is None else f"{found.name}[{found.index}]"
    return name if found.bank is None else f"{found.bank}/{name}"


def _explains(heads: list[str], spots: list[int]) -> bool:
    """Whether repeats vanish once each stretch is a bank, and no header already explains them."""
    last = len(heads) - 1
    bounds = [*spots, last + 1]
    stretches = [heads[a + 1 : b] for a, b in itertools.pairwise(bounds)]
    stretches = [[h for h in stretch if not h.startswith("\0")] for stretch in stretches]
    if not cuts_alike(heads, spots) or sum(bool(stretch) for stretch in stretches) < 2:
        return False
    if any(heads[s + 1 : s + 2] and heads[s + 1].startswith("\0") for s in spots[:-1]):
        return False
    within = 0
    section: set[str] = set()
    for head in heads:
        if head.startswith("\0"):
            section = set()
        elif head in section:
            within += 1
        section.add(head)
    inner = sum(len(stretch) - len(set(stretch)) for stretch in stretches)
    return within > len(spots) - 1 and inner < 0.34 * (within - len(spots) + 1) + 1


def _remark_banks(marks: Marks) -> None:
    """Remarks alike but for a word are headers where names would repeat without them."""
    keys = Counter((_key(marks, n)) for n in marks.found)
    if marks.headers or not keys or max(keys.values()) < 2:
        return
    groups: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for number, kind in enumerate(marks.kinds):
        if kind is not PieceKind.COMMENT:
            continue
        text = marks.text(number).strip()
        frame = frame_of(text)
        inner = frame[1] if frame else text.lstrip("#;/!%-* \t").rstrip("#;/!%-* \t:")
        words = inner.split()
        if 1 <= len(words) <= 3:
            style = f"remark {frame[0]}" if frame else "remark " + " ".join(words[:-1])
            groups[style].append((number, inner))
    for style, uses in groups.items():
        bounds = [*(n for n, _ in uses), len(marks.lines)]
        seen = set()
        for a, b in itertools.pairwise(bounds):
            seen |= {(a, _key(marks, n)) for n in marks.found if a < n < b}
        if len(uses) >= 2 and len(seen) >= 0.98 * len(marks.found):
            for number, inner in uses:
                marks.kinds[number] = PieceKind.BANK
                marks.headers[number] = Header(inner, style, marks.indent(number))
            return


def active_statement(text: str, headers: list[Header]) -> tuple[str, str] | None:
    """The selector word and choice a line states to be active, ``None`` where it states nothing."""
    if not ACTIVE.search(text) or len(text) > 120:
        return None
    words = re.findall(r"[\w.\-]+", text)
    for header in headers:
        word, _, choice = header.text.rpartition(" ")
        if header.word is not None and header.choice is not None:
            word, choice = header.word, header.choice
        if word and word.lower() in [w.lower() for w in words] and choice == words[-1]:
            return word, choice
    return None
