"""Faults of a message, an ask or an action in the words the page shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenfall.app.guard import report
from evenfall.app.messages import Outgoing, Refused
from evenfall.errors import EvenfallError, FileFaults
from evenfall.sheet.folder_page import FaultPage

if TYPE_CHECKING:
    from pydantic import ValidationError

WORDS = 600
"""Most characters of a refusal that repeats what a page sent."""


def text_of(message: Outgoing) -> str:
    """A message as it is sent."""
    return message.model_dump_json()


def refusal(error: BaseException, *, seq: int | None, what: str) -> Refused:
    """Why something could not be answered; a fault of our own is also told on standard error."""
    if isinstance(error, FileFaults):
        faults = tuple(FaultPage(where=f.where, line=f.line, words=f.message) for f in error.faults)
        return Refused(seq=seq, words=str(error).split("\n", 1)[0], faults=faults)
    if isinstance(error, EvenfallError):
        return Refused(seq=seq, words=str(error))
    report(what, error)
    kind = type(error).__name__
    return Refused(
        seq=seq,
        words=f"A fault in Evenfall itself ({kind}) kept this from being answered. Your files are as they were; the "
        "terminal shows where it happened.",
    )


def malformed(error: ValidationError, text: str) -> Refused:
    """Why a message was not understood, with its number where it has one."""
    rows = []
    for fault in error.errors(include_url=False, include_context=False, include_input=False)[:4]:
        place = ".".join(str(part) for part in fault["loc"])[:120]
        rows.append(f"{place}: {fault['msg']}" if place else fault["msg"])
    words = "This message was not understood. " + "; ".join(rows)
    return Refused(seq=sequence_of(text), words=words[:WORDS])


def sequence_of(text: str) -> int | None:
    """The number of a message that was not understood; None where it has none."""
    from pydantic_core import from_json

    try:
        found: Any = from_json(text)
    except (ValueError, RecursionError):
        return None
    seq = found.get("seq") if isinstance(found, dict) else None
    return seq if type(seq) is int and 0 <= seq < 2**53 else None
