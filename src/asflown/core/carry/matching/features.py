"""The first look at a pair: one row of numbers, from everything a catalog states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asflown.core.carry.matching.anchors import Anchors
from asflown.core.carry.matching.candidates import Candidates, choose
from asflown.core.carry.matching.facts import FACTS, FactTable
from asflown.core.carry.matching.reading import Reading, read_both
from asflown.core.carry.matching.systematic import Change, change_between, support
from asflown.core.carry.matching.tables import Tables, make_tables, paired
from asflown.core.catalog import ParameterDef

if TYPE_CHECKING:
    from asflown.core.carry.matching.tables import Floats, Places

#: What :func:`look` says of a pair, in this order.
FEATURES = (
    "old_words_met", "new_words_met", "old_leaf_met", "new_leaf_met", "trigrams", "spelling",
    "leaf_spelling", "old_words_left", "new_words_left", "left_still_used", "come_used_before",
    "old_words_explained", "new_words_explained", "text_cosine", "old_text_met", "new_text_met",
    "stands_out_old", "stands_out_new", "text_out_old", "text_out_new", "taken",
    *FACTS,
    "neighbour_distance", "group_vote", "change_supported", "change_share", "change_orphans",
)  # fmt: skip


@dataclass(frozen=True)
class Look:
    """Two catalogs, the pairs worth a look, and what is seen of each.

    Attributes
    ----------
    same
        Old to new position of identical names.
    lost
        Positions of old names the new catalog has not.
    changes
        The change of words of each pair.
    features
        Shape (pairs, len(FEATURES)).
    """

    old: tuple[Reading, ...]
    new: tuple[Reading, ...]
    same: Mapping[int, int]
    lost: tuple[int, ...]
    pairs: Candidates
    changes: tuple[Change, ...]
    features: Floats

    def only(self, places: Places) -> Look:
        """The same with some of the pairs."""
        changes = tuple(self.changes[k] for k in places.tolist())
        return replace(self, pairs=self.pairs.only(places), changes=changes, features=self.features[places])


def look(
    old: Sequence[ParameterDef],
    new: Sequence[ParameterDef],
    lost: Sequence[int],
    free: Sequence[int],
    in_use: Mapping[str, str] | None = None,
) -> Look:
    """Look at every likely pair of a lost old parameter and a new one.

    Parameters
    ----------
    old, new
        Both catalogs whole; what kept its name tells about the rest.
    lost, free
        Positions of the old parameters to place, and of the new ones nobody has yet.
    in_use
        Value found by old name, where no factory value is stated.
    """
    import numpy as np

    before, after = read_both(old, new, in_use)
    places = {reading.name: j for j, reading in enumerate(after)}
    same = {i: places[reading.name] for i, reading in enumerate(before) if reading.name in places}
    tables = make_tables(before, after)
    taken = sorted(set(same.values()) - set(free))
    pairs = choose(tables, *(np.array(part, dtype=np.intp) for part in (lost, free, taken)))
    i, j = pairs.old.tolist(), pairs.new.tolist()
    changes = tuple(change_between(before[a].words, after[b].words) for a, b in zip(i, j, strict=True))
    features = np.column_stack(
        [
            *_of_words(tables, before, after, pairs),
            pairs.margin_old,
            pairs.margin_new,
            pairs.text_old,
            pairs.text_new,
            pairs.taken,
            *FactTable(before, after).of(pairs.old, pairs.new),
            *_of_neighbours(Anchors(before, after, same), pairs),
            *np.array(support(changes, i, [before[k] for k in lost]), np.float32).reshape(-1, 3).T,
        ]
    ).astype(np.float32)
    return Look(before, after, same, tuple(lost), pairs, changes, features)


def _of_words(
    tables: Tables, old: Sequence[Reading], new: Sequence[Reading], pairs: Candidates
) -> list[Floats]:
    import numpy as np

    a, b, i, j = tables.old, tables.new, pairs.old, pairs.new
    weight = tables.rarity
    met_old = paired(b.reach, a.names, j, i, weight)
    met_new = paired(a.reach, b.names, i, j, weight)
    alive_old = a.names[i] @ tables.alive_old - paired(b.reach, a.names, j, i, tables.alive_old)
    alive_new = b.names[j] @ tables.alive_new - paired(a.reach, b.names, i, j, tables.alive_new)

    def share(part: Floats, whole: Floats) -> Floats:
        return (part / np.maximum(whole, 1e-6)).astype(np.float32)

    return [
        share(met_old, a.total[i]),
        share(met_new, b.total[j]),
        share(paired(b.reach, a.leaves, j, i, weight), a.leaf_total[i]),
        share(paired(a.reach, b.leaves, i, j, weight), b.leaf_total[j]),
        paired(a.grams, b.grams, i, j),
        _spelling([r.words for r in old], [r.words for r in new], pairs),
        _spelling([r.leaf for r in old], [r.leaf for r in new], pairs),
        a.total[i] - met_old,
        b.total[j] - met_new,
        alive_old.astype(np.float32),
        alive_new.astype(np.float32),
        share(paired(b.spoken, a.names, j, i, weight), a.total[i]),
        share(paired(a.spoken, b.names, i, j, weight), b.total[j]),
        pairs.text,
        share(paired(a.text, b.has_text, i, j), a.text_total[i]),
        share(paired(a.has_text, b.text, i, j), b.text_total[j]),
    ]


def _spelling(old: Sequence[tuple[str, ...]], new: Sequence[tuple[str, ...]], pairs: Candidates) -> Floats:
    """Likeness of spelling of every pair, 1 - edits over letters."""
    import numpy as np
    from rapidfuzz import process
    from rapidfuzz.distance import Indel

    if not len(pairs):
        return np.zeros(0, np.float32)
    left, right = [" ".join(words) for words in old], [" ".join(words) for words in new]
    before = [left[i] for i in pairs.old.tolist()]
    after = [right[j] for j in pairs.new.tolist()]
    made = process.cpdist(before, after, scorer=Indel.normalized_similarity, dtype=np.float32)
    return np.asarray(made, np.float32)


def _of_neighbours(anchors: Anchors, pairs: Candidates) -> list[list[float]]:
    both = list(zip(pairs.old.tolist(), pairs.new.tolist(), strict=True))
    return [[anchors.distance(i, j) for i, j in both], [anchors.group_vote(i, j) for i, j in both]]
