"""Who may speak with the page: this machine's browser, by the page's own address, and nobody else.

Terms
-----
host, origin
    What a browser says of the address it asks, and of the page that makes it ask (RFC 9110, section 7.2; RFC 6454).
    A foreign page that has its own name resolved to this machine still says that name as host.
token
    Stands first in every path. A page elsewhere cannot guess it, and sees nothing without it.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = ("127.0.0.1", "localhost")

POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self' data:; connect-src 'self' ws://127.0.0.1:{port} ws://localhost:{port}; "
    "object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Content security policy: nothing from outside, and in nobody's frame. Templates are compiled in the browser."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """What a request must say to come in."""

    port: int
    token: str

    def refusal(self, scope: Scope) -> str:
        """Return why a request may not come in; nothing if it may."""
        headers = [(bytes(name).lower(), bytes(value)) for name, value in scope.get("headers", ())]
        hosts = [value for name, value in headers if name == b"host"]
        origins = [value for name, value in headers if name == b"origin"]
        own = [f"{name}:{self.port}".encode() for name in LOOPBACK]
        if len(hosts) != 1 or hosts[0].lower() not in own:
            return "foreign host"
        if any(origin.lower() not in [b"http://" + name for name in own] for origin in origins):
            return "foreign origin"
        if scope["type"] == "websocket" and len(origins) != 1:
            return "no origin"
        said = str(scope.get("path", "")).split("/")[1:2]
        if not said or not hmac.compare_digest(said[0].encode(), self.token.encode()):
            return "wrong token"
        return ""


class Guard:
    """An ASGI application that lets in only what the door lets in."""

    def __init__(self, app: App, door: Door) -> None:
        self.app = app
        self.door = door
        policy = POLICY.format(port=door.port)
        self._headers = [
            (b"content-security-policy", policy.encode()),
            (b"referrer-policy", b"no-referrer"),
            (b"x-content-type-options", b"nosniff"),
            (b"cross-origin-resource-policy", b"same-origin"),
        ]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refusal = self.door.refusal(scope)
        if not refusal:
            await self.app(scope, receive, self._adding(send))
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": refusal})
        else:
            kind = [(b"content-type", b"text/plain; charset=utf-8")]
            await send({"type": "http.response.start", "status": 403, "headers": kind + self._headers})
            await send({"type": "http.response.body", "body": f"refused: {refusal}\n".encode()})

    def _adding(self, send: Send) -> Send:
        async def adding(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *self._headers]}
            await send(message)

        return adding
