"""Help for the tests of the app: a folder and an engine that only pretend, and servers on a real socket."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from websockets.sync.client import ClientConnection, connect

from evenfall.app.backend import Backend
from evenfall.app.guard import Guard
from evenfall.app.run import server_config
from evenfall.app.server import Application
from evenfall.errors import InputError
from evenfall.sheet.folder_page import FolderPage

PLANE, PLAN = "demo_biplane_124.toml", "demo_biplane_124.plan.toml"


@dataclass
class Outcome:
    """What an action came to."""

    file: str
    revision: int
    words: str


@dataclass
class FakeWorkspace:
    """A folder of one file that counts what is done to it."""

    revision: int = 0
    acted: list[Any] = field(default_factory=list)
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    listeners: list[Callable[[], None]] = field(default_factory=list)
    outside: bool = False
    pause: float = 0.0

    def folder_page(self) -> FolderPage:
        return FolderPage(folder="here", planes=(), plans=(), notes=(f"revision {self.revision}",), shared=None)

    def plane_text(self, file: str) -> tuple[str, int]:
        if file != PLANE:
            raise InputError(f"there is no plane file {file}")
        return "name = 'x'\n", self.revision

    plan_text = plane_text

    def check_tune(self, plane_file: str, *, file: str | None = None) -> None:
        """Every plan may be written."""

    def act(self, action: Any, *, token: str, role: str) -> Outcome:
        if token in self.outcomes:
            return self.outcomes[token]
        time.sleep(self.pause)
        if getattr(action, "file", "") == "refused.toml":
            raise InputError("refused.toml is not here")
        if getattr(action, "file", "") == "broken.toml":
            raise RuntimeError("a bug")
        self.revision += 1
        self.acted.append(action)
        outcome = self.outcomes[token] = Outcome(PLANE, self.revision, f"done {self.revision}")
        self.tell()
        return outcome

    def write_tuned(self, plane: str, plan: Any, *, file: str | None, words: str, token: str) -> Outcome:
        return self.act(plan, token=token, role="owner")

    def write_new_plane(self, text: str, plan: Any, *, name: str, words: str, token: str) -> Outcome:
        return self.act((name, text, plan), token=token, role="owner")

    def poll(self) -> bool:
        moved, self.outside = self.outside, False
        return moved

    def subscribe(self, callback: Callable[[], None]) -> Callable[[], None]:
        self.listeners.append(callback)
        return lambda: self.listeners.remove(callback)

    def tell(self) -> None:
        for callback in self.listeners:
            callback()


@dataclass
class FakeEngine:
    """Answers with the folder; a march or a programme waits until `gate` opens, a stick answer is broken."""

    gate: threading.Event = field(default_factory=threading.Event)
    begun: threading.Event = field(default_factory=threading.Event)
    asked: list[str] = field(default_factory=list)
    tuned: int = 0
    airs: list[Any] = field(default_factory=list)
    size: int = 10
    flown: list[tuple[str, str, str]] = field(default_factory=list)

    @property
    def flights(self) -> FakeEngine:
        """The record of flights; counts what is entered in `flown`."""
        return self

    def act(self, action: Any, *, token: str, role: str) -> Outcome:
        self.flown.append((action.what, token, role))
        if action.what == "change.take":
            self.gate.wait(10)
        return Outcome(token, 1, "entered")

    def answer(self, ask: Any, *, progress: Callable[[str], None], cancelled: Callable[[], bool]) -> Any:
        from evenfall.app.engine import Cancelled

        self.asked.append(f"{ask.topic} {ask.seq}")
        if ask.topic == "stick":
            raise ZeroDivisionError("a bug <script>")
        if ask.topic in ("march", "programme"):
            progress("marching" if ask.topic == "march" else "programme flown")
            self.begun.set()
            while not self.gate.wait(0.01):
                if cancelled():
                    raise Cancelled
        return FolderPage(folder="x" * self.size, planes=(), plans=(), notes=(), shared=None)

    def tune(self, plane: str, *, progress: Callable[[str], None], **rest: Any) -> Any:
        self.tuned += 1
        progress("tuning")
        self.begun.set()
        self.gate.wait(10)
        return "plan"

    @property
    def carries(self) -> FakeEngine:
        """Plans carried over and programmes tuned."""
        return self

    def plan(self, action: Any, say: Callable[[str], None], cancelled: Callable[[], bool]) -> Any:
        from evenfall.app.engine import Cancelled

        self.tuned += 1
        self.begun.set()
        while not self.gate.wait(0.01):
            if cancelled():
                raise Cancelled
        return f"{action.what} of {action.plane}"

    def plane_and_plan(self, action: Any, name: str, say: Callable[[str], None]) -> tuple[str, Any]:
        return f"text of {action.to}", f"plan of {action.plane}"

    def sheet_bytes(self, plane: str, plan: str, *, kind: str, paper: str, programme: str | None, air: Any) -> bytes:
        self.airs.append(air)
        return f"{kind} {paper} {plane}{'' if programme is None else ' ' + programme}".encode()

    def warm(self, plane: str) -> None:
        pass


@dataclass
class Browser:
    """Asks an application without a socket, from any peer; keeps its cookies.

    Args:
        peer: address and port it seems to come from. host: the Host it names.
    """

    app: Any
    peer: tuple[str, int]
    host: str
    cookies: httpx.Cookies = field(default_factory=httpx.Cookies)

    def request(self, method: str, path: str, **rest: Any) -> httpx.Response:
        async def go() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app, client=self.peer)
            async with httpx.AsyncClient(
                transport=transport, base_url=f"http://{self.host}", cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, **rest)
                self.cookies = client.cookies
                return answer

        return asyncio.run(go())

    def get(self, path: str, **rest: Any) -> httpx.Response:
        return self.request("GET", path, **rest)

    def post(self, path: str, **rest: Any) -> httpx.Response:
        return self.request("POST", path, **rest)

    def socket(self, headers: dict[str, str] | None = None) -> list[dict[str, Any]]:
        """What is sent on a socket before the browser closes it, at the latest after the first message."""
        wanted = {"host": self.host, "origin": f"http://{self.host}"} if headers is None else headers
        rows = [(name.encode(), value.encode()) for name, value in wanted.items()]
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        scope = {"type": "websocket", "path": "/live", "client": self.peer, "query_string": b"", "subprotocols": []}
        scope |= {"headers": [*rows, (b"cookie", cookies.encode())], "asgi": {"version": "3.0"}}
        sent: list[dict[str, Any]] = []

        async def go() -> None:
            got = asyncio.Event()
            first = True

            async def receive() -> dict[str, Any]:
                nonlocal first
                if first:
                    first = False
                    return {"type": "websocket.connect"}
                await got.wait()
                return {"type": "websocket.disconnect", "code": 1000}

            async def send(message: dict[str, Any]) -> None:
                sent.append(message)
                if message["type"] != "websocket.accept":
                    got.set()

            await self.app(scope, receive, send)

        asyncio.run(go())
        return sent


@dataclass
class Running:
    """A server in this process on a real socket."""

    port: int
    workspace: FakeWorkspace
    engine: FakeEngine
    application: Application

    def connect(self, **options: Any) -> ClientConnection:
        """A page."""
        return page(self.port, **options)


def page(port: int, *, host: str = "127.0.0.1", origin: str | None = None, **options: Any) -> ClientConnection:
    """A connected page that has not read yet."""
    where = f"{host}:{port}"
    wanted: Any = origin or f"http://{where}"
    return connect(f"ws://{where}/live", origin=wanted, max_size=None, open_timeout=10, **options)


@contextlib.contextmanager
def running(*, guard: Callable[[int], Guard] = Guard) -> Iterator[Running]:
    """Serve the pretended folder and engine."""
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    workspace, engine = FakeWorkspace(), FakeEngine()
    application = Application(Backend.of(workspace, engine), guard=guard(port))  # type: ignore[arg-type]
    server = uvicorn.Server(server_config(application.app))

    async def serve() -> None:
        await server.serve(sockets=[listening])
        await application.close()

    thread = threading.Thread(target=lambda: asyncio.run(serve()), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.005)
    try:
        yield Running(port, workspace, engine, application)
    finally:
        engine.gate.set()
        server.should_exit = True
        thread.join(15)
        assert not thread.is_alive()


def read(socket: ClientConnection, *kinds: str, timeout: float = 20.0) -> dict[str, Any]:
    """The next message, of these kinds where some are named."""
    end = time.monotonic() + timeout
    while True:
        said: dict[str, Any] = json.loads(socket.recv(timeout=max(end - time.monotonic(), 0.01)))
        if not kinds or said["kind"] in kinds:
            return said


def say(socket: ClientConnection, **message: Any) -> None:
    """Send a message."""
    socket.send(json.dumps(message))


def ask(socket: ClientConnection, topic: str, seq: int, **rest: Any) -> None:
    """Send an ask."""
    say(socket, kind="ask", seq=seq, topic=topic, plane=PLANE, **rest)


def act(socket: ClientConnection, token: str, seq: int, **action: Any) -> None:
    """Send an action."""
    say(socket, kind="do", seq=seq, token=token, action=action)


@dataclass
class Program:
    """`evenfall app` as a process of its own."""

    port: int
    process: subprocess.Popen[str]
    said: dict[str, Any]

    def memory_mb(self) -> float:
        """Memory the process holds, MB."""
        text = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(text.split("VmRSS:")[1].split()[0]) / 1024

    def end(self, number: int = signal.SIGTERM) -> tuple[int, str]:
        """Send a signal; exit code and what was written to standard error."""
        self.process.send_signal(number)
        _, errors = self.process.communicate(timeout=20)
        return self.process.returncode, errors


@contextlib.contextmanager
def program(folder: Path, *options: str, before: tuple[str, ...] = ()) -> Iterator[Program]:
    """Start `evenfall app --json` on a folder; killed at the end where it still runs."""
    command = [*before, sys.executable, "-m", "evenfall", "app", str(folder), "--no-browser", "--json"]
    if "--port" not in options:
        command += ["--port", "0"]
    started = subprocess.Popen(
        [*command, *options],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    try:
        assert started.stdout is not None
        line = started.stdout.readline()
        assert line, started.communicate(timeout=10)[1]
        said = json.loads(line)
        yield Program(said["port"], started, said)
    finally:
        if started.poll() is None:
            started.kill()
        started.communicate(timeout=10)
