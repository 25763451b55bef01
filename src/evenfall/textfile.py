"""Strict TOML in, atomic text out: shared by plane and plan files.

`read_toml` turns a path into data plus the line of every key; `Table` reads one table of it and collects every fault
instead of stopping at the first.
"""

from __future__ import annotations

import difflib
import hashlib
import math
import os
import re
import tempfile
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from evenfall.errors import EditedFileError, Fault, FileFaults

SIZE_LIMIT = 1_000_000
"""Greatest size of a file we read, bytes. A plane file is a few thousand."""
_MAX_SYNTAX_FAULTS = 20

_DECIMAL_COMMA = re.compile(r"=\s*([-+]?\d+),(\d+)\s*(?:[},#\]].*|\s*)$|(?:value|spread)\s*=\s*([-+]?\d+),(\d+)")
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=""")
_PART = re.compile(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""")


@dataclass(frozen=True, kw_only=True)
class TomlText:
    """One TOML file as read.

    Args:
        path: as given.
        text: without byte-order mark, line ends as they are.
        data: plain dictionaries and lists.
        lines: dotted key (list entries as `drag.0`) to its line, from 1.
        content_hash: SHA-256 of the text with line ends made alike, hexadecimal.
        notes: what was odd about the file but harmless.
    """

    path: str
    text: str
    data: dict[str, Any]
    lines: dict[str, int]
    content_hash: str
    notes: tuple[str, ...] = ()


def content_hash(text: str) -> str:
    """SHA-256 of a text with line ends made alike and the last one ignored, hexadecimal.

    >>> content_hash("a = 1\\r\\n") == content_hash("a = 1")
    True
    """
    return hashlib.sha256(text.replace("\r\n", "\n").rstrip("\n").encode()).hexdigest()


def read_toml(path: str | os.PathLike[str], *, what: str = "plane file") -> TomlText:
    """Read a TOML file; raises `FileFaults` that says what is wrong with it and what to do.

    `what` names the kind of file in messages.
    """
    name = os.fspath(path)
    text, notes = _decode(name, _read_bytes(name, what), what)
    return parse_toml(text, path=name, what=what, notes=notes)


def parse_toml(text: str, *, path: str, what: str = "plane file", notes: tuple[str, ...] = ()) -> TomlText:
    """The same for a text in hand; `path` is used in messages only."""
    if not text.strip():
        raise _file_fault(path, f"the file is empty; `evenfall new DIR` writes a commented {what} to start from")
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise FileFaults(path, _syntax_faults(text, error)) from None
    if "\r\n" in text:
        notes = (*notes, "the file has Windows line ends (CRLF): accepted")
    return TomlText(
        path=path, text=text, data=data, lines=key_lines(text), content_hash=content_hash(text), notes=notes
    )


def write_atomic(path: str | os.PathLike[str], text: str) -> None:
    """Write a text so that a crash leaves either the old file or the new one, never half."""
    target = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            os.chmod(name, target.stat().st_mode & 0o7777)
        elif os.name == "posix":
            mask = os.umask(0)
            os.umask(mask)
            os.chmod(name, 0o666 & ~mask)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_new(path: str | os.PathLike[str], text: str) -> None:
    """Write a file that must not exist yet; raises `EditedFileError` where it does."""
    try:
        with open(path, "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise EditedFileError(f"{os.fspath(path)} exists and is left as it is; choose another name") from None


def numbered_backup(path: str | os.PathLike[str]) -> Path:
    """Move a file aside to the first free `NAME.1`, `NAME.2`, ... and return that name."""
    source = Path(path)
    number = 1
    while (backup := source.with_name(f"{source.name}.{number}")).exists():
        number += 1
    os.replace(source, backup)
    return backup


def _file_fault(path: str, message: str) -> FileFaults:
    return FileFaults(path, (Fault(where="", message=message),))


def _read_bytes(path: str, what: str) -> bytes:
    if "\0" in path:
        raise _file_fault(path.replace("\0", "?"), "the file name holds a zero byte; check the command")
    try:
        if os.path.isdir(path):
            raise _file_fault(path, f"this is a directory; name the {what} inside it")
        with open(path, "rb") as stream:
            raw = stream.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise _file_fault(path, f"there is no such file{_near_files(path)}") from None
    except PermissionError:
        raise _file_fault(path, "the file may not be read; check its permissions") from None
    except OSError as error:
        raise _file_fault(path, f"the file cannot be read: {error.strerror or error}") from None
    if len(raw) > SIZE_LIMIT:
        raise _file_fault(path, f"the file is larger than {SIZE_LIMIT // 1000} kB; a {what} is a few kB, so name that")
    return raw


def _near_files(path: str) -> str:
    folder = Path(path).parent
    try:
        names = sorted(entry.name for entry in folder.iterdir() if entry.suffix == ".toml")
    except OSError:
        return "; nor is there such a folder"
    near = difflib.get_close_matches(Path(path).name, names, n=1)
    return f"; did you mean {near[0]}?" if near else "; check the name, or write one with `evenfall new DIR`"


def _decode(path: str, raw: bytes, what: str) -> tuple[str, tuple[str, ...]]:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _file_fault(path, "the file is UTF-16 text; save it as UTF-8 (an option of the editor's Save as)")
    notes: tuple[str, ...] = ()
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]
        notes = ("the file begins with a byte-order mark (BOM): accepted and ignored",)
    if b"\0" in raw or raw.startswith((b"\x89PNG", b"PK\x03\x04", b"%PDF", b"\xff\xd8\xff")):
        raise _file_fault(path, f"this is a binary file, not text; name a {what} (TOML text)")
    try:
        return raw.decode("utf-8"), notes
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        message = "the file is not UTF-8 text (first odd byte here); save it as UTF-8 in the editor"
        raise FileFaults(path, (Fault(where="", message=message, line=line),)) from None


