"""Random line grammars: exact (bank, name, index, value) tuples, and what is written reads back the same.

Seeds 0-1999 and 5000-6499 were looked at while the reader was built; the seeds here were drawn afterwards.
"""

from __future__ import annotations

from collections import Counter

from line_grammars import draw, render

from asflown.formats.listing import read, write

FIRST, COUNT = 60_000, 600
FLOOR = 0.98


def test_random_grammars_are_read_exactly() -> None:
    failed: Counter[str] = Counter()
    seeds = []
    for seed in range(FIRST, FIRST + COUNT):
        grammar = draw(seed)
        listing = read(render(grammar))
        assert listing.lossless
        got = [(s.key.bank, s.key.name, s.key.index, s.value) for s in listing.settings]
        if got != grammar.expected:
            seeds.append(seed)
            failed.update(grammar.classes())
    share = 1 - len(seeds) / COUNT
    print(f"{share:.1%} of {COUNT} grammars exact; not exact: {seeds}; by class: {failed.most_common(8)}")
    assert share >= FLOOR


def test_what_is_written_reads_back_the_same() -> None:
    wrong = []
    for seed in range(FIRST, FIRST + 300):
        listing = read(render(draw(seed)))
        again = read(write(listing, listing.settings))
        one = {s.key: s.value for s in listing.settings}
        if {s.key: s.value for s in again.settings} != one:
            wrong.append(seed)
    assert len(wrong) <= 6, wrong
