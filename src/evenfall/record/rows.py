"""What the logbook hands out: flights, what was learned, changes, parts, what is proven. Frozen, in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

TextKind = Literal["plane", "plan"]


@dataclass(frozen=True, kw_only=True)
class TextRow:
    """The text of a plane or plan. `key`: content hash of the body; `at`: when it was kept, ISO 8601 UTC."""

    key: str
    kind: TextKind
    name: str
    body: str = field(repr=False)
    at: str


@dataclass(frozen=True, kw_only=True)
class Original:
    """A file that evidence came from.

    Args:
        hash: SHA-256 of its bytes. name: its name. size: bytes.
        path: where it is kept; None where it is only named (a video).
    """

    hash: str
    name: str
    size: int
    path: Path | None


@dataclass(frozen=True, kw_only=True)
class FlightRow:
    """One flight as it stood at one revision.

    Args:
        token: which flight; empty for a new one. revision: 1 for a new one, then one more with every change.
        name: of its file or form. date: ISO 8601. place: in words.
        air: temperature K, pressure Pa, elevation m, wind m/s, by these names. battery: before V, after V, used C.
        notes: the pilot's words. document: text of the flight file.
        plane, plan: keys of kept texts, None where not known. originals: hashes of kept originals.
        removed: taken out; can be brought back. at: when this revision was entered, ISO 8601 UTC.
        pieces: how many pieces of evidence the document holds.
    """

    token: str = ""
    revision: int = 1
    name: str = ""
    date: str
    place: str = ""
    air: Mapping[str, float] = field(default_factory=dict)
    battery: Mapping[str, float] = field(default_factory=dict)
    notes: str = ""
    document: str = field(default="", repr=False)
    plane: str | None = None
    plan: str | None = None
    originals: tuple[str, ...] = ()
    pieces: int = 0
    removed: bool = False
    at: str = ""


@dataclass(frozen=True, kw_only=True)
class LearnedRow:
    """Corrections and what they were learned from.

    Args:
        id: which; empty for a new one. date: ISO 8601.
        plane, plan: keys of kept texts. plane_name: name of the plane.
        names, mean, covariance: as in `evenfall.fit.learned.Learned`, ln of factors.
        flights: tokens of the flights they were learned from.
        speeds: line to (speed, one sigma) believed then, m/s.
        notes: outliers and what cannot be told apart, in words.
    """

    id: str = ""
    date: str
    plane: str
    plan: str
    plane_name: str
    names: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    flights: tuple[str, ...]
    speeds: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    at: str = ""


@dataclass(frozen=True, kw_only=True)
class ChangeRow:
    """A change of the plan or the plane.

    Args:
        id: which; empty for a new one. date: ISO 8601. plane_name: name of the plane.
        what, why: in words. from_plan, to_plan: keys of kept plans, None where not known.
        expected: what it should do, in words. check: what would confirm it.
        effects: what it did, as (date, words), oldest first.
        numbers: the same for programs, by name in SI.
    """

    id: str = ""
    date: str
    plane_name: str
    what: str
    why: str = ""
    from_plan: str | None = None
    to_plan: str | None = None
    expected: str = ""
    check: str = ""
    numbers: Mapping[str, float] = field(default_factory=dict)
    effects: tuple[tuple[str, str], ...] = ()
    at: str = ""


@dataclass(frozen=True, kw_only=True)
class PartRow:
    """A part replaced or repaired.

    Args:
        id: which; empty for a new one. date: ISO 8601. plane_name: name of the plane.
        part: kind, a key of `evenfall.record.parts.PARTS`. corner: which aileron, where it is one. note: in words.
        redone: tests done again, as (test, date).
    """

    id: str = ""
    date: str
    plane_name: str
    part: str
    corner: str = ""
    note: str = ""
    redone: tuple[tuple[str, str], ...] = ()
    at: str = ""


@dataclass(frozen=True, kw_only=True)
class ProvenRow:
    """A plan that is proven: its key, since when and why."""

    plan: str
    date: str
    why: str
    at: str = ""


def listed(value: Any) -> Any:
    """Tuples as JSON has them."""
    if isinstance(value, tuple | list):
        return [listed(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): listed(item) for key, item in value.items()}
    return value
