"""What a page is: a sheet, the acts a person can do on it, and what was asked of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, BinaryIO

from asflown.app.views.sheet import Sheet
from asflown.app.workplace import Workplace
from asflown.faces.drawings import Drawings

if TYPE_CHECKING:
    from asflown.faces.report.printed import Printed


@dataclass(frozen=True, slots=True)
class Way:
    """One choice of a field."""

    value: str
    label: str


@dataclass(frozen=True)
class Field:
    """One thing to fill in.

    Attributes
    ----------
    kind
        ``text``, ``area``, ``choice``, ``ways`` (radio buttons), ``tick``, ``file``, ``files`` or ``hidden``.
    is_aside
        Seldom wanted: folded away under the act's ``aside``.
    """

    name: str
    label: str
    kind: str = "text"
    value: str = ""
    ways: tuple[Way, ...] = ()
    needed: bool = False
    hint: str = ""
    is_aside: bool = False


@dataclass(frozen=True)
class Act:
    """One thing a person can do on a page.

    Attributes
    ----------
    id
        Which act of its page; sent with the form.
    label
        Of the button.
    address
        Page that the form is sent to; the act's own page when empty.
    cautions
        What to keep in mind at this very step.
    is_in_place
        Whether the sheet is replaced without a new page where there is a script.
    """

    id: str
    label: str
    fields: tuple[Field, ...] = ()
    title: str = ""
    note: str = ""
    address: str = ""
    cautions: tuple[str, ...] = ()
    is_in_place: bool = False
    aside: str = "more"

    @property
    def has_file(self) -> bool:
        """Whether a file is sent with it."""
        return any(one.kind in ("file", "files") for one in self.fields)


@dataclass(frozen=True, slots=True)
class Link:
    """A way to another page."""

    label: str
    address: str
    is_here: bool = False


@dataclass(frozen=True)
class Page:
    """What is shown.

    Attributes
    ----------
    body
        The same as JSON; made when asked for.
    names
        Address by name: where a cell is that name alone it becomes a link.
    others, whose
        Further sheets of the same aircraft, and which aircraft that is.
    folds
        Foldings of the same sheet.
    template
        For pages with more than a sheet has, and ``more`` is what that template takes.
    stamp
        Class of a verdict's stamp.
    refresh
        Whether the page asks anew by itself, as work goes on.
    figures
        Drawn below the tables; made when they are shown.
    printed
        What its PDF is where that is more than the sheet with its figures: lines to sign on, boxes.
    """

    sheet: Sheet
    body: Callable[[], object] | None = None
    acts: tuple[Act, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    others: tuple[Link, ...] = ()
    whose: str = ""
    folds: tuple[Link, ...] = ()
    template: str = "sheet.html"
    more: Mapping[str, Any] = field(default_factory=dict)
    stamp: str = ""
    refresh: bool = False
    status: int = 200
    figures: Callable[[], Drawings] | None = None
    printed: Callable[[], Printed] | None = None


@dataclass(frozen=True, slots=True)
class Go:
    """After an act: the page to go to, what to say there, and the name to work under from now on."""

    address: str
    done: str = ""
    who: str | None = None


@dataclass(frozen=True)
class Delivered:
    """A file as the answer."""

    data: bytes
    name: str
    kind: str = "application/octet-stream"


@dataclass(frozen=True)
class Uploaded:
    """A file that a form sent.

    Attributes
    ----------
    file
        Open for reading, at its beginning, until the request is answered.
    """

    name: str
    file: BinaryIO

    @property
    def data(self) -> bytes:
        """All of it."""
        self.file.seek(0)
        return self.file.read()


@dataclass(frozen=True)
class Sent:
    """What a form sent.

    Attributes
    ----------
    files
        By field, in the order sent; a field left empty is not in it.
    """

    act: str
    texts: Mapping[str, Sequence[str]]
    files: Mapping[str, Sequence[Uploaded]]

    def text(self, name: str) -> str:
        """One text, empty where none was sent."""
        found = self.texts.get(name, ())
        return found[0].strip() if found else ""

    def said(self, name: str) -> str | None:
        """One text, ``None`` where it was left empty."""
        return self.text(name) or None

    def ticked(self, name: str) -> bool:
        """Whether a box was ticked."""
        return bool(self.texts.get(name))

    def upload(self, name: str) -> Uploaded | None:
        """The file of a field, ``None`` where none was sent."""
        found = self.files.get(name, ())
        return found[0] if found else None

    def file(self, name: str) -> tuple[bytes, str] | None:
        """Content and name of the file of a field, ``None`` where none was sent."""
        found = self.upload(name)
        return None if found is None else (found.data, found.name)


@dataclass(frozen=True)
class Asked:
    """One request.

    Attributes
    ----------
    path
        Named parts of the address.
    here
        The page's own address, with its query.
    sent
        What a form sent; ``None`` where the page is only looked at.
    """

    work: Workplace
    path: Mapping[str, str]
    query: Mapping[str, str]
    here: str
    sent: Sent | None = None

    def __getitem__(self, name: str) -> str:
        return self.path[name]
