"""The web application: the page's files, the socket, the printed sheet, files in and out."""

from __future__ import annotations

import asyncio
import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute

from evenfall.app.backend import Backend
from evenfall.app.bundle import Bundle
from evenfall.app.guard import Guard, Guarded, Refusal
from evenfall.app.jobs import Worker
from evenfall.app.share import entering_page
from evenfall.errors import EvenfallError, FileFaults, InputError

if TYPE_CHECKING:
    from starlette.websockets import WebSocket

    from evenfall.app.guard import Role
    from evenfall.app.live import Live
    from evenfall.app.messages import AirAsk
    from evenfall.app.sheet_engine import SheetKind
    from evenfall.sheet.pdf import Paper

STATIC = Path(__file__).with_name("static")
UPLOAD_LIMIT = 500_000
"""Largest file taken, bytes."""
ENTER_LIMIT = 200
WRITE_AT = 1_000_000
"""Bytes of a file on its way that are held before they are written."""
WAITING_SHEETS = 8
"""Sheets that may wait to be printed."""

PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'"
DOWNLOAD_POLICY = "default-src 'none'; sandbox; frame-ancestors 'none'"
PRINT_POLICY = "frame-ancestors 'self'"
"""A browser shows a PDF by a page of its own, which a stricter policy would break."""

MISSING = (
    "The page is missing from this installation. Install Evenfall again; in a source folder, build it with "
    "`npm ci && npm run build` in web/.\n"
)
KIND_WORDS = {
    "csv": "A table of a recorded flight: look at its columns and lines, then confirm them.",
    "gpx": "A recorded way: look at its lines, then confirm them.",
    "nmea": "A receiver's sentences: look at the lines, then confirm them.",
    "wav": "A sound: choose the part in which the propeller is heard.",
    "other": "",
}
"""What can be done with a file of each kind."""
SHEETS: dict[str, tuple[SheetKind, str, str]] = {
    "/sheet.pdf": ("pdf", "application/pdf", PRINT_POLICY),
    "/sheet.html": ("html", "text/html; charset=utf-8", ""),
    "/sheet-1.svg": ("svg1", "image/svg+xml", PICTURE_POLICY),
    "/sheet-2.svg": ("svg2", "image/svg+xml", PICTURE_POLICY),
    "/sheet-3.svg": ("svg3", "image/svg+xml", PICTURE_POLICY),
}
"""Address to kind, type and policy."""
RECORDS: dict[str, tuple[Literal["json", "csv"], str]] = {
    "/record.json": ("json", "application/json"),
    "/record.csv": ("csv", "text/csv; charset=utf-8"),
}
"""Address of the record to kind and type."""


