"""What of an aircraft is private: where it lives, what binds its radio, and the names of people."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.catalog import Belonging, Catalog
from asflown.core.record import Record, Setting

#: Words in a parameter's name that tell a place (common practice, no source).
PLACES = frozenset({"home", "lat", "lon", "latitude", "longitude"})
#: Words in a parameter's name that tell a key or a person (common practice, no source).
SECRETS = frozenset(
    {"bind", "binding", "key", "uid", "passphrase", "password", "secret", "ssid", "serial", "callsign"}
    | {"owner", "pilot", "phone", "email"}
)

Body = TypeVar("Body")


@dataclass(frozen=True)
class Private:
    """What is left out of a hand-over.

    Attributes
    ----------
    settings
        Names of parameters whose values are left out.
    names
        Names of people, each with what stands for it.
    values
        What private settings were set to, as far as it is telling: longer than three signs.
    """

    settings: frozenset[str]
    names: Mapping[str, str]
    values: frozenset[str] = frozenset()

    @property
    def says(self) -> tuple[str, ...]:
        """What is left out, in words."""
        parts = [f"setting {name}: a place, a key or a name" for name in sorted(self.settings)]
        if self.names:
            parts.append(f"{len(self.names)} names of people: shown as person 1, person 2, …")
        return tuple(parts)

    def without(self, body: Body) -> Body:
        """The same JSON-like body with people's names and private values replaced in every text."""
        made: Any = self._replaced(body)
        return made  # type: ignore[no-any-return]

    def hides(self, setting: Setting) -> bool:
        """Whether a setting is left out: it is private, or somebody's name stands in its value."""
        return setting.key.name in self.settings or self._named(setting.value)

    def is_told_in(self, text: str) -> bool:
        """Whether a text tells a private value or a name."""
        return bool(self._pattern and self._pattern.search(text))

    def _named(self, text: str) -> bool:
        return any(re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text) for name in self.names)

    @cached_property
    def _pattern(self) -> re.Pattern[str] | None:
        words = sorted({*self.names, *self.values}, key=len, reverse=True)
        return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)") if words else None

    def _replaced(self, body: Any) -> Any:
        if isinstance(body, str):
            if self._pattern is None:
                return body
            return self._pattern.sub(lambda found: self.names.get(found[0], "(left out)"), body)
        if isinstance(body, Mapping):
            return {key: self._replaced(value) for key, value in body.items()}
        if isinstance(body, list | tuple):
            return [self._replaced(value) for value in body]
        return body


def private_of(store: Store, aircraft: str, records: Iterable[Record]) -> Private:
    """What is private about an aircraft: by what its release states, and by the words of names.

    Parameters
    ----------
    records
        Every record that is to be handed over with it, also of other aircraft.
    """
    described = kept.aircraft(store, aircraft)
    people = dict.fromkeys(
        [
            *(entry.who for entry in store.book(aircraft)),
            *([described.owner] if described.owner else []),
            *(decision.who for found in kept.refits(store, aircraft) for decision in found.refit.decisions),
        ]
    )
    names = {name: f"person {n}" for n, name in enumerate(filter(None, people), 1) if name != "not stated"}
    settings: set[str] = set()
    values: set[str] = set()
    for record in records:
        found = kept.release_with_document(store, record.release) if record.release else None
        catalog = found[0].catalog if found else None
        for setting in record.settings:
            if is_private(setting.key.name, catalog):
                settings.add(setting.key.name)
                values.add(setting.value)
    return Private(frozenset(settings), names, frozenset(value for value in values if len(value) > 3))


def is_private(name: str, catalog: Catalog | None) -> bool:
    """Whether a setting tells a place, a key or a person.

    The words of a name tell keys and people always, and places where no catalog states what the setting
    belongs to.
    """
    parameter = catalog.by_name.get(name) if catalog else None
    if parameter is not None and (parameter.private or parameter.belonging is Belonging.PLACE):
        return True
    states_belonging = parameter is not None and parameter.belonging is not Belonging.UNKNOWN
    return _has_word(name, SECRETS) or (not states_belonging and _has_word(name, PLACES))


def _has_word(name: str, wanted: frozenset[str]) -> bool:
    words = re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", name)
    return any(word.lower() in wanted for word in words)
