"""The rows of a TOML text: which statement stands on which, and what is wrong where it cannot be read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

from evenfall.errors import Fault

_MAX_SYNTAX_FAULTS = 20

_DECIMAL_COMMA = re.compile(r"=\s*([-+]?\d+),(\d+)\s*(?:[},#\]].*|\s*)$|(?:value|spread)\s*=\s*([-+]?\d+),(\d+)")
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=""")
_PART = re.compile(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""")


def syntax_faults(text: str, error: Exception) -> tuple[Fault, ...]:
    """Every syntax fault we can find: a faulty `key = value` line is blanked and the rest read again.

    `error`: what the TOML reader raised on the text.
    """
    rows = text.split("\n")
    faults: list[Fault] = []
    seen: set[int] = set()
    current: Exception | None = error
    while current is not None and len(faults) < _MAX_SYNTAX_FAULTS:
        line = _error_line(str(current), len(rows))
        row = rows[line - 1] if line is not None else ""
        faults.append(_syntax_fault(line, row, str(current)))
        if line is None or line in seen or not _is_simple(row):
            break
        seen.add(line)
        rows[line - 1] = ""
        try:
            tomllib.loads("\n".join(rows))
            current = None
        except (ValueError, RecursionError) as following:
            current = following
    return tuple(faults)


def _error_line(message: str, count: int) -> int | None:
    if found := re.search(r"at line (\d+)", message):
        return min(int(found.group(1)), count)
    return count if "end of document" in message else None


def _is_simple(row: str) -> bool:
    return bool(_KEY.match(row)) and '"""' not in row and "'''" not in row


def _syntax_fault(line: int | None, row: str, message: str) -> Fault:
    key = _KEY.match(row)
    where = key.group(1) if key else ""
    shown = row.strip()
    if len(shown) > 60:
        shown = shown[:57] + "..."
    if comma := _DECIMAL_COMMA.search(row):
        whole, part = (group for group in comma.groups() if group is not None)
        return Fault(where=where, line=line, message=f"{whole},{part} has a decimal comma; write {whole}.{part}")
    if "maximum recursion" in message:
        return Fault(
            where="", line=None, message="brackets are nested too deeply; a plane file needs two levels at most"
        )
    if "Exceeds the limit" in message:
        return Fault(where=where, line=line, message="a number has thousands of digits; check it")
    if "overwrite a value" in message or "declare" in message or "twice" in message:
        return Fault(where=where, line=line, message=f"`{shown}` stands here a second time; keep one of the two")
    open_end = message.startswith(("Unterminated", "Unclosed", "Expected \"'")) or not shown
    if "end of document" in message and open_end:
        return Fault(where=where, line=line, message="the file ends inside a text or list that is not closed; close it")
    if key is None and _HEADER.match(row) is None and "=" not in row and shown:
        return Fault(
            where="",
            line=line,
            message=f"`{shown}` is neither `key = value` nor a [table]; correct it or put # before it",
        )
    reason = re.sub(r"\s*\(at .*\)$", "", message)
    reason = reason[:1].lower() + reason[1:]
    message = f"`{shown}` is not valid TOML ({reason}); numbers are written plain, text in double quotes"
    return Fault(where=where, line=line, message=message)


@dataclass(frozen=True, kw_only=True)
class Statement:
    """One `key = value` or one table header of a TOML text.

    Args:
        path: its dotted key in parts, list entries by their index.
        first, last: rows it takes, from 1, both included.
        header: a table's header, not a key.
    """

    path: tuple[str, ...]
    first: int
    last: int
    header: bool


def statements(text: str) -> list[Statement]:
    """Every statement of a valid TOML text in its order; what stands inside a value is no statement of its own."""
    found: list[Statement] = []
    prefix: tuple[str, ...] = ()
    counts: dict[str, int] = {}
    starts = [*_statements(text), (text.count("\n") + 2, "")]
    for (number, row), (following, _) in zip(starts, starts[1:], strict=False):
        header = _HEADER.match(row)
        if header and not _KEY.match(row):
            prefix = _indexed(_parts(header.group(2)), counts)
            if header.group(1) == "[[":
                name = ".".join(prefix)
                counts[name] = counts.get(name, -1) + 1
                prefix = (*prefix, str(counts[name]))
            found.append(Statement(path=prefix, first=number, last=number, header=True))
        elif key := _KEY.match(row):
            path = (*prefix, *_parts(key.group(1)))
            found.append(Statement(path=path, first=number, last=following - 1, header=False))
    return found


def key_lines(text: str) -> dict[str, int]:
    """Line (from 1) of every table and key of a valid TOML text, by dotted key; list entries as `drag.0`.

    >>> key_lines('a = 1\\n[b]\\nc = 2\\n[[d]]\\ne = 3')
    {'a': 1, 'b': 2, 'b.c': 3, 'd': 4, 'd.0': 4, 'd.0.e': 5}
    """
    lines: dict[str, int] = {}
    for found in statements(text):
        if found.header and found.path and found.path[-1] == "0":
            lines.setdefault(".".join(found.path[:-1]), found.first)
        lines.setdefault(".".join(found.path), found.first)
    return lines


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in _PART.findall(dotted))


def _indexed(parts: tuple[str, ...], counts: dict[str, int]) -> tuple[str, ...]:
    """Insert the running index of every list of tables on the way to the last part."""
    done: tuple[str, ...] = ()
    for position, part in enumerate(parts):
        done = (*done, part)
        if position < len(parts) - 1 and ".".join(done) in counts:
            done = (*done, str(counts[".".join(done)]))
    return done


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Rows that begin a statement, with their number: rows inside brackets or long strings are passed over."""
    depth, quote = 0, ""
    for number, row in enumerate(text.replace("\r\n", "\n").split("\n"), start=1):
        if depth == 0 and not quote:
            yield number, row
            if _HEADER.match(row) and not _KEY.match(row):
                continue
        depth, quote = _scan(row, depth, quote)


def _scan(row: str, depth: int, quote: str) -> tuple[int, str]:
    place = 0
    while place < len(row):
        if quote:
            if quote[0] == '"' and row[place] == "\\":
                place += 2
                continue
            if row.startswith(quote, place):
                place += len(quote)
                quote = ""
                continue
        elif row[place] == "#":
            break
        elif row[place] in "\"'":
            quote = row[place] * 3 if row.startswith(row[place] * 3, place) else row[place]
            place += len(quote)
            continue
        elif row[place] in "[{":
            depth += 1
        elif row[place] in "]}":
            depth -= 1
        place += 1
    return max(depth, 0), quote if len(quote) == 3 else ""