class Application:
    """The application over a folder and an engine that may still be loading.

    `app` is what a server runs; `live` are the connected pages, None until the first has come;
    `asked` is set once the page was asked for.
    """

    def __init__(self, backend: Backend, *, guard: Guard, static: Path = STATIC) -> None:
        self._backend = backend
        self._guard = guard
        self._bundle = Bundle(static)
        self._printer = Worker("printer")
        self.live: Live | None = None
        self.asked = asyncio.Event()
        routes = [
            Route("/", self._page),
            Route("/assets/{name:path}", self._asset),
            WebSocketRoute("/live", self._socket),
            *(Route(path, self._sheet) for path in SHEETS),
            Route("/file/{name}", self._file),
            Route("/upload", self._upload, methods=["POST"]),
            Route("/original", self._original, methods=["POST"]),
            Route("/card.html", self._card),
            *(Route(path, self._record) for path in RECORDS),
            Route("/enter", self._enter, methods=["GET", "POST"]),
            Route("/{name}", self._other),
        ]
        self.app = Starlette(
            routes=routes,
            middleware=[Middleware(Guarded, guard=guard)],
            exception_handlers={HTTPException: _not_there, EvenfallError: _faulty},
        )
        self.app.router.redirect_slashes = False

    async def close(self) -> None:
        """Finish what was taken, end the threads."""
        if self.live is not None:
            await self.live.close()
        self._printer.close()

    async def _page(self, request: Request) -> Response:
        if _role(request) is None:
            return entering_page()
        self.asked.set()
        return self._piece(request, "index.html", "no-cache") or PlainTextResponse(MISSING, 503)

    async def _asset(self, request: Request) -> Response:
        name = f"assets/{request.path_params['name']}"
        return self._known(request, self._piece(request, name, "public, max-age=31536000, immutable"))

    async def _other(self, request: Request) -> Response:
        return self._known(request, self._piece(request, request.path_params["name"], "no-cache"))

    def _known(self, request: Request, response: Response | None) -> Response:
        _let_in(request)
        if response is None:
            raise HTTPException(404)
        return response

    def _piece(self, request: Request, name: str, caching: str) -> Response | None:
        piece = self._bundle.get(name)
        if piece is None:
            return None
        headers = {"cache-control": caching, "vary": "accept-encoding"}
        if piece.zipped is not None and "gzip" in request.headers.get("accept-encoding", ""):
            return Response(piece.zipped, headers={**headers, "content-encoding": "gzip"}, media_type=piece.kind)
        return Response(piece.body, headers=headers, media_type=piece.kind)

    async def _socket(self, socket: WebSocket) -> None:
        role: Role | None = socket.scope["role"]
        if role is None:
            await socket.close(1008)
            return
        if self.live is None:
            live = await asyncio.to_thread(_live_type)
            if self.live is None:
                self.live = live(self._backend, self._guard)
        await self.live.serve(socket, role)

    async def _sheet(self, request: Request) -> Response:
        _let_in(request)
        plane, plan = request.query_params.get("plane", ""), request.query_params.get("plan", "")
        paper = request.query_params.get("paper", "a4")
        if paper not in ("a4", "letter") or not plane or not plan:
            raise Refusal(400, "A sheet needs plane=FILE, plan=FILE and, if wanted, paper=a4 or paper=letter.")
        if len(self._printer) >= WAITING_SHEETS:
            raise Refusal(503, "Several sheets are being made already; ask again in a moment.")
        kind, media, policy = SHEETS[request.url.path]
        programme = request.query_params.get("programme") or None
        if kind == "svg3" and programme is None:
            raise Refusal(400, "The third page is a programme's: it needs programme=NAME besides.")
        air = _air_asked(request)
        body = await self._printer.result(
            lambda: self._backend.engine.sheet_bytes(
                plane, plan, kind=kind, paper=cast("Paper", paper), programme=programme, air=air
            )
        )
        if kind == "html":
            from evenfall.sheet.html import POLICY

            policy = f"{POLICY}; form-action 'none'; frame-ancestors 'self'"
        headers = {"content-security-policy": policy, "cache-control": "no-store"}
        if kind == "pdf":
            headers["content-disposition"] = f"inline; {_named(plan.removesuffix('.plan.toml') + '.pdf')}"
        return Response(body, headers=headers, media_type=media)

    async def _card(self, request: Request) -> Response:
        _let_in(request)
        plane, plan = request.query_params.get("plane", ""), request.query_params.get("plan", "")
        if not plane or not plan:
            raise Refusal(400, "A card needs plane=FILE and plan=FILE.")
        if len(self._printer) >= WAITING_SHEETS:
            raise Refusal(503, "Several sheets are being made already; ask again in a moment.")
        air = _air_asked(request)
        body = await self._printer.result(lambda: self._backend.engine.flights.card_file(plane, plan, air=air))
        from evenfall.sheet.card_html import POLICY

        headers = {
            "content-security-policy": f"{POLICY}; frame-ancestors 'self'",
            "cache-control": "no-store",
            "content-disposition": f"inline; {_named(plan.removesuffix('.plan.toml') + '.card.html')}",
        }
        return Response(body, headers=headers, media_type="text/html; charset=utf-8")

    async def _record(self, request: Request) -> Response:
        """The whole record of flights, to keep or to take into another folder."""
        _let_in(request)
        kind, media = RECORDS[request.url.path]
        body = await self._printer.result(lambda: self._backend.engine.flights.exported(kind))
        headers = {
            "content-disposition": f"attachment; {_named('evenfall-record.' + kind)}",
            "content-security-policy": DOWNLOAD_POLICY,
            "cache-control": "no-store",
        }
        return Response(body, headers=headers, media_type=media)

    async def _file(self, request: Request) -> Response:
        _let_in(request)
        name = request.path_params["name"]

        def read() -> str:
            workspace = self._backend.workspace
            return (workspace.plan_text if name.endswith(".plan.toml") else workspace.plane_text)(name)[0]

        text = await asyncio.to_thread(read)
        headers = {
            "content-disposition": f"attachment; {_named(name)}",
            "content-security-policy": DOWNLOAD_POLICY,
            "cache-control": "no-store",
        }
        return Response(text.encode(), headers=headers, media_type="application/toml")

    async def _upload(self, request: Request) -> Response:
        if _role(request) != "owner":
            raise Refusal(403, "A guest brings no files in. Do this on the machine Evenfall runs on.")
        name, base = request.query_params.get("name", ""), request.query_params.get("base", "0")
        if not base.isdecimal() or len(base) > 9:
            raise Refusal(400, "base is the revision of the file that is replaced, a whole number; 0 for a new file.")
        body = await limited_body(request, UPLOAD_LIMIT)

        def write() -> dict[str, object]:
            from pydantic import ValidationError

            from evenfall.app.messages import TextSet

            try:
                text = body.decode("utf-8")
            except UnicodeDecodeError as error:
                raise InputError(f"This is no text in UTF-8 (byte {error.start}). Save the file as UTF-8.") from None
            workspace = self._backend.workspace
            folder = workspace.folder_page()
            known = {plane.file for plane in folder.planes} | {plan.file for plan in folder.plans}
            if base == "0" and name in known:
                raise InputError(f"{name} lies in the folder already. Give the file another name, or change that one.")
            try:
                action = TextSet(what="text.set", file=name, text=text, base=int(base))
            except ValidationError:
                raise InputError("This is no plane or plan file: its name or its text is empty or too long.") from None
            done = workspace.act(action, token=secrets.token_urlsafe(16), role="owner")
            return {"file": done.file, "revision": done.revision, "words": done.words}

        return JSONResponse(await asyncio.to_thread(write))

    async def _original(self, request: Request) -> Response:
        """Take in a file of a flight piece by piece, straight to the disk."""
        from evenfall.app.incoming import MOST_BYTES, too_long

        _let_in(request)
        name = request.query_params.get("name", "")
        if not 0 < len(name) <= 200:
            raise Refusal(400, "A file needs name=NAME, 1 to 200 characters.")
        announced = request.headers.get("content-length", "0")
        if not announced.isdecimal() or int(announced[:20]) > MOST_BYTES:
            raise Refusal(413, too_long())
        incoming = await asyncio.to_thread(lambda: self._backend.engine.flights.incoming)
        arriving = await asyncio.to_thread(incoming.begin)
        try:
            waiting = bytearray()
            async for piece in request.stream():
                waiting += piece
                if len(waiting) >= WRITE_AT:
                    await asyncio.to_thread(arriving.write, bytes(waiting))
                    waiting.clear()
            await asyncio.to_thread(arriving.write, bytes(waiting))
        except BaseException:
            arriving.drop()
            raise

        def kept() -> dict[str, object]:
            from evenfall.sheet.record_page import OriginalAnswer

            made = incoming.keep(arriving, name=name)
            answer = OriginalAnswer(
                hash=made.hash, name=made.name, size=made.size, kind=made.kind, words=KIND_WORDS[made.kind]
            )
            return answer.model_dump()

        return JSONResponse(await asyncio.to_thread(kept))

    async def _enter(self, request: Request) -> Response:
        if request.method != "POST":
            return entering_page()
        token = (await limited_body(request, ENTER_LIMIT)).decode("utf-8", "replace")
        cookie = self._guard.enter(request.scope, token.strip())
        answer = PlainTextResponse("entered\n", headers={"cache-control": "no-store"})
        answer.set_cookie(self._guard.cookie, cookie, httponly=True, samesite="strict", path="/")
        return answer


