"""A TOML text changed in place: only the rows that are meant change, whatever a person wrote around them stays.

Values that stand on rows of their own are replaced there; what is laid out otherwise (tables within braces) is left to
tomlkit. Either way the result is read again and must hold what was asked for.
"""

from __future__ import annotations

import copy
import functools
import math
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from evenfall.errors import InputError
from evenfall.textfile import toml_string
from evenfall.toml_rows import Statement, statements

Path = tuple[str, ...]
"""A key in parts, entries of a list by their index."""

_REMOVE = object()


@functools.lru_cache(maxsize=16)
def read(text: str) -> dict[str, Any]:
    """A TOML text as data that nobody may change; the last few are remembered."""
    return tomllib.loads(text)


@functools.lru_cache(maxsize=16)
def _marks(text: str) -> tuple[Statement, ...]:
    return tuple(statements(text))


def literal(value: Any) -> str:
    """A value as it stands in a file: numbers as short as they go, whole ones without a point.

    >>> literal(1240.0), literal((1050, 5.5)), literal("a"), literal([[0, 100.0], [45, 0.5]])
    ('1240', '{ value = 1050, spread = 5.5 }', '"a"', '[[0, 100], [45, 0.5]]')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        if not value.isascii() and any("\ud800" <= char <= "\udfff" for char in value):
            raise InputError(f"{value!a} holds half a character; type it anew")
        return toml_string(value)
    if isinstance(value, int | float):
        if not math.isfinite(value):
            raise InputError(f"{value} is no number a file can hold; give a finite one")
        whole = isinstance(value, int) or (value == int(value) and abs(value) < 1e15)
        return str(int(value)) if whole else repr(float(value))
    if isinstance(value, tuple):
        return f"{{ value = {literal(value[0])}, spread = {literal(value[1])} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(literal, value))}]"
    raise AssertionError(f"no value of a file: {value!r}")


def plain(value: Any) -> Any:
    """The value as reading the file gives it."""
    if isinstance(value, tuple):
        return {"value": value[0], "spread": value[1]}
    return value


def set_value(text: str, path: Path, value: Any, *, order: Sequence[str] = ()) -> str:
    """The text with one key given a value; the comment behind it stays, missing tables are begun.

    Args:
        path: the key; every list entry on the way must exist.
        value: bool, number, text, list, or the pair (value, spread).
        order: names of tables, dotted, in the order a new one takes its place by; at the end where not named.
    """
    data = read(text)
    wanted = _changed(data, path, plain(value))
    if wanted == data and _at(data, path) is not None and type(_at(data, path)) is type(plain(value)):
        return text
    return _proved(text, wanted, [_set_in_place(text, path, literal(value), order)], path, plain(value))


def rename_value(text: str, path: Path, key: str, value: Any) -> str:
    """The text with the key at `path` replaced by another key of the same table, in its place."""
    data = read(text)
    wanted = _changed(_changed(data, path, _REMOVE), (*path[:-1], key), plain(value))
    found = _key(text, path)
    tries = []
    if found is not None:
        moved = _in_row(text, found, literal(value), name=key)
        tries = [moved]
    return _proved(text, wanted, tries, (*path[:-1], key), plain(value), gone=path)


def remove_value(text: str, path: Path) -> str:
    """The text without a key, or without a whole table and what stands below it; absent is no fault."""
    data = read(text)
    if _at(data, path) is None:
        return text
    rows = text.split("\n")
    doomed = [one for one in _marks(text) if one.path[: len(path)] == path]
    for one in reversed(doomed):
        if one.header:
            first, last = _block(rows, one.first, _marks(text))
            del rows[first:last]
        elif not any(other.header and one.path[: len(other.path)] == other.path for other in doomed):
            del rows[one.first - 1 : one.last]
    return _proved(text, _changed(data, path, _REMOVE), ["\n".join(rows)] if doomed else [], path, _REMOVE)


def remove_entry(text: str, path: Path) -> str:
    """The text without one entry `(..., index)` of a list of tables, the comment right above it and its blank row."""
    data = read(text)
    wanted = copy.deepcopy(data)
    holder = _at(wanted, path[:-1])
    if not isinstance(holder, list) or int(path[-1]) >= len(holder):
        raise InputError(f"there is no {path[0]} number {int(path[-1]) + 1} in the file; read it again")
    del holder[int(path[-1])]
    if not holder:
        wanted = _changed(wanted, path[:-1], _REMOVE)
    rows = text.split("\n")
    marks = _marks(text)
    mine = [one for one in marks if one.header and one.path == path]
    tries = []
    if mine:
        first, last = _block(rows, mine[0].first, marks, below=path)
        tries = ["\n".join(rows[:first] + rows[last:])]
    return _proved(text, wanted, tries, path, _REMOVE)


def add_entry(text: str, key: str, values: Mapping[str, Any], *, order: Sequence[str] = ()) -> str:
    """The text with one more table `[[key]]` behind the last of them, or where `order` puts the first."""
    data = read(text)
    wanted = copy.deepcopy(data)
    held = wanted.setdefault(key, [])
    if not isinstance(held, list):
        raise InputError(f"{key} is no list of tables in the file; write [[{key}]] with double brackets")
    held.append({name: plain(value) for name, value in values.items()})
    rows = [f"[[{key}]]", *(f"{name} = {literal(value)}" for name, value in values.items())]
    return _proved(text, wanted, [_with_table(text, (key,), rows, order)], (key,), None)


# --- where things stand ----------------------------------------------------------------------------------------------


def _key(text: str, path: Path) -> Statement | None:
    return next((one for one in _marks(text) if not one.header and one.path == path), None)


def _block(rows: list[str], header: int, marks: Sequence[Statement], *, below: Path | None = None) -> tuple[int, int]:
    """Rows [first, last) of a table: the comment right above its header, its rows, blank rows behind it.

    With `below`, tables further down in that entry belong to it.
    """
    first = _lead(rows, header)
    following = [
        one for one in marks if one.header and one.first > header and (below is None or one.path[: len(below)] != below)
    ]
    last = _lead(rows, following[0].first) if following else len(rows)
    if last == len(rows) and rows and rows[-1] == "":
        last -= 1
        while first > 0 and not rows[first - 1].strip():
            first -= 1
    return first, last


def _lead(rows: list[str], header: int) -> int:
    """Index of the first row of the comment that stands right above a header, or of the header itself."""
    first = header - 1
    while first > 0 and rows[first - 1].lstrip().startswith("#"):
        first -= 1
    return first if first > 0 and not rows[first - 1].strip() else header - 1


def _in_row(text: str, found: Statement, value: str, *, name: str | None = None) -> str:
    """The text with the value of a statement replaced, and with `name` its key; what stands behind it stays."""
    rows = text.split("\n")
    body = "\n".join(rows[found.first - 1 : found.last])
    equals = _equals(body)
    start = equals + 1 + len(body[equals + 1 :]) - len(body[equals + 1 :].lstrip(" \t"))
    end = _value_end(body, start)
    left = body[:start]
    if name is not None:
        gap = left[len(left[:equals].rstrip()) :]
        words = left[:equals].rstrip()
        left = words[: len(words) - len(found.path[-1])] + name + gap
    tail = body[end:]
    comment = tail.lstrip(" \t")
    if comment.startswith("#"):
        width = len(body[:end]) + len(tail) - len(comment) - (body.rfind("\n", 0, end) + 1)
        tail = " " * max(1 if width == end + 1 else 2, width - len(left + value)) + comment
    return "\n".join([*rows[: found.first - 1], *(left + value + tail).split("\n"), *rows[found.last :]])


def _equals(body: str) -> int:
    """Index of the mark between key and value: the first = outside quotes."""
    quote = ""
    for place, char in enumerate(body):
        if quote:
            quote = "" if char == quote else quote
        elif char in "\"'":
            quote = char
        elif char == "=":
            return place
    raise AssertionError("a statement without =")


def _value_end(body: str, start: int) -> int:
    """Index behind the value that begins at `start`; what follows is blanks, a comment or a carriage return."""
    place, depth, end = start, 0, start
    while place < len(body):
        char = body[place]
        if char in "\"'":
            quote = char * 3 if body.startswith(char * 3, place) else char
            place += len(quote)
            while not body.startswith(quote, place):
                place += 2 if char == '"' and body[place] == "\\" else 1
            place += len(quote)
            end = place
            continue
        if char == "#":
            if depth == 0:
                return end
            place = body.find("\n", place)
        elif char == "\n" and depth == 0:
            return end
        elif not char.isspace():
            depth += (char in "[{") - (char in "]}")
            end = place + 1
        place += 1
    return end


def _set_in_place(text: str, path: Path, value: str, order: Sequence[str]) -> str | None:
    found = _key(text, path)
    if found is not None:
        return _in_row(text, found, value)
    rows, marks = text.split("\n"), _marks(text)
    row = f"{path[-1]} = {value}"
    table = path[:-1]
    headers = [one for one in marks if one.header]
    header = next((one for one in headers if one.path == table), None)
    if not table:
        own = [one for one in marks if not one.header and len(one.path) == 1]
        first = headers[0].first if headers else len(rows) + 1
        own = [one for one in own if one.first < first]
        if own:
            return "\n".join([*rows[: own[-1].last], row, *rows[own[-1].last :]])
        if not headers:
            return "\n".join([*([text.rstrip()] if text.strip() else []), row, ""])
        at = _lead(rows, first)
        return "\n".join([*rows[:at], row, "", *rows[at:]])
    if header is not None:
        following = next((one.first for one in headers if one.first > header.first), len(rows) + 2)
        own = [one for one in marks if header.first <= one.first < following]
        return "\n".join([*rows[: own[-1].last], row, *rows[own[-1].last :]])
    return _with_table(text, table, [f"[{'.'.join(map(_part, table))}]", row], order)


def _part(name: str) -> str:
    return name if name.replace("_", "").replace("-", "").isalnum() and name.isascii() else literal(name)


def _with_table(text: str, table: Path, new: list[str], order: Sequence[str]) -> str:
    """The text with the rows of a new table, blank rows around it, before the first table that comes after it."""
    rows, headers = text.split("\n"), [one for one in _marks(text) if one.header]
    rank = {name: place for place, name in enumerate(order)}

    def place_of(path: Path) -> float:
        names = [part for part in path if not part.isdigit()]
        while names:
            if ".".join(names) in rank:
                return rank[".".join(names)]
            names.pop()
        return math.inf

    mine = place_of(table)
    later = [
        one
        for one in headers
        if (one.path[: len(table)] == table and len(one.path) > len(table) and not one.path[len(table)].isdigit())
        or place_of(one.path) > mine
    ]
    if later:
        at = _lead(rows, later[0].first)
        return "\n".join([*rows[:at], *new, "", *rows[at:]])
    while rows and not rows[-1].strip():
        rows.pop()
    return "\n".join([*rows, *([""] if rows else []), *new, ""])


# --- data and proof --------------------------------------------------------------------------------------------------


def _at(data: Any, path: Path) -> Any:
    for part in path:
        if isinstance(data, list):
            if not part.isdigit() or int(part) >= len(data):
                return None
            data = data[int(part)]
        elif isinstance(data, dict):
            data = data.get(part)
        else:
            return None
    return data


def _changed(data: dict[str, Any], path: Path, value: Any) -> dict[str, Any]:
    """A copy of the data with one key changed; raises where the way to it is no table."""
    done = copy.deepcopy(data)
    node: Any = done
    for place, part in enumerate(path[:-1]):
        where = ".".join(path[: place + 1])
        if isinstance(node, list):
            if not part.isdigit() or int(part) >= len(node):
                raise InputError(f"there is no {where} in the file; it has {len(node)} of them, counted from 0")
            node = node[int(part)]
        elif value is _REMOVE and part not in node:
            return done
        else:
            node = node.setdefault(part, {})
        if not isinstance(node, dict | list):
            raise InputError(f"{where} is a value in the file, not a table; correct it in the text first")
    if isinstance(node, list):
        raise InputError(f"{'.'.join(path[:-1])} is a list in the file; name an entry by its number, from 0")
    if value is _REMOVE:
        node.pop(path[-1], None)
        return done
    old = node.get(path[-1])
    if (isinstance(old, dict) and "value" not in old) or (isinstance(old, list) and old and isinstance(old[0], dict)):
        raise InputError(f"{'.'.join(path)} is a table in the file; name a key inside it")
    node[path[-1]] = value
    return done


def _proved(
    text: str, wanted: dict[str, Any], tries: Sequence[str | None], path: Path, value: Any, *, gone: Path | None = None
) -> str:
    """The first try that reads as wanted; tomlkit's where none does."""
    for made in tries:
        if made is not None and _reads_as(made, wanted):
            return made
    try:
        made = _by_tomlkit(text, path, value, gone)
    except (TOMLKitError, KeyError, ValueError, TypeError, IndexError, AttributeError, RecursionError):
        made = None
    if made is not None and _reads_as(made, wanted):
        return made
    raise InputError(f"{'.'.join(path)} cannot be changed where it stands; change it in the text of the file")


def _reads_as(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return read(text) == wanted
    except ValueError:
        return False


def _by_tomlkit(text: str, path: Path, value: Any, gone: Path | None) -> str | None:
    document: Any = tomlkit.parse(text)
    if gone is not None:
        holder = _way(document, gone)
        del holder[gone[-1]]
    holder = _way(document, path)
    if value is _REMOVE:
        del holder[int(path[-1]) if isinstance(holder, list) else path[-1]]
    elif isinstance(value, dict):
        table = tomlkit.inline_table()
        table.update(value)
        holder[path[-1]] = table
    else:
        holder[path[-1]] = value
    return tomlkit.dumps(document)


def _way(document: Any, path: Path) -> Any:
    node = document
    for part in path[:-1]:
        if isinstance(node, list):
            node = node[int(part)]
        else:
            if part not in node:
                node[part] = tomlkit.table()
            node = node[part]
    return node
