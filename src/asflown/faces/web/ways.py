"""Which function makes which page."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from urllib.parse import unquote

from asflown.faces.web.page import Asked, Delivered, Go, Page

Made = Page | Go | Delivered


@dataclass(frozen=True)
class Place:
    """A page: where it is, who makes it, and who takes what its forms send.

    Attributes
    ----------
    pattern
        Parts of its address; ``{name}`` stands for any part.
    looks, acts
        ``module:function`` below ``faces.web.pages``.
    """

    pattern: tuple[str, ...]
    looks: str
    acts: str | None = None

    def look(self, asked: Asked) -> Made:
        """The page."""
        return _function(self.looks)(asked)

    @property
    def act(self) -> Callable[[Asked], Made] | None:
        """Takes what the page's forms send."""
        return None if self.acts is None else _function(self.acts)

    def fits(self, parts: tuple[str, ...]) -> Mapping[str, str] | None:
        """The named parts of an address, ``None`` where it is another page's."""
        if len(parts) != len(self.pattern):
            return None
        found = {}
        for pattern, part in zip(self.pattern, parts, strict=True):
            if pattern.startswith("{"):
                found[pattern[1:-1]] = part
            elif pattern != part:
                return None
        return found


def _function(name: str) -> Callable[[Asked], Made]:
    module, _, function = name.partition(":")
    found: Callable[[Asked], Made] = getattr(import_module(f"asflown.faces.web.pages.{module}"), function)
    return found


def _place(address: str, looks: str, acts: str | None = None) -> Place:
    return Place(tuple(part for part in address.split("/") if part), looks, acts)


PLACES = (
    _place("/", "fleet:look"),
    _place("/aircraft", "fleet:look"),
    _place("/new-aircraft", "fleet:new", "fleet:make"),
    _place("/who", "fleet:who", "fleet:say_who"),
    _place("/sources", "sources:look"),
    _place("/verify", "books:verify", "books:check"),
    _place("/releases", "releases:look", "releases:add"),
    _place("/release/{release}", "releases:one"),
    _place("/aircraft/{aircraft}", "books:logbook"),
    _place("/aircraft/{aircraft}/about", "fleet:about", "fleet:change"),
    _place("/aircraft/{aircraft}/records", "records:look"),
    _place("/aircraft/{aircraft}/take", "records:take", "records:keep"),
    _place("/record/{record}", "records:one", "records:say"),
    _place("/compare", "records:compare", "records:to_compare"),
    _place("/aircraft/{aircraft}/plan", "carry:look", "carry:act"),
    _place("/aircraft/{aircraft}/ports", "ports:look"),
    _place("/boards", "ports:boards", "ports:add"),
    _place("/board/{board}", "ports:board"),
    _place("/image", "image:look", "image:check"),
    _place("/host-check", "host:look"),
    _place("/aircraft/{aircraft}/decide/{group}", "carry:slip", "carry:decide"),
    _place("/aircraft/{aircraft}/not-now", "carry:not_now", "carry:put_off"),
    _place("/aircraft/{aircraft}/write", "writing:look", "writing:act"),
    _place("/aircraft/{aircraft}/load", "loading:look", "loading:begin"),
    _place("/aircraft/{aircraft}/behaviour", "amounts:planned"),
    _place("/behaviour/{settings}", "amounts:one"),
    _place("/behaviour", "amounts:two"),
    _place("/match", "amounts:match", "amounts:to_match"),
    _place("/aircraft/{aircraft}/replies", "writing:replies", "writing:lay_beside"),
    _place("/aircraft/{aircraft}/read-back", "writing:read_back", "writing:compare"),
    _place("/aircraft/{aircraft}/back", "writing:back", "writing:go_back"),
    _place("/aircraft/{aircraft}/cards", "cards:look"),
    _place("/aircraft/{aircraft}/bench", "bench:look"),
    _place("/aircraft/{aircraft}/card/{card}", "cards:one", "cards:mark"),
    _place("/aircraft/{aircraft}/field", "field:look", "field:act"),
    _place("/aircraft/{aircraft}/gates", "cards:gates", "cards:answer"),
    _place("/aircraft/{aircraft}/sign", "cards:sign", "cards:put_name"),
    _place("/aircraft/{aircraft}/flights", "flying:flights", "flying:add"),
    _place("/flight/{flight}", "flying:one", "flying:take"),
    _place("/aircraft/{aircraft}/calibrations", "calibrations:look", "calibrations:keep"),
    _place("/calibration/{calibration}", "calibrations:one", "calibrations:store"),
    _place("/aircraft/{aircraft}/predict", "flying:predict"),
    _place("/aircraft/{aircraft}/retune", "flying:retune"),
    _place("/aircraft/{aircraft}/test-card", "flying:test_card", "flying:seal"),
    _place("/aircraft/{aircraft}/verdict", "flying:verdict", "flying:accept"),
    _place("/hand-over", "handing:look", "handing:act"),
    _place("/work/{work}", "waiting:look"),
)


#: A page is also JSON, its tables CSV, its figures SVG, and its print PDF.
SUFFIXES = (".json", ".csv", ".svg", ".pdf")


def place_of(path: str) -> tuple[Place | None, Mapping[str, str], str]:
    """The page of an address, its named parts, and its suffix: one of ``SUFFIXES`` or nothing."""
    suffix = next((one for one in SUFFIXES if path.endswith(one)), "")
    parts = tuple(unquote(part) for part in path.removesuffix(suffix).split("/") if part)
    for place in PLACES:
        found = place.fits(parts)
        if found is not None:
            return place, found, suffix
    return None, {}, suffix
