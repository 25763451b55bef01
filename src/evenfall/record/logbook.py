"""What the logbook holds: texts of planes and plans by their hash, and flights."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from evenfall.errors import InputError
from evenfall.record.logbook_file import open_logbook

Row = dict[str, str | int | float | None]


def hash_of(body: bytes) -> str:
    """SHA-256 of the bytes in hexadecimal."""
    return hashlib.sha256(body).hexdigest()


class Logbook:
    """The logbook of one folder. `note` says what was set aside or restored on opening."""

    def __init__(self, folder: Path) -> None:
        self._base, self.note = open_logbook(folder)

    def close(self) -> None:
        """Let go of the file."""
        self._base.close()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        try:
            self._base.execute("begin immediate")
            yield self._base
            self._base.execute("commit")
        except sqlite3.Error as error:
            self._undo()
            raise InputError(f"nothing was entered: {_reason(error)}") from None
        except BaseException:
            self._undo()
            raise

    def _undo(self) -> None:
        if self._base.in_transaction:
            self._base.execute("rollback")

    def keep_text(self, kind: Literal["plane", "plan"], name: str, body: str) -> str:
        """Keep the text of a plane or plan once; its hash."""
        key = hash_of(body.encode())
        with self._writing() as base:
            base.execute("insert or ignore into text values (?, ?, ?, ?)", (key, kind, name, body))
        return key

    def text(self, key: str) -> str | None:
        """The text kept under a hash; None where there is none."""
        found = self._base.execute("select body from text where hash = ?", (key,)).fetchone()
        return None if found is None else str(found[0])

    def texts(self) -> tuple[Row, ...]:
        """All texts kept, by hash."""
        rows = self._base.execute("select hash, kind, name, body from text order by hash")
        return tuple(dict(zip(("hash", "kind", "name", "body"), row, strict=True)) for row in rows)

    def add_flight(
        self,
        *,
        date: str,
        place: str,
        air: Mapping[str, float] | None = None,
        volts_before: float | None = None,
        volts_after: float | None = None,
        notes: str = "",
        plane: str | None = None,
        plan: str | None = None,
        token: str | None = None,
    ) -> str:
        """Enter a flight; its token. A token already there is not entered again.

        Args:
            date: ISO 8601. place: in words. air: named numbers in SI. volts_before, volts_after: battery, V.
            plane, plan: hashes of kept texts.
        """
        token = token or uuid.uuid4().hex
        with self._writing() as base:
            base.execute(
                "insert into flight (token, date, place, air, volts_before, volts_after, notes, plane, plan)"
                " values (?, ?, ?, ?, ?, ?, ?, ?, ?) on conflict (token) do nothing",
                (
                    token,
                    date,
                    place,
                    json.dumps(dict(air or {}), sort_keys=True),
                    volts_before,
                    volts_after,
                    notes,
                    plane,
                    plan,
                ),
            )
        return token

    def flights(self) -> tuple[Row, ...]:
        """All flights, oldest first."""
        rows = self._base.execute("select * from flight order by date, id")
        names = [column[0] for column in rows.description]
        return tuple(dict(zip(names, row, strict=True)) for row in rows)


def _reason(error: sqlite3.Error) -> str:
    words = str(error)
    if "full" in words or "disk I/O" in words:
        return "the disk is full or cannot be written; make room and enter it again"
    if "locked" in words:
        return "another program holds the logbook; close it and enter it again"
    if "FOREIGN KEY" in words:
        return "the plane or plan named is not in the logbook; keep its text first"
    return words
