"""The socket: takes asks and actions of every page, answers them, and tells all pages when the folder has changed.

Asks run in three threads, quick ones in one, slow ones and those of minutes in the others; of one page's channel only
the newest counts. Actions run in a fourth, those of one page in their order. Nothing a page sends, and no page that
stops reading, can make the memory grow: at most `ASKS` asks of a page wait, and it is not read while `Outbox` is full.
"""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import time
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError
from starlette.websockets import WebSocketDisconnect

from evenfall import __version__
from evenfall.app.engine import Cancelled
from evenfall.app.guard import report
from evenfall.app.jobs import Worker, deliver
from evenfall.app.messages import (
    INCOMING,
    Ask,
    Cancel,
    ChangeTake,
    ComputedAction,
    Do,
    Done,
    Dropped,
    FolderMoved,
    Hello,
    PlanCarry,
    PlanProgramme,
    PlanProve,
    PlanTune,
    Progress,
    RecordAction,
    Refused,
)
from evenfall.app.outbox import Outbox
from evenfall.app.replies import malformed, refusal, text_of
from evenfall.errors import InputError

if TYPE_CHECKING:
    from starlette.websockets import WebSocket

    from evenfall.app.backend import Backend
    from evenfall.app.guard import Guard, Role
    from evenfall.app.workspace import Outcome
    from evenfall.radio.plan import Plan
    from evenfall.sheet.folder_page import FolderPage

QUICK = frozenset({"plane", "plan", "quick", "kinematics", "season", "flight", "clicked"})
"""Topics that answer at once once a plane is ready; all others are slow."""
LONG = frozenset({"programme"})
"""Topics that take minutes; nothing else waits behind them."""
ASKS = 32
"""Asks of one page that may wait for their answers."""
ACTS = 64
"""Actions of one page that may wait; it is not read while more do."""
PAGES: dict[Role, int] = {"owner": 50, "guest": 20}
"""Pages that may be connected at a time."""
STUCK_S = 60.0
"""A page that takes nothing for so long is given up."""
POLL_S = 0.5
"""How often the folder is looked at for changes from outside while a page is connected."""
GUEST_MAY = frozenset({"bench.read", "flight.save"})
"""Actions of a guest."""


@dataclass
class _Pending:
    """An ask on its way; `gone` once a newer one took its place or nobody wants it."""

    seq: int
    gone: bool = False
    task: asyncio.Task[None] | None = None


