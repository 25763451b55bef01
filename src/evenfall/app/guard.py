"""Who may talk to the server: decided by the peer's address, the Host and the Origin of a request, by nothing else.

The pilot's own machine is the owner. Where the server is shared, others on the network become guests with the code
that was shown to them. Every answer leaves with the headers that keep a browser from doing more than the page needs.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import sys
import time
import traceback
from collections import OrderedDict, deque
from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

Role = Literal["owner", "guest"]

LOCAL_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})
METHODS = frozenset({"GET", "HEAD", "POST"})
TRIES, TRIES_WINDOW, TRIES_PEERS = 10, 60.0, 256
"""Wrong codes one address may try within so many seconds; addresses remembered."""
COOKIES_KEPT = 200
"""Browsers that may hold an entry at a time."""

HEADERS: Mapping[str, str] = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
"""Leave with every answer, beside the content-security policy."""


def page_policy(host: str) -> str:
    """Content-security policy of the page itself: its own files, its own socket, and a video the pilot opens in it."""
    return (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src blob:; "
        f"font-src 'none'; connect-src 'self' ws://{host}; frame-src 'self'; form-action 'none'; base-uri 'none'; "
        "frame-ancestors 'none'"
    )


class Refusal(Exception):
    """A request that is not answered."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status
        self.words = words


class Guard:
    """Decides who is asking.

    Args:
        port: port of the server. shared: addresses of this machine on the local network where it is shared there.
        token: the code that lets others in; None where it is not shared.
    """

    def __init__(self, port: int, *, shared: tuple[str, ...] = (), token: str | None = None) -> None:
        self.port = port
        self.shared = shared
        self._token = token
        self._cookies: OrderedDict[str, None] = OrderedDict()
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    @property
    def cookie(self) -> str:
        """Name of the cookie that holds a guest's entry."""
        return f"evenfall-{self.port}"

    def address(self, *, entry: bool) -> str | None:
        """Address to give to others, with the code behind `#` where `entry`; None where it is not shared."""
        if self._token is None or not self.shared:
            return None
        place = f"http://{self.shared[0]}:{self.port}/"
        return f"{place}enter#{self._token}" if entry else place

    def admit(self, scope: Scope) -> Role | None:
        """Who is asking, None for a stranger; raises `Refusal` for what is not answered at all."""
        host = self._host(scope)
        local = host in self._hosts(LOCAL_NAMES) and _loopback(scope)
        if not local and host not in self._hosts(self.shared):
            raise Refusal(421, "This address is not served here. Open the address that Evenfall has printed.")
        socket = scope["type"] == "websocket"
        if not socket and scope["method"] not in METHODS:
            raise Refusal(405, "Only GET, HEAD and POST are answered.")
        origins = _headers(scope, b"origin")
        if origins != [f"http://{host}"] and (origins or socket):
            raise Refusal(403, "This was asked by another page. Open the address that Evenfall has printed.")
        if local:
            return "owner"
        return "guest" if self._known(scope) else None

    def enter(self, scope: Scope, token: str) -> str:
        """A cookie for a guest who has the code; raises `Refusal` where it is wrong or tried too often."""
        peer = _peer(scope)
        tries = self._wrong.setdefault(peer, deque())
        self._wrong.move_to_end(peer)
        while len(self._wrong) > TRIES_PEERS:
            self._wrong.popitem(last=False)
        now = time.monotonic()
        while tries and now - tries[0] > TRIES_WINDOW:
            tries.popleft()
        if len(tries) >= TRIES:
            raise Refusal(429, "Too many wrong codes. Wait a minute, then scan the code again.")
        if self._token is None or not hmac.compare_digest(token.encode(), self._token.encode()):
            tries.append(now)
            raise Refusal(403, "The code is wrong or from an earlier start. Scan the code that is shown now.")
        made = secrets.token_urlsafe(24)
        self._cookies[made] = None
        while len(self._cookies) > COOKIES_KEPT:
            self._cookies.popitem(last=False)
        return made

    def _hosts(self, names: frozenset[str] | tuple[str, ...]) -> set[str]:
        port = "" if self.port == 80 else f":{self.port}"
        return {f"{name}{port}" for name in names}

    def _host(self, scope: Scope) -> str:
        hosts = _headers(scope, b"host")
        return hosts[0].lower() if len(hosts) == 1 else ""

    def _known(self, scope: Scope) -> bool:
        for header in _headers(scope, b"cookie"):
            for part in header.split(";"):
                name, _, value = part.strip().partition("=")
                if name == self.cookie and any(hmac.compare_digest(value.encode(), k.encode()) for k in self._cookies):
                    return True
        return False


class Guarded:
    """An application behind the guard; who is asking is left in `scope["role"]` ("owner", "guest" or None)."""

    def __init__(self, app: ASGIApp, guard: Guard) -> None:
        self._app = app
        self._guard = guard

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        begun = False

        async def safe(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message = {**message, "headers": _with_defaults(message.get("headers", []), scope)}
            await send(message)

        try:
            scope["role"] = self._guard.admit(scope)
            await self._app(scope, receive, safe)
        except Refusal as refusal:
            await _refuse(scope, safe, refusal)
        except Exception as error:
            report(f"{scope['type']} {scope['path'][:80]!r}", error)
            if scope["type"] == "http" and not begun:
                await _refuse(scope, safe, Refusal(500, "A fault in Evenfall itself; the terminal says which."))


async def _refuse(scope: Scope, send: Send, refusal: Refusal) -> None:
    """Answer a refusal in plain words and close; a socket is refused before it opens."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    body = (refusal.words + "\n").encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    headers += [(b"connection", b"close"), (b"cache-control", b"no-store")]
    if refusal.status == 405:
        headers.append((b"allow", ", ".join(sorted(METHODS)).encode()))
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def report(what: str, error: BaseException) -> None:
    """One line on standard error about a fault that was survived."""
    frames = traceback.extract_tb(error.__traceback__)
    place = f" at {frames[-1].filename}:{frames[-1].lineno}" if frames else ""
    words = " ".join(str(error).split())[:300]
    print(f"evenfall: {what}: {type(error).__name__}: {words}{place}", file=sys.stderr, flush=True)


def _with_defaults(headers: list[tuple[bytes, bytes]], scope: Scope) -> list[tuple[bytes, bytes]]:
    given = {name.lower() for name, _ in headers}
    wanted = {**HEADERS, "content-security-policy": page_policy("".join(_headers(scope, b"host")))}
    if scope.get("role") is None:
        wanted["content-security-policy"] = "default-src 'none'; frame-ancestors 'none'"
    rows = [(name.encode(), value.encode("latin-1")) for name, value in wanted.items()]
    return headers + [row for row in rows if row[0] not in given]


def _headers(scope: Scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key.lower() == name]


def _peer(scope: Scope) -> str:
    client = scope.get("client")
    return client[0] if client else ""


def _loopback(scope: Scope) -> bool:
    try:
        return ipaddress.ip_address(_peer(scope)).is_loopback
    except ValueError:
        return False
