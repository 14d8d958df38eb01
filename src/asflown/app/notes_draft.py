"""Change notes drafted from what matching says, for a person to read, correct and share."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from asflown.app.matched import Group, Matched, once, sure
from asflown.core.carry.matching.result import Pair, PairKind
from asflown.core.carry.meaning import Kinship
from asflown.core.catalog import ChangeNote, Consequence, ConversionSpec, NoteKind, ParameterDef
from asflown.errors import UsageError
from asflown.formats.notes_draft import LONGEST_NAME, Entry, Part, fits, write

#: Below this a pair is marked to be checked whatever else speaks for it.
CERTAIN = 0.9
#: A factor of more significant digits is taken for a rounded one (a third, or one with pi).
_DIGITS = 20
#: A runner-up of at least this is marked to be checked.
NEAR = 0.1


@dataclass(frozen=True)
class Draft:
    """A draft of change notes.

    Attributes
    ----------
    kinds
        How many entries of each kind.
    to_check
        Old names of the entries marked for a person's eye.
    retired
        Old names whose retirement is proposed as a comment.
    data
        The file.
    """

    from_release: str
    to_release: str
    kinds: Mapping[NoteKind, int]
    to_check: tuple[str, ...]
    retired: tuple[str, ...]
    data: bytes


def draft(matched: Matched, from_release: str | None = None, to_release: str | None = None) -> Draft:
    """Draft change notes.

    Parameters
    ----------
    from_release, to_release
        Identifiers of the releases; ``None``: those of the catalogs.

    Raises
    ------
    UsageError
        When nothing says which releases these are, or both are one.
    """
    first, then = _releases(matched, from_release, to_release)
    parts = tuple(_parts(matched))
    entries = [entry for part in parts for entry in part.entries]
    within = [entry for entry in entries if not entry.is_out]
    return Draft(
        first,
        then,
        Counter(entry.change.kind for entry in within),
        tuple(name for e in entries if e.to_check and not _is_retired(e) for name in e.change.old),
        tuple(name for entry in entries if _is_retired(entry) for name in entry.change.old),
        write(first, then, tuple(_head(matched, from_release, to_release)), parts),
    )


def _is_retired(entry: Entry) -> bool:
    return entry.change.kind is NoteKind.RETIRE


def _releases(matched: Matched, first: str | None, then: str | None) -> tuple[str, str]:
    found = []
    for given, said, option in ((matched.old, first, "--from"), (matched.new, then, "--to")):
        release = given.release if said is None else said.strip()
        if not release:
            raise UsageError(f"which release is {given.name}?", next_step=f"say it: {option} ID")
        found.append(release)
    if found[0] == found[1]:
        raise UsageError(
            f"both would be notes of release {found[0]!r}", next_step="say which: --from ID --to ID"
        )
    return found[0], found[1]


def _head(matched: Matched, first: str | None, then: str | None) -> Iterator[str]:
    yield (
        f"Change notes drafted by asflown from {matched.old.name} and {matched.new.name}: proposals made from"
        " likeness, for a person to read and correct. Nobody has confirmed them yet."
    )
    yield (
        "Above each entry: how sure the pair is, 0 to 1, and the next best name; in `why` what speaks for it."
        ' "to check" marks what needs your eye; lines of entries that begin with # are not read.'
    )
    yield "Correct it, look through it with `asflown notes check`, keep it as notes.toml with the release."
    for given, said, key in ((matched.old, first, "from"), (matched.new, then, "to")):
        if said is None and given.is_guessed:
            yield f"to check: `{key}` is taken from the name of a file or folder"
    unknown = sum(p.consequence is Consequence.UNKNOWN for p in matched.matching.pairs if p.is_claimed)
    if unknown:
        yield f"to check: of {unknown} names nobody states what they touch; treat them like safety"


# ------------------------------------------------------------------------------------------ entries


def _parts(matched: Matched) -> Iterator[Part]:
    groups = matched.groups
    renamed = once(groups[Group.RENAMED])
    yield Part("other name", tuple(_renamed(pair, matched) for pair in renamed))
    same = [*groups[Group.MEANING], *(p for p in groups[Group.UNKNOWN] if _is_still_free(p, matched))]
    yield Part("same name, other meaning", tuple(_meaning(pair, matched) for pair in same))
    yield Part("same name, other factory value", tuple(_default(pair) for pair in groups[Group.FACTORY]))
    told = {pair.old for pair in same} | {name for pair in renamed for name in _old(pair, matched)}
    unsure = {pair.old: pair for pair in groups[Group.UNKNOWN]}
    retired = [name for name in matched.matching.retired if name not in told]
    yield Part(
        "to check: no successor is sure enough. Take away the # of what is really gone; what became of the"
        " others is yours to write",
        tuple(_retired(name, unsure.get(name)) for name in retired),
    )


def _is_still_free(pair: Pair, matched: Matched) -> bool:
    """Whether a name stayed, but likely for something else, and nothing else is led to it."""
    return pair.kind is PairKind.SAME and pair.new not in matched.successors


def _old(pair: Pair, matched: Matched) -> tuple[str, ...]:
    """The old names of a pair, in the catalog's order."""
    if pair.kind is not PairKind.MERGE:
        return (pair.old,)
    names = {pair.old, *pair.others}
    return tuple(name for name in matched.old.catalog.by_name if name in names)