class Live:
    """All connected pages and the work they share."""

    def __init__(self, backend: Backend, guard: Guard) -> None:
        self.run = secrets.token_hex(8)
        self.backend = backend
        self.quick, self.slow, self.long, self.acts = Worker("quick"), Worker("slow"), Worker("long"), Worker("acts")
        self.closing = False
        self.guard = guard
        self.pages: set[_Connection] = set()
        self.doing: dict[str, asyncio.Task[Done]] = {}
        self.finishing: set[asyncio.Task[None]] = set()
        self.ever = False
        self.last_left = time.monotonic()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._poll: asyncio.Task[None] | None = None
        self._tell: asyncio.Task[None] | None = None
        self._dirty = False
        backend.when_made(lambda workspace: workspace.subscribe(self._changed))

    async def serve(self, socket: WebSocket, role: Role) -> None:
        """Talk to one page until it leaves."""
        self._loop = asyncio.get_running_loop()
        if sum(page.role == role for page in self.pages) >= PAGES[role]:
            await socket.close(1013, "too many pages are open")
            return
        connection = _Connection(self, socket, role)
        self.pages.add(connection)
        self.ever = True
        if self._poll is None:
            self._poll = asyncio.create_task(self._watch())
        try:
            await connection.talk()
        except WebSocketDisconnect:
            pass
        finally:
            self.pages.discard(connection)
            self.last_left = time.monotonic()
            if not self.pages and self._poll is not None:
                self._poll.cancel()
                self._poll = None

    async def carry_out(self, do: Do, role: Role, say: Callable[[str], None]) -> Done:
        """Do an action once, however often it is sent while it runs; the folder keeps what was done before."""
        running = self.doing.get(do.token)
        if running is None:
            running = asyncio.create_task(self._carry_out(do, role, say))
            self.doing[do.token] = running
            running.add_done_callback(lambda task: self._did(do.token, task))
        done = await asyncio.shield(running)
        return done.model_copy(update={"seq": do.seq})

    def finish(self, *work: Coroutine[Any, Any, None] | asyncio.Task[None]) -> None:
        """Hold on to what a page that has left still has to be done."""
        for part in work:
            task = part if isinstance(part, asyncio.Task) else asyncio.create_task(part)
            self.finishing.add(task)
            task.add_done_callback(self.finishing.discard)

    def _did(self, token: str, task: asyncio.Task[Done]) -> None:
        self.doing.pop(token, None)
        if not task.cancelled():
            task.exception()

    async def _carry_out(self, do: Do, role: Role, say: Callable[[str], None]) -> Done:
        action = do.action
        if role != "owner" and action.what not in GUEST_MAY:
            raise InputError(
                "A guest reads everything and fills in the forms of bench and flights, but changes neither plane nor "
                "plan. Do this on the machine Evenfall runs on."
            )
        if isinstance(action, PlanCarry) and action.name is not None:
            outcome = await self._keep(action, action.name, do.token, say)
        elif isinstance(action, ComputedAction):
            outcome = await self._compute(action, do.token, say)
        elif isinstance(action, RecordAction):
            record = action
            worker = self.slow if isinstance(action, ChangeTake | PlanProve) else self.acts
            outcome = await worker.result(
                lambda: self.backend.engine.flights.act(record, token=do.token, role=role), first=True
            )
        else:
            outcome = await self.acts.result(lambda: self.backend.workspace.act(action, token=do.token, role=role))
        return Done(seq=do.seq, file=outcome.file, revision=outcome.revision, words=outcome.words)

    async def _compute(self, action: ComputedAction, token: str, say: Callable[[str], None]) -> Outcome:
        """Compute a plan and write it; refused before the computation where it could not be written."""
        plane, file, words = action.plane, None, "plan computed"
        if isinstance(action, PlanCarry):
            if action.what_if:
                raise InputError("parts that are tried belong to a plane of their own: give it a name to write them")
            plane, words = action.to, f"plan taken along from {action.plane}"
        else:
            file = action.file
        if isinstance(action, PlanProgramme):
            words = f"plan tuned for {action.sequence}"
        await self.acts.result(lambda: self.backend.workspace.check_tune(plane, file=file))

        def make() -> Plan:
            engine = self.backend.engine
            if isinstance(action, PlanTune):
                level, arrangement = action.level, action.arrangement
                return engine.tune(plane, level=level, arrangement=arrangement, air=action.air, progress=say)
            return engine.carries.plan(action, say, lambda: self.closing)

        worker = self.long if isinstance(action, PlanProgramme) else self.slow
        plan = await worker.result(make, first=True)
        write = partial(self.backend.workspace.write_tuned, plane, plan, file=file, words=words, token=token)
        return await self.acts.result(write)

    async def _keep(self, action: PlanCarry, name: str, token: str, say: Callable[[str], None]) -> Outcome:
        """Compute a plan for a plane with other parts and write both as new files."""
        carries, workspace = self.backend.engine.carries, self.backend.workspace
        text, plan = await self.slow.result(lambda: carries.plane_and_plan(action, name, say), first=True)
        words = f"begun from {action.to} with the plan of {action.plane}"
        return await self.acts.result(
            partial(workspace.write_new_plane, text, plan, name=name, words=words, token=token)
        )

    async def hello(self, role: Role) -> str:
        """The first message of a connection."""

        def make() -> str:
            folder = self._folder(role)
            return text_of(Hello(version=__version__, role=role, run=self.run, folder=folder))

        return await self.acts.result(make)

    async def close(self) -> None:
        """End what runs; actions that were taken are still carried out, for a few seconds at most."""
        self.closing = True
        for task in (self._poll, self._tell):
            if task is not None:
                task.cancel()
        rest = [*self.finishing, *self.doing.values()]
        if rest:
            await asyncio.wait(rest, timeout=5.0)
        for worker in (self.quick, self.slow, self.long):
            worker.close()
        self.acts.close(5.0)

    def _folder_texts(self, roles: set[Role]) -> dict[Role, str]:
        return {role: text_of(FolderMoved(folder=self._folder(role))) for role in roles}

    def _folder(self, role: Role) -> FolderPage:
        shared = self.guard.address(entry=role == "owner")
        page = self.backend.workspace.folder_page()
        return page if shared is None else page.model_copy(update={"shared": shared})

    def _changed(self, *anything: object) -> None:
        """Called by the folder after every change, from any thread."""
        if self._loop is not None:
            deliver(self._loop, self._tell_soon)

    def _tell_soon(self) -> None:
        self._dirty = True
        if self._tell is None or self._tell.done():
            self._tell = asyncio.create_task(self._tell_all())

    async def _tell_all(self) -> None:
        """Send the folder to all pages, again while it keeps changing."""
        while self._dirty and self.pages:
            self._dirty = False
            roles: set[Role] = {page.role for page in self.pages}
            try:
                texts = await self.acts.result(partial(self._folder_texts, roles))
            except Exception as error:
                refusal(error, seq=None, what="reading the folder")
                return
            for page in self.pages:
                page.tell(texts.get(page.role))

    async def _watch(self) -> None:
        """Notice what other programs change."""
        known = ""
        while True:
            await asyncio.sleep(POLL_S)
            try:
                moved = await self.acts.result(lambda: self.backend.workspace.poll())
            except Exception as error:
                words = str(error)
                if words != known:
                    refusal(error, seq=None, what="looking for changes")
                known = words
            else:
                known = ""
                if moved:
                    self._tell_soon()


