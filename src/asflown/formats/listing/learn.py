"""Learning the template of setting lines from the lines themselves.

Every separator the lines offer is tried; each gives a template, and each template is judged by how many lines
it explains, how well the names tell the lines apart and how plain the names are.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from asflown.formats.listing.following import learn_following
from asflown.formats.listing.shape import BLANKS, LineShape, Separator
from asflown.formats.listing.values import QUOTES, ValueRules, close_quote
from asflown.formats.listing.words import learn_statement

SAMPLE = 3000
#: Runs that may stand directly at a name; any other punctuation must stand between blanks.
_ATTACHED = re.compile(r"[=:<>~|,;→←⇒⟶≔^]{1,4}")
_STANDALONE = re.compile(r"(?<=[ \t])[^\w\s\"'`“”«»()\[\]{}]{1,4}(?=[ \t]|$)")
_LEADER = re.compile(r"([.\-_·~])\1{2,}")
_CLOCK = re.compile(r".?\d:\d\d")
#: A word that is nothing but a separator: where lines hold one, blanks are none.
_MARK_WORD = re.compile(r"(?:[:=]|:=|==|[-=]>|\.{3,})$")
#: How likely a mark is a separator before anything is measured.
_PRIOR = {
    "=": 0.32,
    ":=": 0.34,
    "==": 0.33,
    "=>": 0.34,
    "->": 0.34,
    ":": 0.24,
    "\t": 0.2,
    "|": 0.12,
    ",": 0.08,
    ";": 0.08,
    "  ": 0.05,
    " ": 0.0,
}


@dataclass(frozen=True)
class Learned:
    """A template and how well it explains the lines it was learned from."""

    shape: LineShape
    score: float
    coverage: float


def learn(texts: Sequence[str], sections: Sequence[int], remark_marks: Sequence[str] = ()) -> Learned | None:
    """The best line template for these lines, ``None`` where none explains them.

    Parameters
    ----------
    texts
        Lines without remarks and noise.
    sections
        For each line the number of the section it stands in: a name may repeat in another section.
    remark_marks
        Marks that begin whole-line remarks in this listing.
    """
    if not texts:
        return None
    step = max(1, len(texts) // SAMPLE)
    size = len(texts) if step == 1 else SAMPLE
    start = range(0, len(texts), max(1, len(texts) // 12)) if step > 1 else (0,)
    chosen = [i for s in start for i in range(s, min(len(texts), s + size // max(1, len(start))))]
    sample = [texts[i][:4000] for i in chosen]
    where = [sections[i] for i in chosen]
    best: Learned | None = None
    for mark in _marks(sample):
        if mark in remark_marks:
            continue
        learned = _fit(mark, sample, where)
        if learned is not None and (best is None or learned.score > best.score + 1e-9):
            best = learned
    if best is None:
        return None
    shape = _with_values(best.shape, sample, remark_marks)
    return replace(best, shape=shape)


def _marks(sample: Sequence[str]) -> list[str]:
    counts: Counter[str] = Counter()
    for text in sample:
        counts.update(_marks_of(text))
    least = max(1, int(0.3 * len(sample)))
    marks = [mark for mark, count in counts.most_common(40) if count >= least]
    marks = [
        m
        for m in marks
        if not any(n != m and n.startswith(m) and counts[n] >= 0.5 * counts[m] for n in marks)
    ]
    return [*sorted(marks, key=len, reverse=True), "\t", "  ", " "]


def _marks_of(text: str) -> set[str]:
    body = text.lstrip()[:160]
    if body[:1] in QUOTES:
        closing = close_quote(body, 0)
        body = body[closing + 1 :] if closing > 0 else body
        body = " " + body
    found: set[str] = set()
    for match in _ATTACHED.finditer(body):
        if match.start() > 0:
            run = match.group()
            found.update(run[:k] for k in range(1, len(run) + 1) if k == 1 or run[k - 1] in "=>:")
    runs = (match.group() for match in _STANDALONE.finditer(body))
    found.update(run for run in runs if len(run) < 3 or len(set(run)) > 1)
    found.update(match.group(1) * 3 for match in _LEADER.finditer(body) if match.start() > 0)
    return found


def _fit(mark: str, sample: Sequence[str], sections: Sequence[int]) -> Learned | None:
    if mark == " ":
        return _fit_blank(sample, sections)
    separator = _separator(mark, sample)
    cut = [
        (separator.find(text, _past_quotes(text)), text, where)
        for text, where in zip(sample, sections, strict=True)
    ]
    rows = [
        (text[: at[0]].strip(), text[at[1] :].strip(), where) for at, text, where in cut if at is not None
    ]
    if mark in ("\t", "  "):
        rows = [row for row in rows if row[1]]
    if not rows or (len(rows) < 2 and len(sample) > 3):
        return None
    filled = [row for row in rows if row[1]]
    headed = [left.split() for left, right, _ in rows if right or len(filled) < 0.5 * len(rows)]
    prefix = _constant_words(headed, spare=1)
    rows = [row for row in rows if row[0].split()[: len(prefix)] == list(prefix)]
    lefts = [row[0].split()[len(prefix) :] for row in rows]
    skip = _skipped(lefts, [row[1] for row in rows])
    lefts = [words[skip:] for words in lefts]
    indexed = _index_words(lefts)
    single = [words for words in lefts if _is_single(words, indexed)]
    share = len(single) / len(lefts)
    keys = {(where, *words) for words, (_, _, where) in zip(lefts, rows, strict=True)}
    uniqueness = len(keys) / len(rows)
    coverage = len(rows) / len(sample)
    prior = _prior(mark, separator, rows, lefts)
    if mark == "  " and not _head_shared(rows) and _aligned_names(lefts, cut):
        prior += 0.5
    plain = share if mark.strip() == "" else 0.5 + 0.5 * share
    score = coverage * (0.35 + 0.35 * plain + 0.3 * uniqueness + prior)
    long_names = sum(len(words) > 5 for words in lefts) / len(lefts)
    score *= 1 - 0.7 * long_names
    shape = LineShape(
        separator, prefix=prefix, skip=skip, single=share >= 0.97 and len(rows) > 2, index_token=indexed
    )
    return Learned(shape, score, coverage)


def _prior(
    mark: str, separator: Separator, rows: Sequence[tuple[str, str, int]], lefts: Sequence[Sequence[str]]
) -> float:
    """How likely a mark is the separator, from what stands at both its sides."""
    prior = _PRIOR.get(mark, 0.25 if separator.leader or separator.before else 0.15)
    if separator.before and separator.after:
        prior = max(prior, 0.27)
    prior -= 0.4 * sum(_breaks_quote(row[0]) or row[0].endswith("..") for row in rows) / len(rows)
    if mark in ("  ", "\t") and _head_shared(rows):
        prior -= 0.3
    if mark in ("  ", "\t") and sum(row[0][-1:] in "=:" for row in rows) > 0.7 * len(rows):
        prior -= 0.6
    if sum(bool(row[1]) for row in rows) < 0.5 * len(rows):
        prior -= 0.5
    if mark == ":" and not separator.after:
        prior -= 0.12
        paths = sum(bool(re.match(r"[A-Za-z_][\w:]*\??[ \t]+\S", right)) for _, right, _ in rows)
        if paths >= 0.8 * len(rows) and len(rows) > 2:
            prior -= 0.4
    if not all(any(c.isalnum() for c in "".join(words)) for words in lefts):
        prior -= 0.3
    return prior


def _aligned_names(
    lefts: Sequence[Sequence[str]], cut: Sequence[tuple[tuple[int, int] | None, str, int]]
) -> bool:
    """Whether names of one and of several words stand in a column, with what follows in another."""
    widths = Counter(min(len(words), 3) for words in lefts)
    if len(widths) < 2 or min(widths.most_common(2)[1][1], len(lefts)) < 0.15 * len(lefts):
        return False
    if len({words[0] for words in lefts if words}) >= 0.95 * len(lefts):
        return False
    ends = Counter(len(text) - len(text[at[1] :].lstrip()) for at, text, _ in cut if at is not None)
    return ends.most_common(1)[0][1] >= 0.25 * len(lefts)


def _head_shared(rows: Sequence[tuple[str, str, int]]) -> bool:
    """Whether (nearly) all right sides begin with one and the same word: it belongs to the separator."""
    heads = Counter(_head(right) for _, right, _ in rows)
    word, count = heads.most_common(1)[0]
    share = 0.8 if word[:1].isalnum() else 0.5
    return count >= share * len(rows) and not word[:1].isdigit() and len({right for _, right, _ in rows}) > 1


def _head(right: str) -> str:
    """The first word of what follows, or the mark it begins with."""
    found = re.match(r"\s*([^\w\s\"'(\[<+\-./]+|\S+)", right)
    return found.group(1) if found else ""


def _breaks_quote(left: str) -> bool:
    """Whether a left side holds a quotation mark it did not begin with: the cut fell behind the value."""
    return any(mark in left[1:] for mark in QUOTES) and left[:1] not in QUOTES


def _past_quotes(text: str) -> int:
    lead = len(text) - len(text.lstrip())
    if text[lead : lead + 1] in QUOTES:
        closing = close_quote(text, lead)
        return closing if closing > 0 else lead
    return lead


def _separator(mark: str, sample: Sequence[str]) -> Separator:
    if mark in ("\t", "  "):
        return Separator(mark)
    plain = Separator(mark)
    if plain.leader:
        return plain
    spots = [(text, plain.find(text, _past_quotes(text))) for text in sample]
    hits = [(text, at) for text, at in spots if at is not None]
    if mark == ":":
        clock = [(text, at) for text, at in hits if _CLOCK.match(text, max(0, at[0] - 2))]
        hits = [hit for hit in hits if hit not in clock] if len(clock) < 0.4 * len(hits) else hits
    spaced = Separator(mark, before=True, after=True)
    if sum(spaced._find(text, _past_quotes(text), True, True) is not None for text, _ in hits) >= 0.95 * len(
        hits
    ):
        return spaced
    tight = Separator(mark, after=True)
    if sum(tight._find(text, _past_quotes(text), False, True) is not None for text, _ in hits) >= 0.95 * len(
        hits
    ):
        return tight
    return plain


def _is_single(words: Sequence[str], indexed: frozenset[str]) -> bool:
    if len(words) == 1 or (words and words[0][0] in QUOTES):
        return True
    return len(words) == 2 and words[0] in indexed and words[1].isdecimal()


def _constant_words(rows: Sequence[Sequence[str]], spare: int) -> tuple[str, ...]:
    """Leading words that (nearly) all rows share, leaving ``spare`` words over in each."""
    words: list[str] = []
    size = 0
    while len(rows) > 1:
        place = len(words)
        long = [row for row in rows if len(row) > place + spare]
        if len(long) < 0.9 * len(rows):
            break
        word, count = Counter(row[place] for row in long).most_common(1)[0]
        if count < 0.9 * len(rows) or word[0] in QUOTES or word.isdecimal():
            break
        words.append(word)
        rows = [row for row in long if row[place] == word]
        if len({row[place + 1] for row in rows}) >= 2:
            size = len(words)
    words = words[:size]
    if words and all(row[size].isdecimal() for row in rows if len(row) > size):
        words.pop()
    return tuple(words)


def value_class(text: str) -> str:
    """A coarse kind of a value's text, to see whether a column of words tells the type."""
    word = text.split()[0].rstrip(",;") if text.split() else ""
    if not word:
        return "empty"
    if word.lower() in ("true", "false", "on", "off", "yes", "no", "enabled", "disabled"):
        return "truth"
    if word.lstrip("+-").isdecimal():
        return "whole"
    if re.fullmatch(r"[-+]?\d*\.\d*(?:[eE][-+]?\d+)?", word):
        return "decimal"
    return "quoted" if word[0] in QUOTES else "text"


