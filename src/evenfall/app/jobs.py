"""Work in threads: one thread a kind of job, so that what is quick never waits behind what is slow."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections import deque
from collections.abc import Callable
from typing import Any, TypeVar

Result = TypeVar("Result")


class Job:
    """Something to do; `gone` once nobody wants it."""

    def __init__(self, work: Callable[[], None]) -> None:
        self.work = work


class Worker:
    """One thread that does jobs in their order; it starts with the first and never keeps the program from ending."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._jobs: deque[Job] = deque()
        self._change = threading.Condition()
        self._thread: threading.Thread | None = None
        self._closed = False

    def submit(self, work: Callable[[], None], *, first: bool = False) -> Job:
        """Put a job at the end of the row, or before all that wait."""
        job = Job(work)
        with self._change:
            if self._closed:
                raise RuntimeError("the worker has ended")
            if first:
                self._jobs.appendleft(job)
            else:
                self._jobs.append(job)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name=f"evenfall {self._name}", daemon=True)
                self._thread.start()
            self._change.notify()
        return job

    def discard(self, job: Job) -> bool:
        """Take a job away that has not begun; False where it has."""
        with self._change:
            try:
                self._jobs.remove(job)
            except ValueError:
                return False
            return True

    def __len__(self) -> int:
        return len(self._jobs)

    async def result(self, work: Callable[[], Result], *, first: bool = False) -> Result:
        """Do a job and wait for what it gives or raises."""
        loop = asyncio.get_running_loop()
        future: asyncio.Future[Result] = loop.create_future()

        def run() -> None:
            try:
                given = work()
            except BaseException as error:
                deliver(loop, _settle, future, None, error)
            else:
                deliver(loop, _settle, future, given, None)

        job = self.submit(run, first=first)
        try:
            return await future
        except asyncio.CancelledError:
            self.discard(job)
            raise

    def close(self, wait_s: float = 0.0) -> None:
        """Take no more jobs, do what is in the row, wait at most so long for it."""
        with self._change:
            self._closed = True
            self._change.notify()
        if self._thread is not None and wait_s > 0:
            self._thread.join(wait_s)

    def _run(self) -> None:
        while True:
            with self._change:
                while not self._jobs and not self._closed:
                    self._change.wait()
                if not self._jobs:
                    return
                job = self._jobs.popleft()
            job.work()
            del job


def deliver(loop: asyncio.AbstractEventLoop, call: Callable[..., Any], *arguments: Any) -> None:
    """Have the loop call something soon, from any thread; nothing happens once it has ended."""
    with contextlib.suppress(RuntimeError):
        loop.call_soon_threadsafe(call, *arguments)


def _settle(future: asyncio.Future[Any], given: Any, error: BaseException | None) -> None:
    if future.done():
        return
    if error is None:
        future.set_result(given)
    elif isinstance(error, StopIteration):
        future.set_exception(RuntimeError("a job ended in StopIteration"))
    else:
        future.set_exception(error)
