"""Why a pair is proposed, in words: one sentence a feature, the strongest first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from asflown.core.carry.matching.facts import index_agreement, same_amount
from asflown.core.carry.matching.reading import Reading
from asflown.core.carry.matching.systematic import Change
from asflown.core.carry.matching.words import raw_words

#: Words of a description named when so few changed.
NAMED = 3


def reasons(
    old: Reading,
    new: Reading,
    *,
    text: float,
    change: Change,
    habits: Mapping[Change, int],
    moved: Mapping[tuple[str, str], int],
) -> tuple[str, ...]:
    """Say what speaks for and against a pair.

    Parameters
    ----------
    text
        Cosine of the descriptions, 0 to 1.
    habits
        How many claimed pairs share each change of words.
    moved
        How many parameters went from one group to another.
    """
    return (
        *_name(old, new, change, habits),
        *_text(old, new, text),
        *_agreeing(old, new),
        *_differing(old, new),
        *_group(old, new, moved),
    )


def same_name_reasons(old: Reading, new: Reading, text: float) -> tuple[str, ...]:
    """Say what speaks for and against two parameters of one name."""
    return ("the same name", *_text(old, new, text), *_agreeing(old, new), *_differing(old, new))


def _name(old: Reading, new: Reading, change: Change, habits: Mapping[Change, int]) -> Iterator[str]:
    if sorted(old.words) == sorted(new.words):
        yield "the name's words are the same, written another way"
        return
    gone, come = _exchanged(raw_words(old.name), raw_words(new.name))
    others = habits.get(change, 0) - 1
    also = f", as in {others} other setting{'s' if others > 1 else ''}" if others > 0 else ""
    if gone and come:
        yield f"in the name '{gone}' became '{come}'{also}"
    elif gone:
        yield f"the name lost '{gone}'{also}"
    elif come:
        yield f"the name gained '{come}'{also}"
    else:
        yield f"the name's words are the same, in another order{also}"
    if index_agreement(old.words, new.words) < 0:
        yield "the numbers in the names differ"


def _exchanged(before: tuple[str, ...], after: tuple[str, ...]) -> tuple[str, str]:
    """Words that one name has more often than the other, each in its order."""

    def more(words: tuple[str, ...], others: tuple[str, ...]) -> str:
        left = Counter(words) - Counter(others)
        return " ".join(word for word in dict.fromkeys(words) for _ in range(left[word]))

    return more(before, after), more(after, before)


def _text(old: Reading, new: Reading, cosine: float) -> Iterator[str]:
    x, y = old.definition.description, new.definition.description
    if not x or not y:
        if x or y:
            yield f"only the {'old' if x else 'new'} release describes it"
        return
    if x.strip(" .") == y.strip(" ."):
        yield "the same description"
        return
    gone = [w for w in dict.fromkeys(old.text) if w not in new.text]
    come = [w for w in dict.fromkeys(new.text) if w not in old.text]
    changed = max(len(gone), len(come))
    if changed == 0:
        yield "the same description, but for small words"
    elif changed <= NAMED and len(set(old.text) & set(new.text)) > changed:
        yield f"the same description but for {changed} word{'s' if changed > 1 else ''}"
    elif cosine >= 0.5:
        yield f"the descriptions share most of their telling words ({cosine:.2f} of 1)"
    elif cosine >= 0.2:
        yield f"the descriptions share some telling words ({cosine:.2f} of 1)"
    else:
        yield f"the descriptions have little in common ({cosine:.2f} of 1)"


def _agreeing(old: Reading, new: Reading) -> Iterator[str]:
    same = []
    if old.type is not None and old.type == new.type:
        same.append("type")
    if old.definition.unit and old.definition.unit == new.definition.unit:
        same.append("unit")
    if old.span != (None, None) and old.span == new.span:
        same.append("range")
    if old.labels and old.labels == new.labels:
        same.append("choices")
    if old.default is not None and old.default == new.default:
        same.append("value in use" if old.is_in_use else "factory value")
    if same:
        yield f"same {_listed(same)}"
    if not old.is_in_use and old.default != new.default and same_amount(old.quantity, new.quantity) > 0:
        yield (
            (
                f"the factory value is the same amount: {old.definition.default} {old.definition.unit or ''}"
                f" before, {new.definition.default} {new.definition.unit or ''} now"
            )
            .replace("  ", " ")
            .replace(" ,", ",")
            .replace("  now", " now")
        )


def _differing(old: Reading, new: Reading) -> Iterator[str]:
    a, b = old.definition, new.definition
    if old.type and new.type and old.type != new.type:
        yield f"type {a.type} before, {b.type} now"
    if a.unit and b.unit and a.unit != b.unit:
        yield f"unit {a.unit} before, {b.unit} now"
    if old.span != new.span and (None, None) not in (old.span, new.span):
        yield f"range {_span(a.minimum, a.maximum)} before, {_span(b.minimum, b.maximum)} now"
    if old.labels and new.labels and old.labels != new.labels:
        yield f"{len(old.labels & new.labels)} of {len(old.labels)} choices are still there"
    stated = old.default is not None and new.default is not None and not old.is_in_use
    if stated and old.default != new.default:
        yield f"factory value {a.default} before, {b.default} now"


def _group(old: Reading, new: Reading, moved: Mapping[tuple[str, str], int]) -> Iterator[str]:
    if old.group == new.group:
        return
    others = moved.get((old.group, new.group), 0) - 1
    if others > 0:
        who = f"{others} other{'s' if others > 1 else ''} of group {old.group or '(none)'}"
        yield f"{who} went to {new.group or '(none)'}"


def _span(low: object, high: object) -> str:
    return f"{'?' if low is None else low}..{'?' if high is None else high}"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
