"""The bench: how far it is, and on each card the values read and what was put right."""

from __future__ import annotations

from asflown.core.cards import CardState, Phase
from asflown.errors import UsageError
from asflown.faces.web.addresses import at
from asflown.faces.web.page import Act, Asked, Field, Go, Page, Sent, Way
from asflown.faces.web.pages import over_link
from asflown.faces.web.pages.beside import others

_FIXES = (
    Way("settings", "settings"),
    Way("wiring", "wiring"),
    Way("mounting", "mounting"),
    Way("calibration", "calibration"),
    Way("transmitter", "transmitter"),
    Way("image", "image"),
    Way("nothing", "nothing: the card was done wrongly"),
)


def look(asked: Asked) -> Page:
    """The bench cards, what comes from this refit, and the values read."""
    from asflown.app.cards import cards_of
    from asflown.app.views.bench_shown import bench_json, bench_sheet
    from asflown.faces.report.kinds import cards_printed

    found = cards_of(asked.work, asked["aircraft"])
    bench = tuple(one for one in found.states if one.card.phase is Phase.BENCH)
    names = {
        f"{one.card.id}: {one.card.title}": at("aircraft", found.aircraft, "card", one.card.id)
        for one in bench
    }
    return Page(
        bench_sheet(found),
        lambda: bench_json(found),
        printed=lambda: cards_printed(found, bench, found.at),
        names=names,
        others=others(found.aircraft),
        whose=found.aircraft,
    )


def acts(asked: Asked, found: CardState) -> tuple[Act, ...]:
    """What can be done on one card beside noting its result."""
    return (*_reading(found), *over_link.card_acts(asked, found), *_fixing(found))


def _reading(found: CardState) -> tuple[Act, ...]:
    from asflown.core.bench.judged import judged

    fields = tuple(
        Field(
            f"value-{number}",
            f"{one.measure.what}{f', {one.measure.unit}' if one.measure.unit else ''}",
            value=one.reading.value if one.reading else "",
            hint=f"expected {one.expected}" if one.expected else "",
        )
        for number, one in enumerate(judged(found.card, found.readings))
    )
    return (Act("read", "Keep the values", fields, title="Values read"),) if fields else ()


def _fixing(found: CardState) -> tuple[Act, ...]:
    if found.word != "fail":
        return ()
    fields = (
        Field("what", "What was put right", "ways", "", _FIXES, needed=True),
        Field("said", "What was done", "area", needed=True),
    )
    note = (
        "This card and those the fix touches are done again; after settings or the image, the read-back too."
    )
    return (Act("fixed", "Put right: open it again", fields, title="Put it right", note=note),)


def read(asked: Asked, sent: Sent) -> Go:
    """Keep what was read for a card."""
    from asflown.app.bench.readings import note_values
    from asflown.app.cards import cards_of
    from asflown.core.bench.judged import contradicted

    aircraft, card = asked["aircraft"], asked["card"]
    found = cards_of(asked.work, aircraft).find(card)
    before = {one.what: one.value for one in found.readings}
    pairs = [
        f"{measure.what}={sent.text(f'value-{number}')}"
        for number, measure in enumerate(found.card.all_measures)
        if sent.text(f"value-{number}") and sent.text(f"value-{number}") != before.get(measure.what)
    ]
    if not pairs:
        raise UsageError("no new value was filled in", next_step="fill in what was read")
    made = note_values(asked.work, aircraft, card, pairs)
    wrong = contradicted(made.card, made.readings)
    says = f"Not as expected: {', '.join(one.measure.what for one in wrong)}." if wrong else "Values noted."
    return Go(at("aircraft", aircraft, "card", card), says)


def fixed(asked: Asked, sent: Sent) -> Go:
    """Open again what a fix touches."""
    from asflown.app.bench.readings import fixed as job
    from asflown.core.bench.fixes import Fix

    if sent.text("what") not in {way.value for way in _FIXES}:
        raise UsageError("nothing was chosen", next_step="choose what was put right")
    aircraft = asked["aircraft"]
    _, again = job(asked.work, aircraft, asked["card"], Fix(sent.text("what")), sent.text("said"))
    return Go(at("aircraft", aircraft, "bench"), f"Done again: {', '.join(again)}.")
