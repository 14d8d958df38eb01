"""The pages as an ASGI application: from a request to a sheet, as HTML, JSON or CSV."""

from __future__ import annotations

import csv
import hashlib
import io
import logging
import mimetypes
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, unquote, urlencode

from asflown.app.views.sheet import Table
from asflown.app.workplace import Workplace
from asflown.errors import AsflownError, UsageError
from asflown.faces.sheets import pages as sheets
from asflown.faces.sheets.linked import next_act
from asflown.faces.web import errors
from asflown.faces.web.addresses import address_of
from asflown.faces.web.embedded import drawn, embedded
from asflown.faces.web.guard import COOKIE, POLICY_OF_FIGURES, Guard, Seals, TooLong, cookie_of, new_cookie
from asflown.faces.web.on_paper import can_set_pages, pdf
from asflown.faces.web.page import Asked, Delivered, Go, Link, Page, Sent
from asflown.faces.web.pages.beside import others
from asflown.faces.web.ways import Place, place_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

log = logging.getLogger(__name__)
WHO = "asflown-who"
_DONE = "done"
_LAPSED = "this page was opened before the server was started, or in another browser"


@dataclass(frozen=True)
class Context:
    """What linking and forms on a page need to know."""

    here: str
    here_json: str
    names: Mapping[str, str]
    token: str
    whose: str = ""
    typed_act: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)

    def address(self, words: tuple[str, ...]) -> str | None:
        """The page for a command's words; one that names no aircraft is about the sheet's."""
        return address_of(words, self.whose)


