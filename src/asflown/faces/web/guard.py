"""What a request must be before a page sees it, and what an answer forbids the browser.

Host and Origin are held against the server's own names, so that a page of another site cannot reach it by a
name that points here (DNS rebinding) nor send its forms (cross-site request forgery); bodies are counted as
they arrive.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Served = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "asflown-seal"
#: Bytes of one request at most: a long flight log.
MOST_BYTES = 4 * 2**30
_SAFE = frozenset({"GET", "HEAD"})
_METHODS = _SAFE | {"POST"}
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
#: The same for a page with figures: two style elements of the plotting script as it is carried, by their hash
#: (the empty one it writes its rules into, and one of its tool bar). A browser test tells when they move.
POLICY_OF_FIGURES = POLICY.replace(
    "style-src 'self'",
    "style-src 'self' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
    " 'sha256-ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o='",
)
_HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), usb=(), serial=()"),
)


class TooLong(Exception):
    """A body went past what is taken."""


@dataclass(frozen=True)
class Seals:
    """Tokens of forms: each belongs to the cookie of one browser and to one run of the server."""

    secret: bytes

    @classmethod
    def fresh(cls) -> Seals:
        """Seals that nobody can know."""
        return cls(secrets.token_bytes(32))

    def token(self, cookie: str) -> str:
        """The token that goes with a cookie."""
        return hmac.new(self.secret, cookie.encode(), hashlib.sha256).hexdigest()

    def fits(self, cookie: str, token: str) -> bool:
        """Whether a form's token is the one that was given with this cookie."""
        return bool(cookie) and hmac.compare_digest(self.token(cookie), token)


def new_cookie() -> str:
    """A cookie for a browser that has none."""
    return secrets.token_urlsafe(24)


def cookie_of(scope: Scope, name: str = COOKIE) -> str:
    """A cookie a request came with, empty where there is none."""
    for key, value in scope["headers"]:
        if key == b"cookie":
            try:
                found = SimpleCookie(value.decode("latin-1")).get(name)
            except CookieError:
                continue
            if found is not None:
                return found.value
    return ""


@dataclass(frozen=True)
class Guard:
    """Stands before the pages.

    Attributes
    ----------
    hosts
        ``name:port`` the server may be asked by.
    """

    served: Served
    hosts: frozenset[str]
    most_bytes: int = MOST_BYTES

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve, or refuse."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.served(scope, receive, send)
            return
        headers = {key: value.decode("latin-1") for key, value in scope["headers"]}
        refused = self._refusal(scope, headers)
        if refused is not None:
            await _answer(send, *refused)
            return
        counted = 0
        began = False

        async def counting() -> Message:
            nonlocal counted
            message = await receive()
            counted += len(message.get("body", b""))
            if counted > self.most_bytes:
                raise TooLong
            return message

        async def covered(message: Message) -> None:
            nonlocal began
            if message["type"] == "http.response.start":
                began = True
                there = {key for key, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *((key, value) for key, value in _HEADERS if key not in there),
                ]
            await send(message)

        try:
            await self.served(scope, counting, covered)
        except TooLong:
            if not began:
                await _answer(send, 413, f"a request may be {self.most_bytes} bytes at most")

    def _refusal(self, scope: Scope, headers: dict[bytes, str]) -> tuple[int, str] | None:
        if headers.get(b"host", "").lower() not in self.hosts:
            return 421, "this is not the name this server was started for"
        method = scope["method"]
        if method not in _METHODS:
            return 405, "only looking (GET) and sending (POST) are known here"
        length = headers.get(b"content-length", "0")
        if not length.isdecimal() or int(length) > self.most_bytes:
            return 413, f"a request may be {self.most_bytes} bytes at most"
        if method in _SAFE:
            return None
        own = {f"http://{host}" for host in self.hosts}
        origin = headers.get(b"origin")
        site = headers.get(b"sec-fetch-site")
        if (origin is not None and origin.lower() not in own) or (site is not None and site != "same-origin"):
            return 403, "a form of another site is not taken"
        if origin is None and site is None:
            return 403, "the browser does not say which page this form came from"
        return None


async def _answer(send: Send, status: int, says: str) -> None:
    body = f"Refused: {says}.\n".encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": [*headers, *_HEADERS]})
    await send({"type": "http.response.body", "body": body})
