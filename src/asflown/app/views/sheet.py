"""A sheet: what every face shows of one thing. Faces lay it out; they add no word and no number."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.errors import Damaged

if TYPE_CHECKING:
    from asflown.core.plan import Account


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under column titles, with what is folded away below it.

    Attributes
    ----------
    title
        Heading, empty for the sheet's only table.
    columns
        Column titles; a title that ends in ``#`` is a column of figures (set flush right, ``#`` not shown).
    folded
        Sentences such as ``369 lines kept are folded: asflown plan --show all``.
    empty
        What to say when there is no row.
    under
        Lines below each row, set over the table's full width; empty where no row has any.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    folded: tuple[str, ...] = ()
    empty: str = "nothing to show"
    under: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One numbered paper sheet.

    Attributes
    ----------
    title
        What the sheet is, e.g. ``Carry-over``.
    head
        Label and value of the head block: aircraft, sheet, date, release from → to.
    sentence
        Where things stand, made from the rows.
    account
        The account line, ready to print; empty where there is none.
    warnings
        Sentences that must not be missed; shown above the table, boxed.
    notes
        Sentences below the table.
    next_act
        What to do next, best first; the first one is the filled button of a page.
    foot
        Parts of the foot: record hash and the like.
    """

    title: str
    head: tuple[tuple[str, str], ...]
    sentence: str
    tables: tuple[Table, ...] = ()
    account: str = ""
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    next_act: tuple[str, ...] = ()
    foot: tuple[str, ...] = ()


def account_line(account: Account) -> str:
    """The line that opens every carry-over; every mark has its word beside it.

    Raises
    ------
    Damaged
        When the sum does not add up: such a sheet is not printed.
    """
    if not account.adds_up:
        total = account.kept + account.converted + account.gone + account.redo + account.to_decide
        raise Damaged(
            f"the carry-over does not add up: {account.found} settings found, {total} accounted for",
            next_step="keep the listing and report it as a fault of asflown; write nothing from this plan",
        )
    implied = f" ({account.implied} implied)" if account.implied else ""
    waiting = f" ({account.new_to_decide} to decide)" if account.new_to_decide else ""
    return (
        f"{account.found} settings found{implied} · = {account.kept} kept · → {account.converted} converted"
        f" · × {account.gone} gone · ! {account.redo} redo · ? {account.to_decide} to decide"
        f"   + {account.new} new{waiting}"
    )


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: ``1 line``, ``3 lines``."""
    return f"{number} {one if number == 1 else (many or one + 's')}"


def listed(items: Iterable[str], *, most: int = 6) -> str:
    """Names in a row, the tail as a number: ``a, b and 4 more``."""
    names = list(items)
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def minutes(seconds: int) -> str:
    """An estimated time in words, rounded up: ``under a minute``, ``about 4 min``."""
    return "under a minute" if seconds < 60 else f"about {-(-seconds // 60)} min"


def short(sha256: str) -> str:
    """The first twelve figures of a hash, as shown in a foot."""
    return sha256[:12]
