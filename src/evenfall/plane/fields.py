"""One table of a plane file: numbers with units in their keys, spreads and guesses, every fault at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from evenfall.plane.guesses import ADVICE, MEASURED, SPREAD_OF, Guess, Spread, spread_text
from evenfall.toml_table import Faults, Table, nearest, shown
from evenfall.units import KINDS, Unit, plain, show

NAN = float("nan")


@dataclass
class Ledger(Faults):
    """Faults, notes, spreads and guesses collected while one plane file is read.

    `origin_x`, `origin_z`: the propeller disc and thrust line in the file's own frame, m.
    """

    spreads: dict[str, Spread] = field(default_factory=dict)
    guesses: list[Guess] = field(default_factory=list)
    origin_x: float = 0.0
    origin_z: float = 0.0


class Fields(Table):
    """A table whose quantities carry their unit in the key.

    `quantity` returns NaN where a fault was noted, so that reading goes on; look at `sound` before using anything.
    """

    faults: Ledger

    def __init__(self, data: dict[str, Any], where: str, faults: Ledger) -> None:
        super().__init__(data, where, faults)
        self.faults = faults
        self.kinds: list[tuple[str, str]] = []

    def section(self, key: str, *, required: bool = False) -> Fields | None:
        """A table below this one."""
        found = self.table(key, required=required)
        return found if isinstance(found, Fields) else None

    def sections(self, key: str) -> list[Fields]:
        """A list of tables below this one."""
        return [found for found in self.tables(key) if isinstance(found, Fields)]

    def given(self, base: str, kind: str) -> list[str]:
        """Keys in the file that give this quantity."""
        return [_key(base, suffix) for suffix in KINDS[kind] if _key(base, suffix) in self.data]

    def quantity(
        self,
        base: str,
        kind: str,
        low: float,
        high: float,
        *,
        path: str | tuple[str, ...] = (),
        required: bool = True,
        sigma: tuple[float, bool] | None = None,
    ) -> float:
        """SI value of `base` with a unit of that kind, between `low` and `high` (SI); NaN where absent or faulty.

        An empty `base` makes the unit the whole key (`us_per_deg`).

        `path` names the attributes it sets, for the spread; `sigma` (value, relative) replaces the usual precision.
        """
        paths = (path,) if isinstance(path, str) else path
        units = KINDS[kind]
        self.kinds.append((base, kind))
        self.known.extend(_key(base, suffix) for suffix in units)
        keys = self.given(base, kind)
        if not keys:
            if required:
                self.fault(self._usual(base, kind), f"is missing; any unit will do: {_choices(base, kind)}")
            return NAN
        if len(keys) > 1:
            for key in keys:
                others = ", ".join(other for other in keys if other != key)
                self.fault(key, f"gives the same quantity as {others}; keep one")
            return NAN
        key = keys[0]
        unit = units[key.removeprefix(f"{base}_") if base else key]
        value, spread = self._value(key)
        if value is None:
            return NAN
        if unit.inverse and value <= 0:
            self.fault(key, f"is {shown(value)}; it must be above zero")
            return NAN
        result = unit.to_si(value)
        if not low <= result <= high:
            self.fault(key, f"is {shown(value)} {unit.symbol}; allowed is {_limits(unit, low, high)}")
            return NAN
        self._note_spread(
            paths, kind, spread_si=None if spread is None else unit.spread_to_si(value, spread), sigma=sigma
        )
        return result

    def x(self, base: str, *, path: str = "", required: bool = True, low: float = -3.0, high: float = 5.0) -> float:
        """A position aft, m behind the propeller disc whatever the file's datum."""
        return self.quantity(base, "length", low, high, path=path, required=required) - self.faults.origin_x

    def z(self, base: str, *, path: str = "", required: bool = True, low: float = -2.0, high: float = 2.0) -> float:
        """A height, m above the thrust line whatever the file's datum."""
        return self.quantity(base, "length", low, high, path=path, required=required) - self.faults.origin_z

    def _value(self, key: str) -> tuple[float | None, float | None]:
        """Number and spread in the key's own unit, from a number or `{ value, spread }`."""
        raw = self.data[key]
        if not isinstance(raw, dict):
            return (float(raw), None) if self.is_number(key, raw) else (None, None)
        for name in raw:
            if name not in ("value", "spread"):
                near = nearest(name, ("value", "spread"))
                hint = f"; did you mean `{near}`?" if near else ""
                self.fault(f"{key}.{name}", f"is not known here; write {{ value = ..., spread = ... }}{hint}")
        if "value" not in raw:
            self.fault(key, "lacks its value; write { value = ..., spread = ... }")
            return None, None
        if not self.is_number(f"{key}.value", raw["value"]):
            return None, None
        spread = raw.get("spread")
        if spread is None:
            return float(raw["value"]), None
        if not self.is_number(f"{key}.spread", spread):
            return None, None
        if spread < 0:
            self.fault(f"{key}.spread", f"is {shown(spread)}; a spread (one sigma) is zero or more")
            return None, None
        return float(raw["value"]), float(spread)

    def _note_spread(
        self, paths: tuple[str, ...], kind: str, *, spread_si: float | None, sigma: tuple[float, bool] | None
    ) -> None:
        for path in paths:
            if not path:
                continue
            if spread_si is not None:
                self.faults.spreads[path] = Spread(sigma=spread_si, source="stated")
            elif (usual := sigma or SPREAD_OF.get(path) or MEASURED.get(kind)) and usual[0] > 0:
                self.faults.spreads[path] = Spread(sigma=usual[0], source="measured", relative=usual[1])

    def guess(
        self,
        base: str,
        kind: str,
        value: float,
        sigma: float,
        *,
        path: str,
        relative: bool = False,
        advice: str = "",
        words: str = "",
    ) -> float:
        """Note that `value` (SI) stands in for a missing `base`, and return it."""
        spread = Spread(sigma=sigma, source="guess", relative=relative)
        self.faults.spreads[path] = spread
        given = words or _guess_words(value, kind)
        self.note_guess(self._usual(base, kind), path, given, spread_text(spread, kind, value), advice or path)
        return value

    def note_guess(self, key: str, path: str, value: str, spread: str, advice: str) -> None:
        """Add one line to the list of guesses."""
        words = ADVICE[advice]
        self.faults.guesses.append(
            Guess(
                key=self.dotted(key),
                path=path,
                value=value,
                spread=spread,
                why=words.why,
                buys=words.buys,
                how=words.how,
            )
        )

    def _usual(self, base: str, kind: str) -> str:
        return _key(base, next(iter(KINDS[kind])))

    def unknown_message(self, key: str, homes: Sequence[str]) -> str:
        """What to say about a key nobody asked for: a missing unit, a wrong unit, or what `Table` says."""
        for base, kind in sorted(self.kinds, key=lambda item: -len(item[0])):
            if not base or homes:
                continue
            if key == base:
                return f"lacks its unit; write {_choices(base, kind)}"
            suffix = key.removeprefix(f"{base}_")
            if suffix != key and (suffix in _SUFFIXES or ("_" not in suffix and nearest(key, self.known) is None)):
                return f"ends in no unit of {kind.replace('_', ' ')}; write {_choices(base, kind)}"
        return super().unknown_message(key, homes)

    def listed(self) -> list[str]:
        """Known keys as a message lists them: every quantity in its usual unit only."""
        spare = {_key(base, suffix) for base, kind in self.kinds for suffix in list(KINDS[kind])[1:]}
        return [key for key in super().listed() if key not in spare]


_SUFFIXES = {suffix for units in KINDS.values() for suffix in units}


def _key(base: str, suffix: str) -> str:
    return f"{base}_{suffix}" if base else suffix


def _choices(base: str, kind: str) -> str:
    first, *others = KINDS[kind]
    text = _key(base, first)
    return f"{text} (or {', '.join('_' * bool(base) + suffix for suffix in others)})" if others else text


def _limits(unit: Unit, low: float, high: float) -> str:
    ends = sorted(unit.from_si(end) if end or not unit.inverse else math.inf for end in (low, high))
    if math.isinf(ends[1]):
        return f"{plain(ends[0], 3)} {unit.symbol} or more"
    return f"{plain(ends[0], 3)} to {plain(ends[1], 3)} {unit.symbol}".rstrip()


def _guess_words(value: float, kind: str) -> str:
    return show(value, kind, digits=3)
