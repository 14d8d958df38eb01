"""Columns of text to numbers: what polars cannot read as numbers by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.formats.flightlog.cells import COMMA_GROUPS, HEX, MISSING_WORDS, POINT_GROUPS, Kind

if TYPE_CHECKING:
    import polars as pl

_DAY = 86_400.0


def to_numbers(texts: pl.Series, decimal: str, kind: Kind) -> tuple[pl.Series, pl.Series, pl.Series | None]:
    """Numbers of a column of texts.

    Parameters
    ----------
    texts
        Text cells, null where empty.
    decimal
        ``.`` or ``,``.
    kind
        Number, time of day (seconds since midnight) or date (seconds since 1970-01-01 UTC; a stamp without
        zone is taken as UTC).

    Returns
    -------
    numbers
        Float64, null where there is no number.
    unreadable
        Whether a cell holds something that is neither a number nor a word for no value.
    thousands
        Whether a cell was written in groups of thousands; ``None`` where none was.
    """
    texts = texts.str.strip_chars(" \t\r\"'\u00a0\ufeff")
    if kind is Kind.DATE:
        values, thousands = _dates(texts), None
    elif kind is Kind.CLOCK:
        values, thousands = _clock(texts), None
    else:
        values, thousands = _numbers(texts, decimal)
    missing = texts.is_null() | texts.str.to_lowercase().is_in(list(MISSING_WORDS))
    return values, (values.is_null() & ~missing).fill_null(value=False).alias(""), thousands


def _float(texts: pl.Series) -> pl.Series:
    import polars as pl

    return texts.cast(pl.Float64, strict=False)


def _numbers(texts: pl.Series, decimal: str) -> tuple[pl.Series, pl.Series | None]:
    thousands = None
    if decimal == ",":
        grouped = texts.str.contains(POINT_GROUPS).fill_null(value=False)
        if grouped.any():
            thousands = grouped
            texts = texts.zip_with(~grouped, texts.str.replace_all(".", "", literal=True))
        texts = texts.str.replace(",", ".", literal=True)
    values = _float(texts)
    left = values.is_null() & texts.is_not_null()
    if not left.any():
        return values, thousands
    grouped = texts.str.contains(COMMA_GROUPS).fill_null(value=False)
    if decimal == "." and grouped.any():
        thousands = grouped
        values = values.zip_with(~grouped, _float(texts.str.replace_all(",", "", literal=True)))
    hexes = texts.str.extract(HEX, 1).str.to_integer(base=16, strict=False)
    return values.zip_with(values.is_not_null(), _float(hexes)), thousands


def _clock(texts: pl.Series) -> pl.Series:
    """hh:mm:ss.sss or mm:ss.s as seconds."""
    texts = texts.str.replace(",", ".", literal=True)
    parts = texts.str.split_exact(":", 2).struct.unnest()
    first, second, third = (_float(parts.get_column(name)) for name in parts.columns)
    has_three = parts.get_column(parts.columns[2]).is_not_null()
    three = first * 3600.0 + second * 60.0 + third
    return three.zip_with(has_three, first * 60.0 + second)


def _dates(texts: pl.Series) -> pl.Series:
    """Seconds since 1970 of ``2026-03-07T09:12:44.250+01:00`` and its like (ISO 8601)."""
    import polars as pl

    days = (
        texts.str.slice(0, 10).str.replace_all("/", "-", literal=True).str.to_date("%Y-%m-%d", strict=False)
    )
    rest = texts.str.slice(10).str.strip_chars(" T_").str.replace(r"\s*(?:Z|UTC)$", "")
    zone = rest.str.extract_groups(r"([-+])(\d{2}):?(\d{2})$").struct.unnest()
    sign, hours, minutes = (zone.get_column(name) for name in zone.columns)
    offset = (_float(hours) * 3600.0 + _float(minutes) * 60.0).fill_null(0.0)
    offset = offset.zip_with((sign != "-").fill_null(value=True), -offset)
    clock = rest.str.replace(r"\s*[-+]\d{2}:?\d{2}$", "")
    clock = clock.zip_with(~clock.str.contains(r"^\d{1,2}:\d{2}$").fill_null(value=False), clock + ":00")
    seconds = _clock(clock).zip_with(
        (clock != "").fill_null(value=True), pl.Series([0.0]).new_from_index(0, len(clock))
    )
    return days.cast(pl.Int32).cast(pl.Float64) * _DAY + seconds - offset
