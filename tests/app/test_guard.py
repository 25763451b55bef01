"""Who may talk to the server: Host, Origin, address of the peer; headers of every answer; the entry of guests."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest

from evenfall.app.backend import Backend
from evenfall.app.guard import HEADERS, Guard, Guarded
from evenfall.app.server import Application

PORT, LAN, TOKEN = 8750, "192.168.7.20", "k3VwQm1rT0uXb9Zc5aYd2g"
LOCAL_PEER, OTHER_PEER = ("127.0.0.1", 50000), ("192.168.7.31", 50000)


@pytest.fixture
def guard() -> Guard:
    """A shared server's guard."""
    return Guard(PORT, shared=(LAN,), token=TOKEN)


@pytest.fixture
def client(guard: Guard, served: Any) -> Callable[..., Any]:
    """A browser by address of its machine and Host."""
    application = Application(Backend.of(served.FakeWorkspace(), served.FakeEngine()), guard=guard)

    def make(peer: tuple[str, int] = LOCAL_PEER, host: str = f"127.0.0.1:{PORT}") -> Any:
        return served.Browser(application.app, peer, host)

    return make


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"[::1]:{PORT}", f"LOCALHOST:{PORT}"])
def test_own_names_are_served(client: Any, host: str) -> None:
    answer = client().get("/", headers={"host": host})
    assert answer.status_code == 200
    assert '<div id="app">' in answer.text


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        "127.0.0.1",
        "127.0.0.1:80",
        f"127.0.0.1.evil.example:{PORT}",
        "",
        LAN,
        f"127.0.0.1:{PORT}@evil.example",
        f"0.0.0.0:{PORT}",
        f"127.0.0.1:{PORT}, evil.example",
    ],
)
def test_other_names_are_not(client: Any, host: str) -> None:
    answer = client().get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "has printed" in answer.text
    assert answer.headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"


def test_two_hosts_are_refused(guard: Guard) -> None:
    sent: list[Any] = []
    host = f"127.0.0.1:{PORT}".encode()
    scope = {"type": "http", "method": "GET", "path": "/", "client": LOCAL_PEER, "headers": [(b"host", host)] * 2}

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(Guarded(_never, guard)(scope, _never, send))
    assert sent[0]["status"] == 421


async def _never(*anything: Any) -> Any:
    raise AssertionError("reached the application")


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"])
@pytest.mark.parametrize(("method", "path"), [("POST", "/upload?name=x.toml"), ("POST", "/enter"), ("GET", "/")])
def test_foreign_origin_is_refused(client: Any, method: str, path: str, origin: str) -> None:
    answer = client().request(method, path, headers={"origin": origin}, content=b"format = 1")
    assert answer.status_code == 403
    assert "another page" in answer.text


def test_own_origin_and_none_at_all_may_change(client: Any) -> None:
    assert client().post("/upload?name=x.toml", content=b"a = 1").status_code == 200
    mine = {"origin": f"http://127.0.0.1:{PORT}"}
    assert client().post("/upload?name=y.toml", content=b"a = 1", headers=mine).status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"])
def test_only_three_methods(client: Any, method: str) -> None:
    answer = client().request(method, "/")
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD, POST"


@pytest.mark.parametrize("path", ["/", "/nothing.js", "/sheet.pdf", "/file/x", "/sheet.pdf?plane=a&plan=b"])
def test_every_answer_is_fenced(client: Any, path: str) -> None:
    answer = client().get(path)
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    policy = answer.headers["content-security-policy"]
    assert "frame-ancestors" in policy
    assert "unsafe-eval" not in policy
    assert "server" not in answer.headers


def test_policy_of_the_page(client: Any) -> None:
    policy = client().get("/").headers["content-security-policy"]
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == rules["font-src"] == "'none'"
    assert rules["script-src"] == rules["style-src"] == rules["frame-src"] == "'self'"
    assert rules["connect-src"] == f"'self' ws://127.0.0.1:{PORT}"
    assert rules["frame-ancestors"] == "'none'"
    assert rules["media-src"] == "blob:", "a video is played from the pilot's disc, never fetched"


# --- shared on the local network


