"""Who may come in: host, origin, token and size of every request are looked at before anything reads it.

What is refused is logged and changes nothing. The rules are common practice for local servers (the OWASP
cheat sheets on cross-site request forgery and on HTTP headers; DNS rebinding is met by the Host header).
"""

import hmac
import logging
import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cel_check.scene.names import shown

LOG = logging.getLogger("cel_check.review")

MOST_BYTES = 64 * 1024
"""Bytes of a request's body: a decision has a few hundred."""

TOKEN_HEADER = "x-desk-token"
"""Header in which the page sends its token with every decision."""

_OPEN = frozenset({"/", "/enter", "/static/desk.css"})
"""Paths that answer without a session: the door, and what it looks like."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)

_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Gate:
    """What opens the desk.

    Attributes:
        port: the port that is listened on.
        host: the address that is listened on.
        password: asked for at the door where the desk is open to a network; else empty.
        link: the token of the opening link.
        session: what the cookie holds once somebody is in.
        token: what the page sends with every decision.
    """

    port: int
    host: str = "127.0.0.1"
    password: str = ""
    link: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def cookie(self) -> str:
        """The cookie's name; ports share cookies, so it bears the port."""
        return f"cel-check-desk-{self.port}"

    def knows_host(self, header: str) -> bool:
        """Return whether a Host header is this server's.

        A name that somebody else's DNS points here is not: only loopback's names, the address that was asked
        for and, where every address is listened on, addresses written as numbers.
        """
        name, colon, port = header.rpartition(":")
        if not colon or port != str(self.port):
            return False
        name = name.lower()
        if name in {"127.0.0.1", "localhost", "[::1]", self.host.lower(), f"[{self.host.lower()}]"}:
            return True
        return self.host in {"0.0.0.0", "::"} and _is_address(name)

    def knows_session(self, headers: Headers) -> bool:
        """Return whether the request comes from somebody who is in."""
        try:
            morsel = SimpleCookie(headers.get("cookie", "")).get(self.cookie)
        except CookieError:
            return False
        return morsel is not None and same(morsel.value, self.session)


def same(one: str, other: str) -> bool:
    """Return whether two secrets are equal, in a time that tells nothing of them."""
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode("utf-8", "replace"))


def _is_address(name: str) -> bool:
    try:
        ip_address(name.removeprefix("[").removesuffix("]"))
    except ValueError:
        return False
    return True


class TooLong(Exception):
    """A body that goes on past what is allowed."""


class Guard:
    """Lets through what the gate knows; everything else is answered here."""

    def __init__(self, app: ASGIApp, gate: Gate) -> None:
        """Stand before an application."""
        self._app = app
        self._gate = gate

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            raise RuntimeError("the desk speaks HTTP only")

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(_HEADERS)
            await send(message)

        refusal = refused(self._gate, scope)
        if refusal:
            await refusal_of(scope, refusal)(scope, receive, dressed)
            return
        await self._app(scope, _limited(receive), dressed)


def refused(gate: Gate, scope: Scope) -> tuple[int, str] | None:
    """Return the status and the reason for which a request is refused; None where it is let in."""
    headers, method, path = Headers(scope=scope), str(scope["method"]), str(scope["path"])
    if not gate.knows_host(headers.get("host", "")):
        return 421, "this desk does not answer to that host"
    if method not in {"GET", "HEAD", "POST"}:
        return 405, "the desk knows GET and POST"
    if headers.get("sec-fetch-site", "none") in {"cross-site", "same-site"} and path != "/":
        return 403, "the request comes from another site"
    if method == "POST":
        return _refused_post(gate, headers, path)
    if not (gate.knows_session(headers) or path in _OPEN):
        return 403, "open the desk by the link that it printed"
    return None


def _refused_post(gate: Gate, headers: Headers, path: str) -> tuple[int, str] | None:
    if not _short(headers.get("content-length", "0")):
        return 413, "the request is too long"
    if headers.get("origin", "") != f"http://{headers.get('host', '')}":
        return 403, "the request comes from another origin"
    return None if path == "/enter" else _refused_decision(gate, headers)


def _refused_decision(gate: Gate, headers: Headers) -> tuple[int, str] | None:
    if not gate.knows_session(headers):
        return 403, "open the desk by the link that it printed"
    if not same(headers.get(TOKEN_HEADER, ""), gate.token):
        return 403, "the request bears no token of this desk"
    if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        return 415, "a decision is sent as JSON"
    return None


def _short(length: str) -> bool:
    digits = length.isascii() and length.isdigit() and len(length) <= 12
    return digits and int(length) <= MOST_BYTES


def _limited(receive: Receive) -> Receive:
    """Count a body while it comes: it may bear no length."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_BYTES:
            raise TooLong
        return message

    return counted


def refusal_of(scope: Scope, refusal: tuple[int, str]) -> PlainTextResponse:
    """Log what is refused, and return the answer; the connection is closed, so that no body follows."""
    status, reason = refusal
    client = scope.get("client") or ("unknown", 0)
    path = shown(str(scope["path"]))[:200]
    LOG.warning("refused (%d): %s %s from %s: %s", status, scope["method"], path, client[0], reason)
    return PlainTextResponse(f"Refused: {reason}.\n", status, {"connection": "close"})


def opening_token(scope: Scope) -> str:
    """Return the token in the address of a request; empty where there is none."""
    query = scope.get("query_string", b"").decode("latin-1")
    return parse_qs(query, max_num_fields=20).get("token", [""])[0] if len(query) < 1000 else ""