async def limited_body(request: Request, most: int) -> bytes:
    """The body of a request, read in pieces; refused as soon as it is, or says it will be, too long."""
    too_long = Refusal(413, f"This is longer than {most / 1000:g} kB; nothing was read or changed.")
    announced = request.headers.get("content-length", "0")
    if not announced.isdecimal() or int(announced[:20]) > most:
        raise too_long
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > most:
            raise too_long
    return bytes(body)


def _live_type() -> type[Live]:
    from evenfall.app.live import Live

    return Live


def _role(request: Request) -> Role | None:
    role: Role | None = request.scope["role"]
    return role


def _air_asked(request: Request) -> AirAsk:
    """The air that an address names; standard air at sea level where it names none."""
    from pydantic import ValidationError

    from evenfall.app.messages import AirAsk

    named = {name: request.query_params[name] for name in AirAsk.model_fields if request.query_params.get(name)}
    try:
        return AirAsk.model_validate(named)
    except ValidationError as error:
        name = error.errors()[0]["loc"][0]
        raise Refusal(
            400,
            f"{name} is {named[str(name)][:40]}. The air: elevation_m from -500 to 5000, temperature_c from "
            "-40 to 55, pressure_hpa from 450 to 1100; each a number, each may be left out.",
        ) from None


def _let_in(request: Request) -> None:
    if _role(request) is None:
        raise Refusal(403, "Scan the code that is shown where Evenfall runs, to enter.")


def _named(name: str) -> str:
    """The file name of a download."""
    return f"filename*=UTF-8''{quote(name, safe='')}"


async def _not_there(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    words = {404: "There is nothing at this address.", 405: "This address is not used in this way."}
    return PlainTextResponse(words.get(status, "This cannot be answered.") + "\n", status)


async def _faulty(request: Request, error: Exception) -> Response:
    """What is wrong with a file or a question: 422, as JSON where something was sent in."""
    if request.method != "POST":
        return PlainTextResponse(f"{error}\n", 422, headers={"cache-control": "no-store"})
    faults = error.faults if isinstance(error, FileFaults) else ()
    rows = [{"where": fault.where, "line": fault.line, "words": fault.message} for fault in faults]
    return JSONResponse({"words": str(error).split("\n", 1)[0] if faults else str(error), "faults": rows}, 422)
