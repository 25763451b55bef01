"""One table of a TOML file, read strictly: every fault is collected instead of stopping at the first."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from evenfall.errors import Fault, FileFaults


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
