"""What a pilot may see and what may be behind it, as data: `data/diagnosis.toml` with its notes."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

COMMON_PRACTICE = "common practice, no source"
REST = "none"
"""Key of "none of these"."""
REST_PRIOR = 0.15
"""Probability before any sign that nothing of the list is wrong. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Sign:
    """Something a pilot may have seen.

    Args:
        key, words, group: its name, the pilot's words, where it belongs.
        shows: what the engine computes of it (`evenfall.fit.shows.SHOWN`), "change" or "turn" for any of several, ""
            where the engine has no answer. way: the direction, 1 or -1.
        notice, blur: size at which half of the pilots notice it, and one sigma of that: ln of a ratio, or deg/s.
        beyond: only what exceeds the prediction counts.
        rest: share of pilots who report it though nothing is wrong.
        source: of `notice`.
    """

    key: str
    words: str
    group: str
    shows: str = ""
    way: int = 1
    notice: float = 0.0
    blur: float = 1.0
    beyond: bool = False
    rest: float = 0.0
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, kw_only=True)
class Cause:
    """Something that may be wrong, with its check at the bench or the field.

    Args:
        key, words: its name, in words.
        prior: how often it is met, relative to the others.
        size, shape, sigma: quantity and unit of its usual size, how it is spread, one sigma of it.
        faults: of rigging that it stands for, by key (`evenfall.lines.rig_faults`).
        new: share of cases in which it has come since the last flight.
        chance: share of pilots who report a sign, by key, beside what the engine computes.
        check, if_so, if_not: what to measure and what is seen; {braces} are filled with computed numbers.
        limit, gauge: size from which the check says so, and one sigma of it, in the unit of `sigma`.
        minutes: of the check. reveals: other causes it shows as well, by key.
        source: of what is not the engine's.
    """

    key: str
    words: str
    prior: float
    size: str
    shape: str
    sigma: float
    check: str
    if_so: str
    if_not: str
    limit: float
    gauge: float
    minutes: float
    new: float = 0.5
    faults: tuple[str, ...] = ()
    chance: Mapping[str, float] = field(default_factory=dict)
    reveals: tuple[str, ...] = ()
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, kw_only=True)
class Chart:
    """Every sign and every cause by key, in the order of the file."""

    signs: Mapping[str, Sign]
    causes: Mapping[str, Cause]


@cache
def chart() -> Chart:
    """The signs and causes that ship with the package."""
    text = (files("evenfall") / "data" / "diagnosis.toml").read_text(encoding="utf-8")
    read = tomllib.loads(text)
    return Chart(
        signs={row["key"]: Sign(**row) for row in read["sign"]},
        causes={row["key"]: _cause(row) for row in read["cause"]},
    )


def _cause(row: Mapping[str, Any]) -> Cause:
    lists = {name: tuple(row.get(name, ())) for name in ("faults", "reveals")}
    return Cause(**{**row, **lists})
