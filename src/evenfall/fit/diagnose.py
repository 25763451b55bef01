"""From what was seen to what may be behind it: Bayes over causes and their sizes, and the checks that decide most.

One cause at a time, or none of them. A sign is noticed with probability Phi((effect - notice)/sigma), sigma joining the
doubt of the prediction with the blur of the eye; what was not named counts against a cause by a part only, because
pilots do not name everything. Sources: Bayes' rule; the probit of signal detection (Green and Swets, Signal Detection
Theory and Psychophysics, 1966); expected information (Lindley, Annals of Mathematical Statistics 27 (1956), 986); all
from memory.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from evenfall.errors import InputError
from evenfall.fit.causes import REST, Cause, Chart, Sign, chart
from evenfall.fit.learned import FACTORS, Learned
from evenfall.fit.shows import SHOWN, Shows
from evenfall.fit.suspects import Suspect, suspects

Floats = NDArray[np.float64]

MISTAKEN = 0.01
"""Share of reports of a sign that is not there. Common practice, no source."""
SURE = 0.97
"""Largest probability that a sign is reported. Common practice, no source."""
SILENCE = 0.7
"""How far a sign that was not named counts as not seen, 0 to 1. Common practice, no source."""
_RESOLVED, _FALSE_ALARM = 0.95, 0.03
"""Share of checks that find what is there, at most, and of those that find what is not. Common practice, no source."""
_REVEALED = 0.85
"""Share of checks that show another cause they are said to reveal. Common practice, no source."""
_TURN_NOTICE, _TURN_BLUR, _TURN_TOLD = math.radians(8.0), math.radians(4.0), 0.5
"""Turning that half of the pilots notice and one sigma of that, rad/s, and the share who name it so. Common practice,
no source."""
_TURN = ("pitch_crow", "roll_crow", "yaw_crow")


@dataclass(frozen=True, kw_only=True)
class CauseAnswer:
    """One cause after the signs.

    Args:
        probability: of it; all causes and `other` make 1. before: without any sign.
        which: where it sits most likely (corner, level or rigging fault), "" where it has no place.
        size, spread: mean and one sigma in the unit of the cause's table, of that place.
        speaks: every sign named or denied, with the ratio of its probability under this cause to that over all.
        bits: what its check is expected to tell of the cause, bit.
    """

    cause: Cause
    probability: float
    before: float
    which: str
    size: float
    spread: float
    speaks: Mapping[str, float]
    bits: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """Causes, most likely first; `other`: none of them; `order`: keys of causes in the order their checks tell most
    per minute, each after those before it found nothing."""

    signs: tuple[str, ...]
    absent: tuple[str, ...]
    causes: tuple[CauseAnswer, ...]
    other: float
    order: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Case:
    """A plane with its plan, ready for any signs: what it shows, every hypothesis, and whether only what has come since
    proven flights counts."""

    chart: Chart
    shows: Shows
    rows: tuple[Suspect, ...]
    since: bool = False


def prepare_case(shows: Shows, table: Chart | None = None, *, since: bool = False) -> Case:
    """Every hypothesis of a plane with its plan. One case serves for any set of signs.

    Args:
        since: the plane is one that flights have taught, with a plan proven by them: only what has come since counts.
    """
    used = chart() if table is None else table
    return Case(chart=used, shows=shows, rows=suspects(shows, used, since=since), since=since)


@dataclass(frozen=True, kw_only=True)
class _Expected:
    """What is expected under every hypothesis: added to what the plane shows, (rows, SHOWN), one sigma of it that is
    open, (SHOWN,), and ln of how likely the flights are, (rows,)."""

    added: Floats
    doubt: Floats
    flights: Floats


def _expected(case: Case, flights: Learned | None) -> _Expected:
    """Under every hypothesis, what flights have taught taken in.

    Flights give N(m, C) from the prior N(0, P), so their own information is C^-1 - P^-1. Under a cause that moves the
    factors by d the prior is N(d, P): then the factors are N(C b, C) and ln p = b' C b/2 - d' P^-1 d/2 with
    b = C^-1 m + P^-1 d.
    """
    shown = np.stack([row.shown for row in case.rows])
    grow, covariance = case.shows.by_factor, case.shows.covariance
    none = np.zeros(len(case.rows))
    if flights is not None:
        own = f"brake_damping:{case.shows.plan.motor.level}"
        skip = "brake_damping" if own in flights.names else own
        keep = [k for k, name in enumerate(flights.names) if name != skip and (name in FACTORS or name == own)]
        names = [flights.names[k].partition(":")[0] for k in keep]
        place = [FACTORS.index(name) for name in names]
        learned = flights.covariance[np.ix_(keep, keep)]
        information = np.linalg.inv(covariance[np.ix_(place, place)] + 1e-12 * np.eye(len(place)))
        move = np.stack([row.factors[place] for row in case.rows])
        both = np.linalg.solve(learned, flights.mean[keep]) + move @ information
        none = 0.5 * np.einsum("ni,ij,nj->n", both, learned, both)
        none = none - 0.5 * np.einsum("ni,ij,nj->n", move, information, move)
        shown = shown + (both @ learned - move) @ grow[place]
        covariance = covariance.copy()
        covariance[np.ix_(place, place)] = learned
    doubt = np.sqrt(np.maximum(np.einsum("fi,fg,gi->i", grow, covariance, grow), 0.0))
    return _Expected(added=shown, doubt=doubt, flights=none)


def _noticed(sign: Sign, case: Case, expected: _Expected) -> Floats:
    """Probability that a sign is reported under every hypothesis, (rows,)."""
    rows, used, shown = case.rows, case.chart, expected.added
    seen = np.zeros(len(rows))
    if sign.shows == "change":
        missed = np.ones(len(rows))
        shown = np.stack([row.shown for row in rows])
        for other in used.signs.values():
            if other.shows in SHOWN:
                limit, blur = _scaled(other)
                missed = np.minimum(missed, 1 - ndtr((np.abs(shown[:, SHOWN.index(other.shows)]) - limit) / blur))
        recent = np.array(
            [0.0 if row.cause == REST else 1.0 if case.since else used.causes[row.cause].new for row in rows]
        )
        seen = recent * (1 - missed)
    elif sign.shows == "turn":
        size = np.max(np.abs(shown[:, [SHOWN.index(name) for name in _TURN]]), axis=1)
        seen = _TURN_TOLD * ndtr((size - _TURN_NOTICE) / _TURN_BLUR)
    elif sign.shows:
        place = SHOWN.index(sign.shows)
        limit, blur = _scaled(sign)
        base = 0.0 if sign.beyond else case.shows.base[place]
        sigma = math.hypot(blur, float(expected.doubt[place]))
        seen = np.asarray(ndtr((sign.way * (base + shown[:, place]) - limit) / sigma))
    told = np.array([0.0 if row.cause == REST else used.causes[row.cause].chance.get(sign.key, 0.0) for row in rows])
    whole = 1 - (1 - seen) * (1 - told) * (1 - sign.rest)
    return np.asarray(np.clip(whole, MISTAKEN, SURE))


def _scaled(sign: Sign) -> tuple[float, float]:
    """Notice and blur of a sign, SI."""
    turns = sign.shows.partition("_")[0] in ("pitch", "yaw") or sign.shows in ("roll_crow", "roll_clean")
    unit = math.radians(1.0) if turns else 1.0
    return sign.notice * unit, sign.blur * unit


def check_signs(signs: Collection[str], absent: Collection[str] = (), *, table: Chart | None = None) -> None:
    """Raise `InputError` for signs nobody knows, or ones both seen and not seen."""
    known = (chart() if table is None else table).signs
    unknown = [key for key in (*signs, *absent) if key not in known]
    if unknown:
        raise InputError(f"no sign is called {', '.join(unknown)}; there are {', '.join(known)}")
    both = sorted(set(signs) & set(absent))
    if both:
        raise InputError(f"{', '.join(both)} cannot be seen and not seen at once")


def diagnose(
    case: Case, signs: Collection[str], *, absent: Collection[str] = (), flights: Learned | None = None
) -> Answer:
    """Ranked causes of the signs that were seen, less those looked for and not seen (`absent`).

    Args:
        flights: what flights with this plan have taught about the engine's factors, against those of the case's plane
            and from its doubt.

    Raises `InputError` for unknown signs. The order in which signs are given does not matter.
    """
    check_signs(signs, absent, table=case.chart)
    keys = list(case.chart.signs)
    log = np.log([max(row.weight, 1e-300) for row in case.rows])
    each = np.empty((len(case.rows), len(keys)))
    expected = _expected(case, flights)
    for column, (key, sign) in enumerate(case.chart.signs.items()):
        p = _noticed(sign, case, expected)
        each[:, column] = np.log(p if key in signs else 1 - p if key in absent else 1 - SILENCE * p)
    log = log + (each.sum(axis=1) if signs or absent else 0.0)
    log = log + expected.flights
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    before = np.array([row.weight for row in case.rows])
    named = [key for key in keys if key in signs or key in absent]
    chance = np.exp(each)
    everything = {key: float(before @ chance[:, keys.index(key)]) for key in named}
    by_cause: dict[str, list[int]] = {}
    for index, row in enumerate(case.rows):
        by_cause.setdefault(row.cause, []).append(index)
    other = float(weight[by_cause.pop(REST)].sum())
    bits = _Checks(case, weight)
    answers = []
    for key, members in by_cause.items():
        mine = np.array(members)
        total, first = float(weight[mine].sum()), float(before[mine].sum())
        which, size, spread = _place(case.rows, mine, weight)
        speaks = {
            name: float(before[mine] @ chance[mine, keys.index(name)] / first / everything[name]) for name in named
        }
        answers.append(
            CauseAnswer(
                cause=case.chart.causes[key],
                probability=total,
                before=first,
                which=which,
                size=size,
                spread=spread,
                speaks=speaks,
                bits=bits.worth(key),
            )
        )
    answers.sort(key=lambda one: (-one.probability, one.cause.key))
    return Answer(
        signs=tuple(key for key in keys if key in signs),
        absent=tuple(key for key in keys if key in absent),
        causes=tuple(answers),
        other=other,
        order=bits.order(),
    )


def _place(rows: Sequence[Suspect], members: NDArray[np.intp], weight: Floats) -> tuple[str, float, float]:
    """Likeliest place of a cause, and mean and spread of its size there."""
    places: dict[str, float] = {}
    for index in members.tolist():
        places[rows[index].which] = places.get(rows[index].which, 0.0) + float(weight[index])
    which = max(sorted(places), key=lambda name: places[name])
    there = [index for index in members.tolist() if rows[index].which == which]
    share = weight[there] / max(float(weight[there].sum()), 1e-300)
    values = np.array([rows[index].size for index in there])
    mean = float(share @ values)
    return which, mean, math.sqrt(float(share @ (values - mean) ** 2))


class _Checks:
    """What every check would show under every cause, and what that tells."""

    def __init__(self, case: Case, weight: Floats) -> None:
        self.case = case
        labels = [row.cause for row in case.rows]
        self.labels = list(dict.fromkeys(labels))
        self.p = np.array([weight[[one == label for one in labels]].sum() for label in self.labels])
        self.hit = {key: self._hits(key, weight) for key in self.labels if key != REST}

    def _hits(self, key: str, weight: Floats) -> Floats:
        """Probability that the check of a cause says so under every cause, (labels,)."""
        cause = self.case.chart.causes[key]
        found = np.full(len(self.labels), _FALSE_ALARM)
        for place, label in enumerate(self.labels):
            if label == key:
                rows = [(index, row) for index, row in enumerate(self.case.rows) if row.cause == key]
                share = np.array([weight[index] for index, _ in rows]) + 1e-300
                seen = ndtr((np.array([abs(row.size) for _, row in rows]) - cause.limit) / cause.gauge)
                found[place] = np.clip(float(share @ seen / share.sum()), _FALSE_ALARM, _RESOLVED)
            elif label in cause.reveals:
                found[place] = _REVEALED
        return found

    def worth(self, key: str, p: Floats | None = None) -> float:
        """Expected information of a check on which cause it is, bit: mutual information of outcome and cause."""
        shares = self.p if p is None else p
        hit = self.hit[key]
        return float(_entropy(shares @ hit) - shares @ _entropy(hit))

    def order(self) -> tuple[str, ...]:
        """Checks by expected information per minute, each after those before it said no."""
        p, left, order = self.p.copy(), list(self.hit), []
        while left:
            best = max(left, key=lambda key: (self.worth(key, p) / self.case.chart.causes[key].minutes, key))
            order.append(best)
            left.remove(best)
            p = p * (1 - self.hit[best])
            p /= p.sum()
        return tuple(order)


def _entropy(p: Floats | float) -> Floats:
    q = np.clip(np.asarray(p, float), 1e-12, 1 - 1e-12)
    return np.asarray(-(q * np.log2(q) + (1 - q) * np.log2(1 - q)))
