"""A real browser on a real server: any script error, refused request or request elsewhere fails the test."""

from __future__ import annotations

import contextlib
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, Playwright

from asflown.faces.web.server import open_socket, server_of
from asflown.faces.wiring import workplace

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)


#: The rules of WCAG 2.2 A and AA, and axe's own good practice.
AXE = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")


def launched(playwright: Playwright) -> Browser:
    path = shutil.which("chromium") or CHROMIUM
    return playwright.chromium.launch(executable_path=path, headless=True, args=list(ARGUMENTS))


@contextlib.contextmanager
def serving(store: Path) -> Iterator[str]:
    """The pages of a store on a free port."""
    opened = open_socket(port=0)
    server = server_of(lambda who: workplace(store, who or "ines"), opened)
    server.config.log_level = "critical"
    thread = threading.Thread(target=server.run, kwargs={"sockets": [opened.listening]}, daemon=True)
    thread.start()
    try:
        yield opened.address.rstrip("/")
    finally:
        server.should_exit = True
        thread.join(10)
        opened.listening.close()


@dataclass
class Watched:
    """A window whose faults are kept.

    Attributes
    ----------
    faults
        Script errors, messages of the console that are errors, refused and failed requests, requests elsewhere.
    scripts
        Whether scripts run in it.
    """

    page: Page
    at: str
    faults: list[str] = field(default_factory=list)
    scripts: bool = True

    def go(self, path: str) -> None:
        answer = self.page.goto(self.at + path)
        assert answer is not None
        assert answer.status in (200, 409), f"{path}: {answer.status}"
        self.settled()

    def settled(self) -> None:
        """Wait until the page is there and its scripts have drawn."""
        self.page.wait_for_load_state("load")
        if not self.scripts:
            return
        # what scripts draw at load has been drawn two frames later
        self.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def axe(self, path: str, *rules: str) -> list[str]:
        """What axe-core finds on the page that is open, a line each; of these rules alone where some are named."""
        from axe_playwright_python.sync_playwright import Axe

        only = {"type": "rule", "values": list(rules)} if rules else list(AXE)
        # what is inside of a drawn figure is hidden from readers: its caption and its table stand for it
        left_out = {"exclude": [[".main-svg"]]} if self.page.locator(".main-svg").count() else None
        found = Axe().run(self.page, context=left_out, options={"runOnly": only}).response["violations"]
        return [
            f"{path}: {one['id']}: {one['help']} {'; '.join(str(n['target']) for n in one['nodes'][:3])}"
            for one in found
        ]

    def look(self) -> None:
        """Fail where anything went wrong so far."""
        assert not self.faults, self.faults


@contextlib.contextmanager
def window(browser: Browser, at: str, **options: Any) -> Iterator[Watched]:
    """A window of its own cookies."""
    context: BrowserContext = browser.new_context(**options)
    context.set_default_timeout(60_000)
    page = context.new_page()
    made = Watched(page, at, scripts=options.get("java_script_enabled", True))
    page.on("pageerror", lambda error: made.faults.append(f"script: {error}"))

    def failed(one: Any) -> None:
        # a download, and what a window was still asking for when it went on, end so
        if one.failure != "net::ERR_ABORTED":
            made.faults.append(f"failed: {one.url} {one.failure}")

    page.on("requestfailed", failed)

    def answered(one: Any) -> None:
        if not one.url.startswith((at, "data:", "blob:")):
            made.faults.append(f"elsewhere: {one.url}")

    def refused(one: Any) -> None:
        if one.status >= 400 and one.status != 409:
            made.faults.append(f"refused: {one.status} {one.url}")

    def said(one: Any) -> None:
        if one.type in ("error", "warning") and "409" not in one.text:
            made.faults.append(f"console: {one.text}")

    page.on("request", answered)
    page.on("response", refused)
    page.on("console", said)
    try:
        yield made
    finally:
        context.close()
