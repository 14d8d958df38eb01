"""Made-up renames: real catalog pairs whose parameters that kept their name are renamed or taken away.

What stays real is how descriptions, types and factory values change between releases; what is made up is the
change of names (words replaced everywhere or once, dropped, added, abbreviated, put in another order), and in
some cases numbers: a type, unit, range and factory value that agree for the same parameter but for the odd
change. It teaches what few published families show: retired siblings, catalogs without descriptions, short
names, units.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from asflown.core.carry.matching.words import FILLERS, raw_words
from asflown.core.catalog import ParameterDef, ValueKind
from matcher.families import Case

UNITS = (
    ("s", "ms", 1000), ("m", "cm", 100), ("V", "mV", 1000), ("A", "mA", 1000), ("Hz", None, 1),
    ("%", None, 1), ("m/s", None, 1), (None, None, 1), (None, None, 1),
)  # fmt: skip
TYPES = (("Int16", ValueKind.INTEGER), ("Uint8", ValueKind.INTEGER), ("Float", ValueKind.REAL))
LEAST_SAME = 20


def made_up_cases(cases: Iterable[Case], each: int) -> list[Case]:
    """``each`` made-up cases of every case with enough parameters that kept their name."""
    return [
        _make(case, f"{case.name}~{k}", random.Random(f"{case.name}{k}"))
        for case in cases
        if sum(old == new for old, new in case.truth.items()) >= LEAST_SAME
        for k in range(each)
    ]


@dataclass
class _Vocabulary:
    """Words to rename with."""

    words: list[str]
    replaced: dict[str, str]


def _make(case: Case, name: str, rng: random.Random) -> Case:
    known = {p.name for p in case.new}
    same = [p.name for p in case.old if p.name in known and case.truth.get(p.name) == p.name]
    rng.shuffle(same)
    renamed = max(3, int(rng.choice([0.03, 0.08, 0.15, 0.3, 0.6]) * len(same)))
    retired = int(rng.choice([0.1, 0.25, 0.5]) * len(same))
    to_rename, to_retire = set(same[:renamed]), set(same[renamed : renamed + retired])
    without_text, without_type = rng.random() < 0.2, rng.random() < 0.15
    old, new = list(case.old), [p for p in case.new if p.name not in to_retire]
    if rng.random() < 0.45:
        old, new = _with_numbers(old, new, rng)
    vocabulary = _vocabulary(case, to_rename, rng)
    groups = sorted({p.group for p in case.new if p.group})
    moved: dict[str, str] = {}
    taken = {p.name for p in case.new}
    made = []
    for p in new:
        if p.name in to_rename:
            fresh = _free(_renamed(p, vocabulary, rng), taken, vocabulary, rng)
            taken.add(fresh)
            moved[p.name] = fresh
            made.append(replace(_edited(p, vocabulary, groups, rng), name=fresh))
        else:
            made.append(p)
    if rng.random() < 0.3:
        rng.shuffle(made)
    if without_text:
        old, made = ([replace(p, description=None) for p in side] for side in (old, made))
    if without_type:
        old, made = ([replace(p, type=None, kind=ValueKind.UNKNOWN) for p in side] for side in (old, made))
    truth, classes, kinds = _truth(case, old, {p.name for p in made}, moved, to_retire)
    made_case = Case(name, case.family, tuple(old), tuple(made), truth, classes, kinds, made_up=True)
    return _shortened(made_case, rng) if rng.random() < 0.35 else made_case


def _truth(
    case: Case, old: list[ParameterDef], there: set[str], moved: dict[str, str], gone: set[str]
) -> tuple[dict[str, str | None], dict[str, str], dict[str, str]]:
    truth: dict[str, str | None] = {}
    classes: dict[str, str] = {}
    for p in old:
        name = p.name
        if name in moved:
            truth[name], classes[name] = moved[name], "rename"
        elif name in gone:
            truth[name], classes[name] = None, "retired"
        elif name in case.truth and (case.truth[name] is None or case.truth[name] in there):
            truth[name], classes[name] = case.truth[name], case.classes[name]
    return truth, classes, {name: "made_up" for name in truth}


def _vocabulary(case: Case, to_rename: set[str], rng: random.Random) -> _Vocabulary:
    words = [w for p in case.new for w in raw_words(p.description or "") if len(w) > 3 and w not in FILLERS]
    words = words or [w for p in case.new for w in raw_words(p.name)]
    counts = Counter(w for name in sorted(to_rename) for w in set(raw_words(name)) if len(w) > 2)
    often = sorted(counts, key=lambda w: (-counts[w], w))[:12]
    replaced = {}
    for word in often:
        if rng.random() < 0.35:
            other = (rng.choice(words), "", rng.choice(words) + rng.choice(words), abbreviated(word, rng))
            replaced[word] = rng.choice(other)
    return _Vocabulary(words, replaced)


def abbreviated(word: str, rng: random.Random) -> str:
    """The first letters of a word, or its consonants."""
    if len(word) < 5:
        return word[:3]
    return rng.choice([word[:3], word[:4], word[0] + "".join(c for c in word[1:] if c not in "aeiou")])


def _free(name: str, taken: set[str], vocabulary: _Vocabulary, rng: random.Random) -> str:
    while not name or name in taken:
        name = f"{name}_{rng.choice(vocabulary.words)}".strip("_")
    return name


def _renamed(p: ParameterDef, vocabulary: _Vocabulary, rng: random.Random) -> str:
    parts = re.split(r"([._:/-])", p.name)
    words, signs = parts[0::2], parts[1::2]
    changed = False
    for k, word in enumerate(words):
        if word.casefold() in vocabulary.replaced:
            words[k], changed = vocabulary.replaced[word.casefold()], True
    own = [w for w in raw_words(p.description or "") if len(w) > 3 and w not in FILLERS] or vocabulary.words
    acts = 0
    while (not changed and not acts) or (acts < 4 and rng.random() < 0.35):
        acts += 1
        _act(words, signs, own, vocabulary.words, rng)
    made = ""
    for k, word in enumerate(words):
        if word:
            sign = signs[k - 1] if 0 < k <= len(signs) else "_"
            made += f"{sign}{word}" if made else word
    return made


def _act(words: list[str], signs: list[str], own: list[str], others: list[str], rng: random.Random) -> None:
    """Change one thing about a name."""
    chance, k = rng.random(), rng.randrange(len(words))
    if chance < 0.3:
        words[k] = rng.choice(own if rng.random() < 0.6 else others)
    elif chance < 0.45:
        words.insert(k, rng.choice(own))
        signs.insert(min(k, len(signs)), "_")
    elif chance < 0.65 and len(words) > 1:
        words.pop(k)
        if signs:
            signs.pop(min(k, len(signs) - 1))
    elif chance < 0.8:
        words[k] = abbreviated(words[k], rng)
    elif chance < 0.9:
        words[0] = rng.choice(others)
    elif len(words) > 1:
        k = rng.randrange(len(words) - 1)
        words[k], words[k + 1] = words[k + 1], words[k]


def _edited(p: ParameterDef, vocabulary: _Vocabulary, groups: list[str], rng: random.Random) -> ParameterDef:
    """The description reworked, now and then the factory value or the group changed."""
    text = p.description
    if text and rng.random() < 0.6:
        text = _reworked(text, vocabulary.words, rng)
    if rng.random() < 0.1:
        text = None
    default = p.default
    if rng.random() < 0.1:
        default = None
    elif default is not None and rng.random() < 0.1 and re.fullmatch(r"\d+(\.\d+)?", default):
        default = f"{Decimal(default) * rng.choice([2, 10, 1000])}"
    group = rng.choice(groups) if groups and rng.random() < 0.2 else p.group
    return replace(p, description=text or None, default=default, group=group)


def _reworked(text: str, words: list[str], rng: random.Random) -> str:
    chance = rng.random()
    if chance < 0.3:
        return re.split(r"(?<=[.])\s+", text)[0]
    if chance < 0.5:
        return text + " " + " ".join(rng.choice(words) for _ in range(rng.randrange(4, 14)))
    rate = rng.choice([0.1, 0.3, 0.5])
    kept = (
        w if rng.random() > rate else rng.choice(words) if rng.random() < 0.6 else "" for w in text.split()
    )
    return " ".join(w for w in kept if w)


def _with_numbers(
    old: list[ParameterDef], new: list[ParameterDef], rng: random.Random
) -> tuple[list[ParameterDef], list[ParameterDef]]:
    """Type, unit, range and factory value for every parameter, alike for the same name."""
    salt = str(rng.random())
    made_old = [_numbered(p, salt, 1, changed=False, rng=rng) for p in old]
    made_new = []
    for p in new:
        chance = rng.random()
        other_unit = chance < 0.04
        made_new.append(_numbered(p, salt, other_unit, changed=0.04 <= chance < 0.18, rng=rng))
    return made_old, made_new


def _numbered(
    p: ParameterDef, salt: str, other_unit: bool | int, *, changed: bool, rng: random.Random
) -> ParameterDef:
    own = random.Random(salt + p.name)
    last = (raw_words(p.name) or ("x",))[-1]
    shared = random.Random(salt + (last if own.random() < 0.7 else p.name))
    unit, other, factor = shared.choice(UNITS)
    word, kind = shared.choice(TYPES)
    low = shared.choice([0.0, 0.0, 0.0, -1.0, 1.0, -100.0, 0.01])
    high = shared.choice([1.0, 10.0, 100.0, 255.0, 1000.0, 50.0, 20.0, 5.0])
    high = high if high > low else low + 10
    within = round(low + (high - low) * own.random(), own.choice([0, 1, 2]))
    default = own.choice([0.0, 1.0, low, high, within, within, round(shared.random() * high, 1)])
    if changed and rng.random() < 0.6:
        default = round(low + (high - low) * rng.random(), 1)
    elif changed:
        high *= 2
    scale = factor if other_unit is True and other else 1
    return replace(
        p,
        unit=other if scale != 1 else unit,
        type=word,
        kind=kind,
        minimum=Decimal(str(low * scale)),
        maximum=Decimal(str(high * scale)),
        default=f"{default * scale:g}",
        choices=(),
    )


def _shortened(case: Case, rng: random.Random) -> Case:
    """Names of abbreviated words in capitals, without groups; clashing ones are left out."""
    short: dict[str, str] = {}

    def cut(word: str) -> str:
        if word.isdigit() or len(word) < 4:
            return word
        if word not in short:
            short[word] = abbreviated(word, rng)
        return short[word]

    def rename(side: tuple[ParameterDef, ...]) -> dict[str, str]:
        made = {p.name: "_".join(cut(w) for w in raw_words(p.name))[:28].upper() for p in side}
        counts = Counter(made.values())
        return {name: new for name, new in made.items() if counts[new] == 1 and new}

    before, after = rename(case.old), rename(case.new)
    truth = {
        before[name]: after[target] if target is not None else None
        for name, target in case.truth.items()
        if name in before and (target is None or target in after)
    }
    classes = {
        before[name]: _class(before[name], truth[before[name]])
        for name in case.truth
        if before.get(name) in truth
    }

    def put(side: tuple[ParameterDef, ...], names: dict[str, str]) -> tuple[ParameterDef, ...]:
        return tuple(replace(p, name=names[p.name], group=None) for p in side if p.name in names)

    kinds = dict.fromkeys(truth, "made_up")
    old, new = put(case.old, before), put(case.new, after)
    return replace(case, old=old, new=new, truth=truth, classes=classes, kinds=kinds)


def _class(old: str, new: str | None) -> str:
    return "retired" if new is None else "same" if old == new else "rename"