def _renamed(pair: Pair, matched: Matched) -> Entry:
    old = _old(pair, matched)
    new = tuple(dict.fromkeys((pair.new, *pair.others))) if pair.kind is PairKind.SPLIT else (pair.new,)
    checks = [*_doubts(pair), *_taken(new, matched)]
    spec, unsure = _conversion(pair, matched)
    checks += unsure
    is_out = False
    if len(old) > 1:
        kind, spec, is_out = NoteKind.MERGE, ConversionSpec(), True
        checks.append(
            "say in an expression over the old names how the new value is made; without one the value of the"
            " first would be copied alone. Then take away the #"
        )
    elif len(new) > 1:
        kind, is_out = NoteKind.SPLIT, bool(unsure)
        checks.append("the old value goes into each of the new names; an expression can say otherwise")
    elif unsure and spec.is_copy:
        kind = NoteKind.MEANING
    else:
        kind = NoteKind.RENAME if spec.is_copy else NoteKind.CONVERT
    why = f"matched {sure(pair.confidence)}: {'; '.join(dict.fromkeys((*_says(pair), *pair.reasons)))}"
    return _made(kind, old, new, spec, why, pair, checks, is_out=is_out)


def _meaning(pair: Pair, matched: Matched) -> Entry:
    """A name that stayed: converted where both catalogs say how exactly, else asked about."""
    spec, unsure = _conversion(pair, matched)
    checks = [*_doubts(pair), *unsure]
    if not pair.is_claimed:
        checks.append("the name stayed, but the parameter is likely another one")
        spec = ConversionSpec()
    kind = NoteKind.MEANING if spec.is_copy else NoteKind.CONVERT
    is_told = pair.is_claimed and pair.meaning.kinship not in (Kinship.SAME, Kinship.UNSTATED)
    says = "; ".join(dict.fromkeys((*_says(pair), *(() if is_told else pair.reasons))))
    return _made(kind, (pair.old,), (), spec, says or "the meaning may have changed", pair, checks)


def _default(pair: Pair) -> Entry:
    before, after = pair.default_shift or ("", "")
    says = f"factory value {before} before, {after} now"
    return _made(NoteKind.DEFAULT, (pair.old,), (), ConversionSpec(), says, pair, [])


def _retired(name: str, pair: Pair | None) -> Entry:
    above: tuple[str, ...] = ()
    if pair is not None:
        what = f"best candidate {sure(pair.confidence)}: {pair.new}" + (
            "".join(f"; {text}" for text in pair.reasons)
        )
        above = (f"{what}. Where that is right, write a rename",)
    return _checked(Entry(ChangeNote(NoteKind.RETIRE, (name,)), above, is_out=True))


