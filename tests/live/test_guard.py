"""Who may come in: nobody but this machine's browser, by the page's own address."""

from __future__ import annotations

import asyncio
from collections.abc import MutableMapping
from typing import Any

import pytest

from pipeline.live.guard import Door, Guard

DOOR = Door(port=8000, token="right")
OWN = [(b"host", b"127.0.0.1:8000")]
PAGE = [(b"origin", b"http://127.0.0.1:8000")]


def scope(kind: str, headers: list[tuple[bytes, bytes]], path: str = "/right/") -> dict[str, Any]:
    return {"type": kind, "path": path, "headers": headers}


@pytest.mark.parametrize(
    ("kind", "headers", "path"),
    [
        ("http", OWN, "/right/"),
        ("http", [(b"host", b"LOCALHOST:8000")], "/right/x"),
        ("http", OWN + PAGE, "/right"),
        ("websocket", OWN + PAGE, "/right/socket"),
        ("websocket", [*OWN, (b"Origin", b"http://localhost:8000")], "/right/socket"),
    ],
)
def test_the_page_itself_comes_in(kind: str, headers: list[tuple[bytes, bytes]], path: str) -> None:
    """Loopback by number or by name, with the port, as RFC 9110 section 7.2 writes a host."""
    assert DOOR.refusal(scope(kind, headers, path)) == ""


@pytest.mark.parametrize("kind", ["http", "websocket"])
@pytest.mark.parametrize(
    ("host", "origin", "path", "refusal"),
    [
        (b"example.org:8000", None, "/right/", "foreign host"),
        (b"127.0.0.1", None, "/right/", "foreign host"),
        (b"127.0.0.1:8001", None, "/right/", "foreign host"),
        (b"127.0.0.1:8000.example.org", None, "/right/", "foreign host"),
        (b"", None, "/right/", "foreign host"),
        (b"127.0.0.1:8000", b"http://example.org", "/right/", "foreign origin"),
        (b"127.0.0.1:8000", b"https://127.0.0.1:8000", "/right/", "foreign origin"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8001", "/right/", "foreign origin"),
        (b"127.0.0.1:8000", b"null", "/right/", "foreign origin"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8000", "/", "wrong token"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8000", "/wrong/", "wrong token"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8000", "/rightly/", "wrong token"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8000", "//right/", "wrong token"),
        (b"127.0.0.1:8000", b"http://127.0.0.1:8000", "/r\u00efght/", "wrong token"),
    ],
)
def test_anybody_else_is_refused(kind: str, host: bytes, origin: bytes | None, path: str, refusal: str) -> None:
    """A page elsewhere says its own origin; a name made to lead here says itself as host; neither knows the token."""
    headers = [(b"host", host)] + ([] if origin is None else [(b"origin", origin)])
    assert DOOR.refusal(scope(kind, headers, path)) == refusal


def test_doubtful_headers_are_refused() -> None:
    """Two hosts: who else reads the other one? A socket without an origin: no browser's."""
    assert DOOR.refusal(scope("http", OWN + OWN)) == "foreign host"
    assert DOOR.refusal(scope("http", [])) == "foreign host"
    assert DOOR.refusal(scope("websocket", OWN)) == "no origin"
    assert DOOR.refusal(scope("websocket", OWN + PAGE + [(b"origin", b"http://example.org")])) == "foreign origin"


def answers(asked: dict[str, Any]) -> tuple[list[MutableMapping[str, Any]], bool]:
    """Return what the guard sends, and whether what it guards was reached."""
    sent: list[MutableMapping[str, Any]] = []
    reached = False

    async def inner(scope: Any, receive: Any, send: Any) -> None:
        nonlocal reached
        reached = True
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive() -> dict[str, Any]:
        return {"type": "websocket.connect"}

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    asyncio.run(Guard(inner, DOOR)(asked, receive, send))
    return sent, reached


def test_what_is_refused_never_reaches_the_page() -> None:
    """HTTP gets 403, a socket is closed before it opens; the lifespan of the server passes."""
    sent, reached = answers(scope("http", [(b"host", b"example.org")]))
    assert (sent[0]["status"], reached) == (403, False)
    sent, reached = answers(scope("websocket", [(b"host", b"example.org")]))
    assert (sent[0]["type"], reached) == ("websocket.close", False)
    assert answers({"type": "lifespan"})[1]


def test_the_page_is_told_to_load_nothing_from_elsewhere() -> None:
    """The policy names this site alone, and lets no other page frame it."""
    sent, reached = answers(scope("http", OWN))
    policy = dict(sent[0]["headers"])[b"content-security-policy"].decode()
    assert reached
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert [word for word in policy.split() if "//" in word] == ["ws://127.0.0.1:8000", "ws://localhost:8000;"]


def test_only_the_head_of_an_answer_is_added_to() -> None:
    """The policy goes to the headers, after the page's own; bytes that follow pass as they are."""
    sent: list[MutableMapping[str, Any]] = []
    body = {"type": "http.response.body", "body": b"<p>", "more_body": False}

    async def inner(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", b"text/html")]})
        await send(body)

    async def receive() -> dict[str, Any]:
        return {"type": "http.request"}

    async def send(message: MutableMapping[str, Any]) -> None:
        sent.append(message)

    asyncio.run(Guard(inner, DOOR)(scope("http", OWN), receive, send))
    assert sent[0]["headers"][0] == (b"content-type", b"text/html")
    assert {name for name, _ in sent[0]["headers"][1:]} == {
        b"content-security-policy", b"referrer-policy", b"x-content-type-options", b"cross-origin-resource-policy",
    }  # fmt: skip
    assert sent[1:] == [body]
