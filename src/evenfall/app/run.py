"""The app as a program: finds a port, serves until it is ended, opens a browser where there is one.

The socket listens before anything heavy is imported; folder, engine and physics are loaded in the background once the
first page is on its way.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import os
import secrets
import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from evenfall.errors import InputError

if TYPE_CHECKING:
    from types import FrameType

    import uvicorn
    from starlette.applications import Starlette

    from evenfall.app.backend import Backend
    from evenfall.app.server import Application

FIRST_PORT, PORTS = 8750, 50
"""Ports tried in turn where none is asked for."""
NEVER_S, LEFT_S = 45.0, 300.0
"""Without a terminal: seconds after which it ends where no page ever connected, and after the last one left."""
FRAME_LIMIT = 1_000_000
"""Longest message that is read, bytes: `messages.FRAME_LIMIT`, which is imported only later."""
LOAD_AFTER_S = 0.3
"""Loading begins with the first page, or so many seconds after the start."""


@dataclass(frozen=True, kw_only=True)
class Options:
    """How to serve.

    Args:
        folder: the pilot's folder. plane: name of the plane file to open. port: port to use, 0 any free one, None the
        first free one from 8750. browser: open a browser where there is one. share: serve the local network too.
        linger_s: end by itself so many seconds after the last page left (or none came); None: only without a
        terminal, see `NEVER_S` and `LEFT_S`. as_json: say where in JSON. short_plan: print the plane's plan in short.
    """

    folder: Path
    plane: str | None = None
    port: int | None = None
    browser: bool = True
    share: bool = False
    linger_s: float | None = None
    as_json: bool = False
    short_plan: bool = False


def _keep_small() -> None:
    """Let all threads share one pool of memory where the C library is glibc: several keep what they no longer need.

    Source: mallopt(3), M_ARENA_MAX = -8. Elsewhere nothing happens.
    """
    if sys.platform == "linux":
        import ctypes

        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL("libc.so.6").mallopt(-8, 1)


def serve(options: Options) -> None:
    """Serve until Ctrl-C, SIGTERM or, without a terminal, nobody is left. Raises `InputError` where it cannot."""
    _keep_small()
    with contextlib.suppress(KeyboardInterrupt), _ends_quietly(), contextlib.ExitStack() as opened:
        sockets = [opened.enter_context(_listen("127.0.0.1", options.port))]
        folder = _prepared(options.folder)
        if options.plane is not None and not (folder / options.plane).is_file():
            raise InputError(f"{folder / options.plane}: there is no such plane file; see what lies in {folder}")
        shared = _network() if options.share else ()
        for address in shared:
            sockets.append(opened.enter_context(_listen(address, sockets[0].getsockname()[1])))
        asyncio.run(_run(options, folder, sockets, shared))


async def _run(options: Options, folder: Path, sockets: list[socket.socket], shared: tuple[str, ...]) -> None:
    import uvicorn

    from evenfall.app.backend import backend_of
    from evenfall.app.guard import Guard
    from evenfall.app.server import Application

    port: int = sockets[0].getsockname()[1]
    guard = Guard(port, shared=shared, token=secrets.token_urlsafe(16) if shared else None)
    backend = backend_of(str(folder))
    application = Application(backend, guard=guard)
    server = uvicorn.Server(server_config(application.app))
    server.capture_signals = lambda: _stops(server)  # type: ignore[method-assign]
    serving = asyncio.create_task(server.serve(sockets=sockets))
    while not server.started and not serving.done():
        await asyncio.sleep(0.002)
    if server.started:
        _say_where(options, folder, port, guard.address(entry=True))
        if options.browser and _has_browser():
            threading.Thread(target=_open, args=(_page_address(port, options.plane),), daemon=True).start()
    side = [
        asyncio.create_task(_load(application, backend, options)),
        asyncio.create_task(_linger(application, options, server)),
    ]
    try:
        await serving
    finally:
        for task in side:
            task.cancel()
        await application.close()


def server_config(app: Starlette) -> uvicorn.Config:
    """How the application is served: no header of a request is trusted to say who asks, nothing is logged."""
    import uvicorn

    return uvicorn.Config(
        app,
        http="h11",
        ws="websockets-sansio",
        loop="asyncio",
        lifespan="off",
        log_config=None,
        log_level="critical",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        ws_max_size=FRAME_LIMIT,
        ws_per_message_deflate=False,
        limit_concurrency=300,
        timeout_graceful_shutdown=3,
    )


async def _load(application: Application, backend: Backend, options: Options) -> None:
    """Load folder, engine and the plane in a thread once the first page is on its way."""
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(application.asked.wait(), LOAD_AFTER_S)
    await asyncio.sleep(0.02)
    threading.Thread(target=_loaded, args=(backend, options), name="evenfall loading", daemon=True).start()


def _loaded(backend: Backend, options: Options) -> None:
    from evenfall.app.guard import report
    from evenfall.errors import EvenfallError

    try:
        planes = backend.workspace.folder_page().planes
        wanted = options.plane or next((plane.file for plane in planes if plane.usable), None)
        if wanted is None:
            return
        backend.engine.warm(wanted)
        if options.short_plan:
            _tell_plan(backend, wanted)
    except EvenfallError as error:
        print(error, file=sys.stderr, flush=True)
    except Exception as error:
        report("loading", error)


def _tell_plan(backend: Backend, plane: str) -> None:
    """Print a plane's plan in a few lines."""
    from evenfall.app.messages import Ask
    from evenfall.sheet.brief import brief_plan
    from evenfall.sheet.pages import TunePage

    ask = Ask(kind="ask", seq=0, topic="tune", plane=plane)
    page = backend.engine.answer(ask, progress=lambda words: None, cancelled=lambda: False)
    if isinstance(page, TunePage):
        print(brief_plan(page), flush=True)


