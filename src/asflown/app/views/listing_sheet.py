"""What was learned from a listing, as a sheet."""

from __future__ import annotations

from asflown.app.views.listing_shown import ListingShown
from asflown.app.views.sheet import Sheet, Table


def listing_sheet(shown: ListingShown, name: str) -> Sheet:
    """The sheet of ``asflown listing show``."""
    settings = Table(
        ("line#", "bank", "setting", "value", "unit"), shown.settings, empty="no setting was read"
    )
    unread = Table(
        ("line#", "text", "said"),
        tuple((line, text.strip()[:100], said) for line, text, said in shown.not_understood),
        title="Not understood",
    )
    return Sheet(
        title="Listing",
        head=(("file", name), *((row.word.lower(), row.fact) for row in shown.rows)),
        sentence=shown.sentence,
        warnings=shown.complaints,
        tables=(settings, unread) if shown.not_understood else (settings,),
        next_act=(shown.next_act,),
    )