def _made(
    kind: NoteKind,
    old: tuple[str, ...],
    new: tuple[str, ...],
    spec: ConversionSpec,
    why: str,
    pair: Pair,
    checks: list[str],
    *,
    is_out: bool = False,
) -> Entry:
    consequence = None if pair.consequence is Consequence.UNKNOWN else pair.consequence
    change = ChangeNote(kind, old, new, spec, why, consequence)
    above = f"{sure(pair.confidence)}, {pair.zone.value}"
    if pair.runner_up is not None:
        above += f"; runner-up {pair.runner_up[0]} {sure(pair.runner_up[1])}"
    return _checked(Entry(change, (above,), tuple(checks), is_out))


def _checked(entry: Entry) -> Entry:
    """The entry as a comment where its names are none a note can have."""
    if fits(entry.change):
        return entry
    says = f"a name is longer than {LONGEST_NAME} signs, the most a note takes"
    return replace(entry, to_check=(*entry.to_check, says), is_out=True)


# ------------------------------------------------------------------------------------------ words


def _says(pair: Pair) -> tuple[str, ...]:
    return (pair.meaning.says,) if pair.meaning.says and pair.meaning.kinship is not Kinship.SAME else ()


def _doubts(pair: Pair) -> Iterator[str]:
    """Why a person should look at a pair before anyone relies on it."""
    if pair.consequence in (Consequence.SAFETY, Consequence.HANDLING):
        yield f"it touches {pair.consequence.value}; nobody has confirmed the pair"
    if pair.confidence < CERTAIN:
        yield f"not certain: {sure(pair.confidence)}"
    if pair.runner_up is not None and pair.runner_up[1] >= NEAR:
        yield f"{pair.runner_up[0]} is near it: {sure(pair.runner_up[1])}"


def _taken(new: tuple[str, ...], matched: Matched) -> Iterator[str]:
    """A new name that the old release has too, of which nothing else is told."""
    for name in new:
        if name in matched.matching.retired:
            yield f"the old release has a {name} too: what became of that one must be said below"


def _conversion(pair: Pair, matched: Matched) -> tuple[ConversionSpec, tuple[str, ...]]:
    """How values convert where both catalogs say it exactly; else a copy, and what is not sure of it."""
    meaning = pair.meaning
    if meaning.kinship in (Kinship.SAME, Kinship.UNSTATED):
        return ConversionSpec(), ()
    if meaning.kinship is Kinship.SCALED and meaning.factor is not None:
        old, new = matched.old.catalog.by_name[pair.old], matched.new.catalog.by_name[pair.new]
        return _scaled(pair, old, new)
    if meaning.kinship is Kinship.RENUMBERED and meaning.values and not meaning.bits:
        lost = ", ".join(f"{value} ({label})" for value, label in meaning.lost.items())
        return ConversionSpec(choices=meaning.values), ((f"no counterpart for {lost}",) if lost else ())
    moved = ", ".join(f"{a} -> {b}" for a, b in meaning.values.items() if a != b)
    what = "no number is sure to mean the same"
    if meaning.bits:
        what = f"bits moved ({moved}), which a note cannot convert"
    return ConversionSpec(), (f"{what}; each value is asked about until you write how it converts",)


def _scaled(pair: Pair, old: ParameterDef, new: ParameterDef) -> tuple[ConversionSpec, tuple[str, ...]]:
    from asflown.core.units import factor_between, is_exact

    factor = pair.meaning.factor
    if factor is None:
        return ConversionSpec(), ()
    by_unit = factor_between(old.unit, new.unit) if old.unit and new.unit else None
    if old.unit and new.unit and by_unit == factor and is_exact(old.unit, new.unit):
        return ConversionSpec(unit_from=old.unit, unit_to=new.unit), ()
    if len(factor.normalize().as_tuple().digits) <= _DIGITS and abs(factor.adjusted()) <= _DIGITS:
        return ConversionSpec(factor=factor), ()
    how = f"new = old * {factor:f} is rounded; write `unit` or `factor` where that is near enough"
    return ConversionSpec(), (how,)