def _skipped(lefts: Sequence[Sequence[str]], rights: Sequence[str]) -> int:
    """Words before the name that are no part of it: a running number, or a type."""
    if len(lefts) < 3 or sum(len(words) >= 2 for words in lefts) < 0.97 * len(lefts):
        return 0
    if is_running([words[0] for words in lefts if len(words) >= 2]):
        return 1
    widths = Counter(len(words) for words in lefts)
    width, count = widths.most_common(1)[0]
    if width != 2 or count < 0.97 * len(lefts):
        return 0
    firsts = [words[0] for words in lefts if len(words) == 2]
    lasts = [words[1] for words in lefts if len(words) == 2]
    whole = {(a, b) for a, b in zip(firsts, lasts, strict=True)}
    if all(re.fullmatch(r"-{1,2}[A-Za-z]\w*", word) for word in firsts) and len(set(lasts)) == len(whole):
        return 1
    if len(set(lasts)) < len(whole) or any(word.isdecimal() for word in lasts):
        return 0
    return 1 if tells_type(firsts, rights) else 0


def tells_type(words: Sequence[str], values: Sequence[str]) -> bool:
    """Whether a column of words is a type: few kinds of words, each going with one kind of value."""
    kinds = set(words)
    if len(words) < 4 or len(kinds) > max(3, 0.35 * len(words)) or any(word.isdecimal() for word in kinds):
        return False
    if len(kinds) < 2:
        return False
    pairs: dict[str, Counter[str]] = {}
    for word, value in zip(words, values, strict=False):
        pairs.setdefault(word, Counter())[value_class(value)] += 1
    pure = sum(counts.most_common(1)[0][1] for counts in pairs.values()) / len(words)
    overall = Counter(value_class(value) for value in values).most_common(1)[0][1] / len(words)
    return pure >= 0.9 and (pure > overall + 0.1 or (len(words) >= 16 and len(kinds) * 8 <= len(words)))