# --- syntax ----------------------------------------------------------------------------------------------------------


def _syntax_faults(text: str, error: Exception) -> tuple[Fault, ...]:
    """Every syntax fault we can find: a faulty `key = value` line is blanked and the rest read again."""
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


# --- tables ----------------------------------------------------------------------------------------------------------


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word nearest to a mistyped one, or None where nothing is near.

    >>> nearest("spam_mm", ["span_mm", "z_mm"])
    'span_mm'
    """
    words = list(known)
    for same in words:
        if same.lower() == word.lower():
            return same
    found = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    return found[0] if found else None


def shown(value: object) -> str:
    """A given value as it would stand in the file, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 40 else f'"{value[:37]}..."'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**15:
        return f"a whole number of {len(str(abs(value)))} digits" if abs(value) < 10**4000 else "a huge number"
    return f"{value:g}" if isinstance(value, float) else str(value)


@dataclass
class Faults:
    """The faults and notes collected while one file is read."""

    lines: dict[str, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def line(self, where: str) -> int | None:
        """Line of a dotted key, or of the nearest enclosing one that has a line."""
        parts = where.split(".")
        while parts:
            if (number := self.lines.get(".".join(parts))) is not None:
                return number
            parts.pop()
        return None

    def add(self, where: str, message: str) -> None:
        """Note one fault at a dotted key."""
        self.faults.append(Fault(where=where, message=message, line=self.line(where)))

    def raise_if_any(self, path: str) -> None:
        """Raise `FileFaults` with every fault in the order of the file."""
        if self.faults:
            ordered = sorted(self.faults, key=lambda fault: (fault.line is None, fault.line or 0))
            raise FileFaults(path, tuple(dict.fromkeys(ordered)))


class Table:
    """One table being read. Every getter notes faults and returns None where the value cannot be used.

    Call `finish` last: it reports every key that no getter asked for.
    """

    def __init__(self, data: dict[str, Any], where: str, faults: Faults) -> None:
        self.data = data
        self.where = where
        self.faults = faults
        self.known: list[str] = []
        self._start = len(faults.faults)
        self._children: list[Table] = []

    def dotted(self, key: str) -> str:
        """Dotted name of a key of this table."""
        return f"{self.where}.{key}" if self.where else key

    def fault(self, key: str, message: str) -> None:
        """Note a fault at a key of this table (or at the table itself for an empty key)."""
        self.faults.add(self.dotted(key) if key else self.where, message)

    @property
    def sound(self) -> bool:
        """No fault noted since this table was opened."""
        return len(self.faults.faults) == self._start

    def has(self, key: str) -> bool:
        """The key is in the file."""
        return key in self.data

    def take(self, key: str, *, required: bool = False, example: str = "") -> Any:
        """The raw value, marked as read; None where absent."""
        self.known.append(key)
        if key not in self.data and required:
            self.fault(key, f"is missing; write {example}" if example else "is missing")
        return self.data.get(key)

    def text(self, key: str, *, required: bool = False, example: str = "", longest: int = 200) -> str | None:
        """A text that is not blank."""
        value = self.take(key, required=required, example=example or f'{key} = "..."')
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            self.fault(key, f"must be a text in double quotes, not {shown(value)}")
            return None
        if len(value) > longest or not value.isprintable():
            self.fault(key, f"must be one line of at most {longest} printable characters")
            return None
        return value.strip()

    def choice(self, key: str, allowed: Sequence[str], *, required: bool = False) -> str | None:
        """One of the allowed words."""
        words = ", ".join(f'"{word}"' for word in allowed)
        value = self.take(key, required=required, example=f"{key} = one of {words}")
        if value is None:
            return None
        if value not in allowed or not isinstance(value, str):
            near = nearest(value, allowed) if isinstance(value, str) else None
            hint = f'; did you mean "{near}"?' if near else ""
            self.fault(key, f"must be one of {words}, not {shown(value)}{hint}")
            return None
        return value

    def boolean(self, key: str, *, required: bool = False) -> bool | None:
        """true or false."""
        value = self.take(key, required=required, example=f"{key} = true or false")
        if value is None or isinstance(value, bool):
            return value
        self.fault(key, f"must be true or false, not {shown(value)}")
        return None

    def integer(self, key: str, low: int, high: int, *, required: bool = False) -> int | None:
        """A whole number within the limits, both included."""
        value = self.take(key, required=required, example=f"{key} = a whole number from {low} to {high}")
        if value is None:
            return None
        if isinstance(value, float) and math.isfinite(value) and value == int(value):
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            self.fault(key, f"must be a whole number from {low} to {high}, not {shown(value)}")
            return None
        if not low <= value <= high:
            self.fault(key, f"is {shown(value)}; allowed is {low} to {high}")
            return None
        return value

    def number(self, key: str, low: float, high: float, *, required: bool = False) -> float | None:
        """A finite number within the limits, both included; the key carries whatever unit it has."""
        value = self.take(key, required=required, example=f"{key} = a number from {low:g} to {high:g}")
        if value is None or not self.is_number(key, value):
            return None
        if not low <= value <= high:
            self.fault(key, f"is {shown(value)}; allowed is {low:g} to {high:g}")
            return None
        return float(value)

    def numbers(
        self, key: str, low: float, high: float, *, shortest: int = 1, longest: int = 100
    ) -> tuple[float, ...] | None:
        """A list of finite numbers within the limits."""
        value = self.take(key)
        if value is None:
            return None
        if not isinstance(value, list) or not shortest <= len(value) <= longest:
            self.fault(key, f"must be a list of {shortest} to {longest} numbers in [ ], not {shown(value)}")
            return None
        if False in [self.is_number(key, item) for item in value]:
            return None
        for item in value:
            if not low <= item <= high:
                self.fault(key, f"holds {shown(item)}; allowed is {low:g} to {high:g}")
                return None
        return tuple(float(item) for item in value)

    def is_number(self, key: str, value: object) -> bool:
        """True for a finite number; notes the fault otherwise."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(key, f"must be a number, not {shown(value)}{_number_hint(value)}")
            return False
        try:
            finite = math.isfinite(value)
        except OverflowError:
            finite = False
        if not finite:
            self.fault(key, f"must be a finite number, not {shown(value)}")
            return False
        return True

    def table(self, key: str, *, required: bool = False, example: str = "") -> Table | None:
        """A table below this one."""
        value = self.take(key, required=required, example=example or f"a table [{self.dotted(key)}]")
        if value is None:
            return None
        if not isinstance(value, dict):
            self.fault(key, f"must be a table [{self.dotted(key)}], not {shown(value)}")
            return None
        return self.child(value, self.dotted(key))

    def tables(self, key: str) -> list[Table]:
        """A list of tables `[[key]]` below this one."""
        value = self.take(key)
        if value is None:
            return []
        if isinstance(value, dict):
            self.fault(key, f"is a list of tables: write [[{self.dotted(key)}]] with double brackets")
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(key, f"must be a list of tables [[{self.dotted(key)}]], not {shown(value)}")
            return []
        return [self.child(item, f"{self.dotted(key)}.{index}") for index, item in enumerate(value)]

    def child(self, data: dict[str, Any], where: str) -> Table:
        """A table of the same kind on other data; `finish` of this one finishes it too."""
        child = type(self)(data, where, self.faults)
        self._children.append(child)
        return child

    def finish(self, homes: dict[str, list[str]] | None = None) -> None:
        """Report every key nobody asked for, with the nearest known one, here and in the tables below.

        `homes`: which tables know a key; made here for the whole tree where not given.
        """
        homes = self.homes() if homes is None else homes
        for key in self.data:
            if key not in self.known:
                self.fault(key, self.unknown_message(key, homes.get(key, [])))
        for child in self._children:
            child.finish(homes)

    def homes(self) -> dict[str, list[str]]:
        """Tables that know each key, here and below."""
        found: dict[str, list[str]] = {key: [self.where] for key in self.known}
        for child in self._children:
            for key, tables in child.homes().items():
                found.setdefault(key, []).extend(tables)
        return found

    def unknown_message(self, key: str, homes: Sequence[str]) -> str:
        """What to say about a key nobody asked for: where it belongs, or the nearest one that is not there yet."""
        place = f"in [{self.where}]" if self.where else "at the top of the file"
        if homes:
            belongs = " or ".join(f"[{home}]" if home else "the top of the file" for home in homes[:3])
            return f"is not known {place}; it belongs in {belongs}"
        absent = [word for word in self.known if word not in self.data]
        if near := nearest(key, absent) or nearest(key, self.known):
            return f"is not known {place}; did you mean `{near}`?"
        return f"is not known {place}; known are {', '.join(self.listed())}"

    def listed(self) -> list[str]:
        """Known keys as a message lists them."""
        return list(dict.fromkeys(self.known))


def _number_hint(value: object) -> str:
    if isinstance(value, str) and re.fullmatch(r"\s*[-+]?\d+,\d+\s*", value):
        return "; write it without quotes and with a decimal point"
    if isinstance(value, str) and re.fullmatch(r"\s*[-+]?\d+(\.\d+)?\s*", value):
        return "; write it without quotes"
    if isinstance(value, list) and len(value) == 2:
        return "; a decimal comma? write a decimal point"
    return ""