@dataclass(frozen=True)
class Pages:
    """The application behind the guard.

    Attributes
    ----------
    open_work
        Opens the workplace for a person's name, ``None`` for the one the server was started with.
    folder
        Where large things that a browser sends are put until they are kept.
    """

    open_work: Callable[[str | None], Workplace]
    seals: Seals
    folder: Path | None = None

    @cached_property
    def version(self) -> str:
        """Of the carried files: changes when one does."""
        parts = [sheets.asset(name) for name in ("sheet.css", "sheet.js", "figures.js", "htmx.min.js")]
        return hashlib.sha256(b"".join(parts)).hexdigest()[:12]

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await _lifespan(receive, send)
            return
        from starlette.requests import Request

        request = Request(scope, receive)
        try:
            response = await self._answered(request)
        except AsflownError as error:
            response = self._in_short(request, error)
        except TooLong:
            raise
        except Exception:
            log.exception("%s %s", request.method, scope["path"])
            response = self._broken(request)
        await response(scope, receive, send)

    async def _answered(self, request: Request) -> Response:
        from starlette.concurrency import run_in_threadpool
        from starlette.responses import PlainTextResponse

        path = request.scope["path"]
        if path.startswith("/assets/"):
            return self._asset(path.removeprefix("/assets/"))
        place, parts, suffix = place_of(path)
        if place is None:
            return await run_in_threadpool(self._missing, request)
        if request.method == "POST":
            from asflown.faces.web.forms import sent_by

            async with sent_by(request) as (sent, token):
                if not self.seals.fits(cookie_of(request.scope), token):
                    return PlainTextResponse(
                        f"Refused: {_LAPSED}. Open the page again and send it from there.\n", status_code=403
                    )
                return await run_in_threadpool(self._act, request, place, parts, sent)
        return await run_in_threadpool(self._look, request, place, parts, suffix)

    # ------------------------------------------------------------------------ looking and acting

    def _asked(self, request: Request, parts: Mapping[str, str], sent: Sent | None = None) -> Asked:
        who = unquote(cookie_of(request.scope, WHO)) or None
        here = request.scope["path"]
        query = {key: value for key, value in request.query_params.items() if key != _DONE}
        if query:
            here += "?" + urlencode(query)
        return Asked(self.open_work(who), parts, query, here, sent)

    def _look(self, request: Request, place: Place, parts: Mapping[str, str], suffix: str) -> Response:
        asked = self._asked(request, parts)
        try:
            made = place.look(asked)
        except AsflownError as error:
            return self._error_page(request, asked, error, suffix)
        if isinstance(made, Go):
            return _going(made)
        if isinstance(made, Delivered):
            return _delivered(made)
        return self._page(request, asked, made, suffix)

    def _act(self, request: Request, place: Place, parts: Mapping[str, str], sent: Sent) -> Response:
        asked = self._asked(request, parts, sent)
        if place.act is None:
            raise UsageError("nothing can be sent to this page")
        try:
            made = place.act(asked)
        except AsflownError as error:
            return self._refused(request, place, asked, sent, error)
        if isinstance(made, Go):
            return _going(made)
        if isinstance(made, Delivered):
            return _delivered(made)
        return self._page(request, asked, made, "", sent=sent)

    def _refused(
        self, request: Request, place: Place, asked: Asked, sent: Sent, error: AsflownError
    ) -> Response:
        """The page again, with what was wrong and what had been typed."""
        try:
            again = place.look(replace(asked, sent=None))
        except AsflownError:
            return self._error_page(request, asked, error, "", is_looking=False)
        if not isinstance(again, Page):
            return self._error_page(request, asked, error, "", is_looking=False)
        status = errors.status_of(error, is_looking=False)
        return self._page(
            request, asked, replace(again, status=status), "", sent=sent, error=errors.shown(error)
        )

    # ------------------------------------------------------------------------------- answers

    def _page(
        self,
        request: Request,
        asked: Asked,
        page: Page,
        suffix: str,
        *,
        sent: Sent | None = None,
        error: errors.Shown | None = None,
    ) -> Response:
        from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse

        if suffix == ".json":
            if page.body is None:
                raise UsageError("this page has no JSON")
            return JSONResponse(page.body(), status_code=page.status)
        if suffix == ".csv":
            table = _table(page, request.query_params.get("table", "1"))
            return PlainTextResponse(csv_of(table), media_type="text/csv; charset=utf-8")
        if suffix == ".svg":
            return drawn(page, request.query_params.get("figure", "1"))
        if suffix == ".pdf":
            name = "-".join(part for part in asked.here.partition("?")[0].split("/") if part)
            return pdf(page, _file_name(name.removesuffix(".pdf")), request.query_params.get("paper", ""))
        cookie = cookie_of(request.scope) or new_cookie()
        here = asked.here
        path, _, query = here.partition("?")
        json_at = _with_suffix(path, ".json", query)
        at = Context(
            here,
            json_at,
            page.names,
            self.seals.token(cookie),
            page.whose,
            sent.act if sent is not None else "",
            {name: values[0] for name, values in sent.texts.items()} if sent is not None else {},
        )
        figures, lacks = embedded(page, lambda number: _svg_at(path, query, number))
        html = sheets.filled(
            page.template,
            title=f"{page.sheet.title} · {page.whose}" if page.whose else page.sheet.title,
            sheet=page.sheet,
            acts=page.acts,
            nexts=[next_act(text, at.address) for text in page.sheet.next_act],
            at=at,
            others=page.others,
            whose=page.whose,
            folds=page.folds,
            error=error,
            done=request.query_params.get(_DONE, "")[:300],
            stamp=page.stamp,
            refresh=page.refresh,
            has_data=page.body is not None and sent is None,
            papers=_paper_links(page, path, query) if can_set_pages() else (),
            has_main=bool(page.more.get("has_main")),
            csv=_csv_links(page, path, query),
            figures=figures,
            lacks=lacks,
            who=asked.work.who,
            version=self.version,
            **{key: value for key, value in page.more.items() if key != "has_main"},
        )
        headers = {"cache-control": "no-store"}
        if figures:
            headers["content-security-policy"] = POLICY_OF_FIGURES
        response = HTMLResponse(html, status_code=page.status, headers=headers)
        if not cookie_of(request.scope):
            response.set_cookie(COOKIE, cookie, httponly=True, samesite="strict", path="/")
        return response

    def _error_page(
        self,
        request: Request,
        asked: Asked,
        error: AsflownError,
        suffix: str,
        *,
        is_looking: bool = True,
    ) -> Response:
        status = errors.status_of(error, is_looking=is_looking)
        whose = _known(asked)
        if status == 404 and whose:
            status = 409  # the page is there, what it would show is not yet
        if suffix == ".json":
            from starlette.responses import JSONResponse

            return JSONResponse({"error": error_json(error)}, status_code=status)
        said = errors.shown(error)
        title = {404: "Not found", 409: "Something comes first", 500: "Damaged"}.get(status, "Not done")
        sheet = errors.sheet(said.says, said.steps, title)
        page = Page(replace(sheet, notes=said.faults), status=status, whose=whose)
        return self._page(request, asked, replace(page, others=others(whose)) if whose else page, "")

    def _in_short(self, request: Request, error: AsflownError) -> Response:
        """An error before there is a page to show it on."""
        from starlette.responses import PlainTextResponse

        return PlainTextResponse(f"{error}\n", status_code=errors.status_of(error, is_looking=False))

    def _broken(self, request: Request) -> Response:
        """A fault of the program itself: said so, without its insides."""
        from starlette.responses import PlainTextResponse

        says = (
            "A fault of asflown: this page could not be made. What was kept before is kept.\n"
            "1. Go back and try once more.\n"
            "2. If it stays, do the same by the command; the terminal of `asflown serve` says what broke.\n"
            "3. Report that text as a fault of asflown.\n"
        )
        return PlainTextResponse(says, status_code=500, headers={"cache-control": "no-store"})

    def _missing(self, request: Request) -> Response:
        asked = self._asked(request, {})
        says = "There is no such page."
        page = Page(errors.sheet(says, ("go to the list of aircraft: asflown aircraft list",)), status=404)
        return self._page(request, asked, page, "")

    def _asset(self, name: str) -> Response:
        from starlette.responses import PlainTextResponse, Response

        from asflown.faces.web.carried import carried

        try:
            data = carried(name)
        except FileNotFoundError:
            return PlainTextResponse("there is no such file\n", status_code=404)
        kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
        if name.endswith(".woff2"):
            kind = "font/woff2"
        return Response(data, media_type=kind, headers={"cache-control": "public, max-age=86400"})