def is_running(words: Sequence[str]) -> bool:
    """Whether these words count the lines: 1, 2, 3 …."""
    bare = [word.strip("[]().:#,") for word in words]
    if len(bare) < 3 or not all(re.fullmatch(r"\d{1,8}|0[xX][0-9A-Fa-f]{1,6}", word) for word in bare):
        return False
    numbers = [int(word, 16 if word[:2] in ("0x", "0X") else 10) for word in bare]
    steps = sum(b - a == 1 for a, b in itertools.pairwise(numbers))
    return steps >= 0.95 * (len(numbers) - 1)


def runs_up(words: Sequence[str]) -> bool:
    """Whether whole numbers fill a range from 0 or 1 without gap, in order."""
    if len(words) < 2 or not all(word.isdecimal() and len(word) < 7 for word in words):
        return False
    numbers = [int(word) for word in words]
    seen = list(dict.fromkeys(numbers))
    return min(seen) in (0, 1) and seen == list(range(min(seen), min(seen) + len(seen)))


def _index_words(lefts: Sequence[Sequence[str]]) -> frozenset[str]:
    groups: dict[str, list[str]] = {}
    for words in lefts:
        if len(words) == 2 and words[1].isdecimal():
            groups.setdefault(words[0], []).append(words[1])
    return frozenset(head for head, numbers in groups.items() if runs_up(numbers))


