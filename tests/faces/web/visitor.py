"""Somebody at the pages without a browser: follows links, fills forms in, sends them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urljoin, urlsplit

from bs4 import BeautifulSoup, Tag
from starlette.testclient import TestClient

from asflown.faces.web.application import application
from asflown.faces.wiring import workplace

HOST = "127.0.0.1:8047"
AT = f"http://{HOST}"
#: What a browser says of a form that one of our own pages sends.
OWN = {"origin": AT, "sec-fetch-site": "same-origin"}


@dataclass(frozen=True)
class Seen:
    """A page that was answered."""

    path: str
    status: int
    text: str
    soup: BeautifulSoup
    headers: Mapping[str, str]

    @property
    def title(self) -> str:
        found = self.soup.h1
        return found.get_text(" ", strip=True) if found else ""

    @property
    def sentence(self) -> str:
        found = self.soup.select_one("p.sentence")
        return found.get_text(" ", strip=True) if found else ""

    @property
    def error(self) -> str:
        found = self.soup.select_one(".error")
        return found.get_text(" ", strip=True) if found else ""

    @property
    def done(self) -> str:
        found = self.soup.select_one("p.done")
        return found.get_text(" ", strip=True) if found else ""

    @property
    def words(self) -> str:
        return self.soup.get_text(" ", strip=True)

    @property
    def links(self) -> list[str]:
        """Addresses on the page, without the way to a place on it."""
        made = [str(one["href"]) for one in self.soup.select("a[href]")]
        return [urljoin(self.path, one) for one in made if not one.startswith("#")]

    @property
    def acts(self) -> list[str]:
        """What can be sent from here."""
        return [str(one["value"]) for one in self.soup.select("form input[name=act]")]

    def form(self, act: str) -> Tag:
        for form in self.soup.select("form"):
            field = form.select_one("input[name=act]")
            if field is not None and field["value"] == act:
                return form
        raise AssertionError(f"{self.path} has no act {act}: {self.acts}")


class Visitor:
    """A browser of one's own: its cookies, and the page it is on."""

    def __init__(self, store: Path, who: str = "ines") -> None:
        def open_work(said: str | None) -> Any:
            return workplace(store, said or who)

        self.store = store
        self.client = TestClient(
            application(open_work, frozenset({HOST})), base_url=AT, follow_redirects=True
        )

    def raw(self, path: str, **options: Any) -> Any:
        return self.client.get(path, **options)

    def get(self, path: str, status: int = 200) -> Seen:
        return seen(self.client.get(path), status)

    def json(self, path: str) -> Any:
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def send(
        self,
        page: Seen,
        act: str,
        files: Mapping[str, Any] | None = None,
        status: int = 200,
        **texts: str,
    ) -> Seen:
        """Fill an act's form in, as it stands on the page, and send it."""
        return seen(self.sent(page, act, files, **texts), status)

    def sent(self, page: Seen, act: str, files: Mapping[str, Any] | None = None, **texts: str) -> Any:
        form = page.form(act)
        data = filled(form)
        for name, text in texts.items():
            name = name.replace("__", ".")
            names = {str(field["name"]) for field in form.select("[name]")}
            assert name in names, f"{act} has no field {name}: {sorted(names)}"
            ways = [str(way["value"]) for way in form.select(f"select[name='{name}'] option")]
            assert not ways or text in ways, f"{act}: {name} has no way {text}: {ways}"
            data[name] = text
        for field in form.select("[required]"):
            if field.get("type") == "file":
                assert str(field["name"]) in (files or {}), f"{act} needs {field['name']}"
            else:
                assert data.get(str(field["name"])), f"{act} needs {field['name']}"
        return self.client.post(urljoin(page.path, str(form["action"])), data=data, files=files, headers=OWN)


def filled(form: Tag) -> dict[str, str]:
    """What a browser would send of a form that nobody touched."""
    made: dict[str, str] = {}
    for field in form.select("input[name], textarea[name], select[name]"):
        name, kind = str(field["name"]), str(field.get("type", ""))
        if kind == "file" or (kind in ("radio", "checkbox") and not field.has_attr("checked")):
            continue
        if field.name == "select":
            chosen = field.select_one("option[selected]") or field.select_one("option")
            made[name] = str(chosen["value"]) if chosen else ""
        elif field.name == "textarea":
            made[name] = field.get_text()
        else:
            made[name] = str(field.get("value", ""))
    return made


def seen(answer: Any, status: int) -> Seen:
    assert answer.status_code == status, f"{answer.url}: {answer.status_code}\n{answer.text[:3000]}"
    assert "Traceback" not in answer.text
    parts = urlsplit(str(answer.url))
    path = parts.path + (f"?{parts.query}" if parts.query else "")
    return Seen(path, status, answer.text, BeautifulSoup(answer.text, "html.parser"), answer.headers)