def test_a_stranger_gets_the_entering_page_and_nothing_else(client: Any) -> None:
    other = client(OTHER_PEER, f"{LAN}:{PORT}")
    assert "Entering" in other.get("/").text
    assert '<div id="app">' not in other.get("/").text
    for path in ("/mark.svg", "/assets/x.js", "/file/x.toml", "/sheet.pdf?plane=a&plan=b"):
        assert other.get(path).status_code == 403, path
    assert other.post("/upload?name=x.toml", content=b"").status_code == 403
    assert other.socket() == [{"type": "websocket.close", "code": 1008, "reason": ""}]


def test_headers_make_nobody_the_owner(client: Any) -> None:
    claims = {"x-forwarded-for": "127.0.0.1", "x-real-ip": "127.0.0.1", "forwarded": "for=127.0.0.1;host=localhost"}
    other = client(OTHER_PEER, f"{LAN}:{PORT}")
    assert other.get("/mark.svg", headers=claims).status_code == 403
    local_name = client(OTHER_PEER)
    assert local_name.get("/", headers=claims).status_code == 421


def test_the_code_lets_a_guest_in(client: Any) -> None:
    other = client(OTHER_PEER, f"{LAN}:{PORT}")
    answer = other.post("/enter", content=TOKEN.encode(), headers={"origin": f"http://{LAN}:{PORT}"})
    assert answer.status_code == 200
    cookie = answer.headers["set-cookie"]
    assert f"evenfall-{PORT}=" in cookie
    assert "httponly" in cookie.lower()
    assert "samesite=strict" in cookie.lower()
    assert TOKEN not in cookie
    assert '<div id="app">' in other.get("/").text
    assert other.post("/upload?name=x.toml", content=b"a = 1").status_code == 403
    assert _hello(other)["role"] == "guest"
    assert _hello(client())["role"] == "owner"


def test_the_owner_on_the_shared_address_is_a_guest_too(client: Any) -> None:
    assert "Entering" in client((LAN, 50000), f"{LAN}:{PORT}").get("/").text


def test_wrong_codes_are_counted(client: Any) -> None:
    other = client(OTHER_PEER, f"{LAN}:{PORT}")
    for wrong in ("", "x", TOKEN[:-1], TOKEN + "x", "é" * 20, TOKEN.lower(), "\x00", "null", "0", "1"):
        assert other.post("/enter", content=wrong.encode()).status_code == 403
    assert other.post("/enter", content=TOKEN.encode()).status_code == 429
    another = client(("192.168.7.32", 50000), f"{LAN}:{PORT}")
    assert another.post("/enter", content=TOKEN.encode()).status_code == 200
    assert other.post("/enter", content=b"x" * 1000).status_code == 413


@pytest.mark.parametrize("cookie", ["", "x", TOKEN, "é"])
def test_a_made_up_cookie_is_worth_nothing(client: Any, cookie: str) -> None:
    other = client(OTHER_PEER, f"{LAN}:{PORT}")
    answer = other.get("/mark.svg", headers={"cookie": f"evenfall-{PORT}={cookie}".encode()})
    assert answer.status_code == 403


def test_unshared_takes_no_code(client: Any, guard: Guard) -> None:
    lone = Guard(PORT)
    assert lone.address(entry=True) is None
    assert guard.address(entry=True) == f"http://{LAN}:{PORT}/enter#{TOKEN}"
    assert guard.address(entry=False) == f"http://{LAN}:{PORT}/"
    with pytest.raises(Exception, match="code is wrong"):
        lone.enter({"client": LOCAL_PEER}, "")


def _hello(browser: Any) -> Any:
    accepted, hello = browser.socket()
    assert accepted["type"] == "websocket.accept"
    return json.loads(hello["text"])


@pytest.mark.parametrize(
    "headers",
    [
        {"host": f"127.0.0.1:{PORT}"},
        {"host": f"127.0.0.1:{PORT}", "origin": "http://evil.example"},
        {"host": f"127.0.0.1:{PORT}", "origin": "null"},
        {"host": f"127.0.0.1:{PORT}", "origin": f"http://localhost:{PORT}"},
        {"host": f"evil.example:{PORT}", "origin": f"http://evil.example:{PORT}"},
    ],
)
def test_a_socket_needs_its_own_origin(client: Any, headers: dict[str, str]) -> None:
    assert client().socket(headers) == [{"type": "websocket.close", "code": 1008}]