async def _linger(application: Application, options: Options, server: uvicorn.Server) -> None:
    """End the server once nobody is left, where that was asked for or there is no terminal."""
    never, left = _lingers(options)
    start = time.monotonic()
    while True:
        await asyncio.sleep(0.25)
        live = application.live
        if live is not None and live.pages:
            continue
        came = live is not None and live.ever
        since = live.last_left if live is not None and came else start
        if time.monotonic() - since > (left if came else never):
            server.should_exit = True
            return


def _lingers(options: Options) -> tuple[float, float]:
    """Seconds it stays without any page, and after the last one left."""
    if options.linger_s is not None:
        return options.linger_s, options.linger_s
    return (math.inf, math.inf) if _terminal() else (NEVER_S, LEFT_S)


def _terminal() -> bool:
    """Somebody may be there to end it: input or output is a terminal."""
    return any(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def _listen(host: str, port: int | None) -> socket.socket:
    """A listening socket; raises `InputError` where the port cannot be had."""
    tried = range(FIRST_PORT, FIRST_PORT + PORTS) if port is None else (port,)
    problem = ""
    for number in tried:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((host, number))
            made.listen(128)
        except (OSError, OverflowError) as error:
            made.close()
            problem = getattr(error, "strerror", None) or str(error)
            continue
        made.setblocking(False)
        return made
    if port is None:
        raise InputError(f"No port from {FIRST_PORT} to {tried[-1]} is free ({problem}); name one: --port N")
    raise InputError(f"Port {port} cannot be used ({problem}); take another, or --port 0 for any free one")


def _network() -> tuple[str, ...]:
    """Addresses of this machine on the local network."""
    from evenfall.app.share import network_addresses

    addresses = network_addresses()
    if not addresses:
        raise InputError("There is no local network to share on; connect to one, or leave --share away")
    return addresses


def _prepared(folder: Path) -> Path:
    """The folder as an absolute path, with the starter files where it is new or empty."""
    path = folder.absolute()
    try:
        empty = not path.exists() or all(name.startswith(".") for name in os.listdir(path))
    except OSError as error:
        raise InputError(f"{folder}: cannot be read as a folder: {error.strerror or error}") from None
    if empty:
        from evenfall.plane.starter import write_starter

        write_starter(path)
    return path


def _page_address(port: int, plane: str | None) -> str:
    place = f"http://127.0.0.1:{port}/"
    return place if plane is None else f"{place}#/plane?plane={quote(plane)}"


def _say_where(options: Options, folder: Path, port: int, shared: str | None) -> None:
    """Print where the page is, and what sharing means."""
    address = _page_address(port, options.plane)
    if options.as_json:
        said = {"address": address, "port": port, "folder": str(folder), "shared": shared, "pid": os.getpid()}
        print(json.dumps(said, ensure_ascii=False), flush=True)
        return
    taken = f" (port {FIRST_PORT} is taken)" if options.port is None and port != FIRST_PORT else ""
    print(f"Evenfall: {address}{taken}\nPlanes and plans are kept in {folder}", flush=True)
    never, left = _lingers(options)
    if math.isinf(left):
        print("Ctrl-C ends it.", flush=True)
    else:
        print(
            f"It ends by itself: {never:g} s from now if no page connects, {left:g} s after the last one has left.",
            flush=True,
        )
    if shared is not None:
        from evenfall.app.share import MEANING, code_picture

        print("\n".join((code_picture(shared), shared, *MEANING)), flush=True)


def _has_browser() -> bool:
    """A browser can be opened: a terminal that somebody sits at, and a screen."""
    if not _terminal():
        return False
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _open(address: str) -> None:
    """Open the page in a browser; never fails."""
    import webbrowser

    with contextlib.suppress(Exception):
        webbrowser.open(address)


@contextlib.contextmanager
def _ends_quietly() -> Iterator[None]:
    """Before the server itself listens to signals: SIGTERM ends as Ctrl-C does."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@contextlib.contextmanager
def _stops(server: uvicorn.Server) -> Iterator[None]:
    """Ctrl-C and SIGTERM end the server; afterwards all is as before and nothing is raised."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.signal(number, server.handle_exit) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
