"""Printing in a process of its own: what lays out the sheet stays out of the server's memory and is gone when idle.

The child reads one JSON request a line (page, kind, paper) and answers with one line: the number of bytes that follow,
or a fault in words after "!". It ends with its input. Where no child can be had the sheet is laid out here.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from typing import TYPE_CHECKING, BinaryIO

from evenfall.errors import EvenfallError

if TYPE_CHECKING:
    from evenfall.sheet.pdf import Paper
    from evenfall.sheet.sheet_page import SheetPage

IDLE_S = 20.0
"""Seconds the child waits for the next sheet before it ends."""


def laid_out(page: SheetPage, *, kind: str, paper: Paper) -> bytes:
    """The PDF ("pdf") or one page as a picture ("svg1" to "svg3"), laid out in this process."""
    from evenfall.sheet.pdf import sheet_pdf, sheet_pictures

    if kind == "pdf":
        return sheet_pdf(page, paper=paper)
    return sheet_pictures(page, paper=paper)[int(kind.removeprefix("svg")) - 1]


class Printer:
    """One child at a time, started when first needed; safe to use from several threads."""

    def __init__(self, *, idle_s: float = IDLE_S) -> None:
        self._idle_s = idle_s
        self._lock = threading.Lock()
        self._child: subprocess.Popen[bytes] | None = None
        self._timer: threading.Timer | None = None

    def printed(self, page: SheetPage, *, kind: str, paper: Paper) -> bytes:
        """As `laid_out`, in the child. Raises `EvenfallError` where the sheet cannot be laid out."""
        request = json.dumps({"page": page.model_dump_json(), "kind": kind, "paper": paper}).encode() + b"\n"
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            try:
                return self._asked(request)
            except OSError:
                self._end()
                return laid_out(page, kind=kind, paper=paper)
            finally:
                self._timer = threading.Timer(self._idle_s, self.close)
                self._timer.daemon = True
                self._timer.start()

    def close(self) -> None:
        """End the child; the next sheet starts another."""
        with self._lock:
            self._end()

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        for stream in (child.stdin, child.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        child.wait(timeout=10)

    def _asked(self, request: bytes) -> bytes:
        if self._child is None or self._child.poll() is not None:
            self._end()
            self._child = subprocess.Popen(
                [sys.executable, "-m", "evenfall.app.printer"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
            )
        assert self._child.stdin is not None
        assert self._child.stdout is not None
        self._child.stdin.write(request)
        self._child.stdin.flush()
        head = self._child.stdout.readline()
        if head.startswith(b"!"):
            raise EvenfallError(json.loads(head[1:]))
        if not head.endswith(b"\n"):
            raise BrokenPipeError("the printing process ended")
        made = self._child.stdout.read(int(head))
        if len(made) != int(head):
            raise BrokenPipeError("the printing process ended")
        return made


def answer_all(asked: BinaryIO, told: BinaryIO) -> None:
    """The child's work: every request of a stream until it ends."""
    from evenfall.sheet.sheet_page import SheetPage

    for line in asked:
        request = json.loads(line)
        try:
            page = SheetPage.model_validate_json(request["page"])
            made = laid_out(page, kind=request["kind"], paper=request["paper"])
        except EvenfallError as error:
            told.write(b"!" + json.dumps(str(error)).encode() + b"\n")
        else:
            told.write(b"%d\n" % len(made))
            told.write(made)
        told.flush()


if __name__ == "__main__":
    try:
        answer_all(sys.stdin.buffer, sys.stdout.buffer)
    except BrokenPipeError:
        # Nobody waits for the sheet any more; what is left of it must not be written again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