@dataclass(eq=False)
class _Connection:
    """One page."""

    live: Live
    socket: WebSocket
    role: Role
    outbox: Outbox = field(default_factory=Outbox)
    asks: dict[str, _Pending] = field(default_factory=dict)
    acts: asyncio.Queue[Do | None] = field(default_factory=lambda: asyncio.Queue(ACTS))
    greeted: bool = False
    told: str = ""

    async def talk(self) -> None:
        """Greet, then read until the page leaves; what it asked is dropped then, what it did is finished."""
        await self.socket.accept()
        ways = [asyncio.create_task(self._write()), asyncio.create_task(self._read())]
        actor = asyncio.create_task(self._act())
        try:
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for way in ways:
                way.cancel()
                way.add_done_callback(_ended)
            for pending in self.asks.values():
                _drop(pending)
            self.live.finish(self.acts.put(None), actor)

    def tell(self, folder: str | None) -> None:
        """Send the folder where it is not what the page knows already."""
        if self.greeted and folder is not None and folder != self.told:
            self.told = folder
            self.outbox.put(folder, key="folder")

    async def _write(self) -> None:
        """Send what waits; ends where the page has gone or takes nothing for `STUCK_S`."""
        with contextlib.suppress(WebSocketDisconnect, OSError, RuntimeError, TimeoutError):
            while True:
                await asyncio.wait_for(self._send(await self.outbox.take()), STUCK_S)

    async def _send(self, text: str) -> None:
        await self.socket.send({"type": "websocket.send", "text": text})

    async def _read(self) -> None:
        try:
            self.outbox.put(await self.live.hello(self.role))
            self.greeted = True
        except Exception as error:
            await self._send(text_of(refusal(error, seq=None, what="reading the folder")))
            await self.socket.close(1011, "the folder cannot be read")
            return
        while True:
            await self.outbox.room()
            message = await self.socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            text = message.get("text")
            if text is None:
                self._say(Refused(seq=None, words="A binary message came; only JSON text is understood."))
                continue
            try:
                said = INCOMING.validate_json(text)
            except ValidationError as error:
                self._say(malformed(error, text))
                continue
            if isinstance(said, Ask):
                self._ask(said)
            elif isinstance(said, Cancel):
                self._cancel(said.channel)
            else:
                await self.acts.put(said)

    def _say(self, message: Refused | Dropped | Done) -> None:
        self.outbox.put(text_of(message))

    def _ask(self, ask: Ask) -> None:
        channel = ask.channel or ask.topic
        self._cancel(channel)
        if len(self.asks) >= ASKS:
            words = f"More than {ASKS} questions of this page wait for their answers; ask again when some have come."
            self._say(Refused(seq=ask.seq, words=words))
            return
        pending = _Pending(ask.seq)
        self.asks[channel] = pending
        pending.task = asyncio.create_task(self._answer(ask, channel, pending))

    def _cancel(self, channel: str) -> None:
        pending = self.asks.pop(channel, None)
        if pending is not None:
            _drop(pending)
            self._say(Dropped(seq=pending.seq))

    async def _answer(self, ask: Ask, channel: str, pending: _Pending) -> None:
        """Answer one ask; its place is free again once the answer waits to be sent."""
        backend, say = self.live.backend, self._progress(ask.seq, lambda: pending.gone)

        def work() -> str:
            if pending.gone:
                raise Cancelled
            page = backend.engine.answer(ask, progress=say, cancelled=lambda: pending.gone)
            return f'{{"kind":"answer","seq":{ask.seq},"topic":"{ask.topic}","body":{page.model_dump_json()}}}'

        live = self.live
        worker = live.quick if ask.topic in QUICK else live.long if ask.topic in LONG else live.slow
        try:
            text = await worker.result(work)
        except asyncio.CancelledError:
            return
        except Cancelled:
            text = text_of(Dropped(seq=ask.seq))
        except Exception as error:
            text = text_of(refusal(error, seq=ask.seq, what=f"answering {ask.topic}"))
        if self.asks.get(channel) is pending:
            del self.asks[channel]
            self.outbox.put(text)

    async def _act(self) -> None:
        """Carry out the page's actions in their order."""
        while (do := await self.acts.get()) is not None:
            say = self._progress(do.seq, lambda: False)
            try:
                done: Done | Refused = await self.live.carry_out(do, self.role, say)
            except Exception as error:
                done = refusal(error, seq=do.seq, what=f"doing {do.action.what}")
            self._say(done)

    def _progress(self, seq: int, gone: Callable[[], bool]) -> Callable[[str], None]:
        """Tells the page what a job is doing; callable from any thread."""
        loop = asyncio.get_running_loop()
        said = ""

        def put(words: str) -> None:
            if not gone():
                self.outbox.put(text_of(Progress(seq=seq, words=words)), key=("progress", seq))

        def say(words: str) -> None:
            nonlocal said
            if words and words != said:
                said = words
                deliver(loop, put, words)

        return say


def _ended(way: asyncio.Task[None]) -> None:
    """Tell of a fault that ended a connection, other than the page's leaving."""
    error = None if way.cancelled() else way.exception()
    if error is not None and not isinstance(error, WebSocketDisconnect | OSError | RuntimeError):
        report("the connection of a page", error)


def _drop(pending: _Pending) -> None:
    pending.gone = True
    if pending.task is not None:
        pending.task.cancel()