def _known(asked: Asked) -> str:
    """The aircraft that a page is about, where there is such a one."""
    from asflown.app import kept

    try:
        return kept.aircraft(asked.work.store, asked.path["aircraft"]).id
    except (KeyError, AsflownError):
        return ""


def error_json(error: AsflownError) -> dict[str, Any]:
    """An error as JSON."""
    return {
        "what": error.what,
        "where": error.where,
        "next": error.next_step,
        "faults": [{"where": fault.where, "what": fault.what} for fault in error.faults],
    }


def csv_of(table: Table) -> str:
    """A table as CSV, with its column titles.

    A cell that a spreadsheet would take for a formula has an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([title.removesuffix("#") for title in table.columns])
    for row in table.rows:
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue()


def _plain(cell: str) -> str:
    is_formula = cell[:1] in "=@\t\r" or (cell[:1] in "+-" and not _is_number(cell))
    return f"'{cell}" if cell and is_formula else cell


def _is_number(text: str) -> bool:
    try:
        float(text.split(" ")[0])
    except ValueError:
        return False
    return True


def _table(page: Page, said: str) -> Table:
    number = int(said) if said.isdecimal() and len(said) < 4 else 0
    if not 1 <= number <= len(page.sheet.tables):
        raise UsageError(f"this sheet has no table {said}")
    return page.sheet.tables[number - 1]


def _csv_links(page: Page, path: str, query: str) -> list[Link]:
    tables = page.sheet.tables if page.body is not None else ()
    made = []
    for number, table in enumerate(tables, 1):
        more = urlencode({"table": number})
        label = f"{table.title} as CSV" if table.title and len(tables) > 1 else "CSV"
        made.append(Link(label, _with_suffix(path, ".csv", f"{query}&{more}" if query else more)))
    return made


def _paper_links(page: Page, path: str, query: str) -> list[Link]:
    if page.body is None and page.printed is None:
        return []
    letter = f"{query}&paper=letter" if query else "paper=letter"
    return [
        Link("PDF", _with_suffix(path, ".pdf", query)),
        Link("PDF on Letter", _with_suffix(path, ".pdf", letter)),
    ]


def _svg_at(path: str, query: str, number: int) -> str:
    more = urlencode({"figure": number})
    return _with_suffix(path, ".svg", f"{query}&{more}" if query else more)


def _with_suffix(path: str, suffix: str, query: str) -> str:
    quoted = quote("/aircraft" if path == "/" else path)
    return f"{quoted}{suffix}" + (f"?{query}" if query else "")


def _going(go: Go) -> Response:
    from starlette.responses import RedirectResponse

    address = go.address
    if go.done:
        address += ("&" if "?" in address else "?") + urlencode({_DONE: go.done[:300]})
    response = RedirectResponse(address, status_code=303)
    if go.who is not None:
        response.set_cookie(WHO, quote(go.who), httponly=True, samesite="strict", path="/")
    return response


def _file_name(said: str) -> str:
    return "".join(c if c.isascii() and (c.isalnum() or c in "._-") else "_" for c in said)


def _delivered(made: Delivered) -> Response:
    from starlette.responses import Response

    name = _file_name(made.name)
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"}
    return Response(made.data, media_type=made.kind, headers=headers)


async def _lifespan(receive: Any, send: Any) -> None:
    while True:
        message = await receive()
        await send({"type": f"{message['type']}.complete"})
        if message["type"] == "lifespan.shutdown":
            return


def application(open_work: Callable[[str | None], Workplace], hosts: frozenset[str], **options: Any) -> Guard:
    """The pages for a server that is asked by these hosts (``name:port``)."""
    return Guard(Pages(open_work, Seals.fresh()), hosts, **options)