def _fit_blank(sample: Sequence[str], sections: Sequence[int]) -> Learned | None:
    rows = [text.split() for text in sample]
    long = [(row, where) for row, where in zip(rows, sections, strict=True) if len(row) >= 2]
    if not long:
        return None
    odd = sum(_MARK_WORD.match(row[1]) is not None for row, _ in long)
    few_marked = 0 < odd < 0.3 * len(long)
    if few_marked:
        long = [(row, where) for row, where in long if _MARK_WORD.match(row[1]) is None]
    wide = [row for row, _ in long if len(row) >= 3]
    prefix = _constant_words(wide if len(wide) >= 0.6 * len(long) else [row for row, _ in long], spare=2)
    if not prefix:
        prefix = _constant_words([row for row, _ in long], spare=1) if _mostly_longer(long) else ()
    kept = [(row[len(prefix) :], where) for row, where in long if row[: len(prefix)] == list(prefix)]
    kept = [(row, where) for row, where in kept if row]
    statement = learn_statement(
        [row for row, _ in kept], [where for _, where in kept], runs_up, tells_type, is_running
    )
    coverage = len(kept) / max(1, len(sample) - (odd if few_marked else 0))
    plain = sum(_plain_name(row[0]) for row, _ in kept) / max(1, len(kept))
    score = coverage * (0.35 + 0.35 * plain + 0.3 * statement.uniqueness)
    marked = sum(any(_MARK_WORD.match(word) for word in row[1:6]) for row, _ in kept) / max(1, len(kept))
    if marked >= 0.3:
        score *= 1 - 0.8 * marked
    shape = LineShape(
        Separator(" ", words=statement.words),
        prefix=prefix,
        skip=statement.skip,
        index_token=statement.indexed,
        extended=statement.extended,
        skip_after=statement.skip_after,
        trailing=statement.trailing,
        single=False,
        plain_values=few_marked,
    )
    return Learned(shape, score, coverage)


def _mostly_longer(rows: Sequence[tuple[list[str], int]]) -> bool:
    """Whether a first word shared by all rows is a command word: names and values follow it."""
    return sum(len(row) >= 3 for row, _ in rows) >= 0.9 * len(rows)


def _plain_name(word: str) -> bool:
    path = word[0] == ":" or word.count(":") >= 2 or (":" in word and word.isupper())
    if re.search(r"\w[=:][\w\"'+\-.]", word) and "::" not in word and (not path or "=" in word):
        return False
    return any(char.isalpha() for char in word) and word[-1] not in ".,!?:;" and word[0] not in "([{<"


def _with_values(shape: LineShape, sample: Sequence[str], remark_marks: Sequence[str]) -> LineShape:
    bare = replace(shape, values=ValueRules(), single=shape.single)
    pairs = [(text, found) for text in sample if (found := bare.match(text)) is not None]
    rights = []
    columns = []
    for text, found in pairs:
        start = found.value_at[0]
        if start and text[start - 1 : start] in QUOTES and text[start - 1] not in BLANKS:
            start -= 1
        rights.append(text[start:].rstrip())
        columns.append(start)
    rules = learn_following(rights, columns, remark_marks, sentence=bool(shape.separator.words))
    return replace(shape, values=rules)
