"""Words of what flights teach: corrections, pieces of evidence, and how far off they are."""

from __future__ import annotations

import math

from evenfall.logs.evidence import (
    Damping,
    Evidence,
    HeldStick,
    Pull,
    ShaftSpeed,
    SteadySpeed,
    TimedLine,
    TimedRolls,
    TracedLine,
)

_RPM = 60 / (2 * math.pi)

CORRECTION_WORDS = {
    "parasite_drag": "drag of body and parts",
    "crow_drag": "drag of the crow",
    "braked_propeller_drag": "drag of the braked propeller",
    "brake_damping": "torque of the motor brake",
    "thrust": "thrust of the propeller",
    "crow_moment": "pitching moment of the crow",
    "roll_deployed": "roll response with crow out",
}
"""What each correction is called."""

KIND_WORDS = {
    "recorded": "recorded line",
    "timed": "timed line",
    "clicked": "line in a video",
    "sound": "sound",
    "rolls": "timed rolls",
    "pull": "pull",
    "held": "holding stick",
    "steady": "settled speed",
    "shaft": "shaft speed",
    "damping": "spin-down",
}
"""What each kind of entry is called."""

_APART = {
    frozenset(("parasite_drag", "crow_drag")): "a vertical line without crow",
    frozenset(("parasite_drag", "braked_propeller_drag")): "a level pass at a steady stick",
    frozenset(("parasite_drag", "brake_damping")): "the shaft speed on a line, by sound or telemetry",
    frozenset(("crow_drag", "braked_propeller_drag")): "a vertical line without crow",
    frozenset(("crow_drag", "brake_damping")): "the shaft speed on a line, by sound or telemetry",
    frozenset(("braked_propeller_drag", "brake_damping")): "the shaft speed on a line, by sound or telemetry",
    frozenset(("parasite_drag", "thrust")): "a line with the stick closed",
}
"""What tells two corrections apart."""


def correction_words(key: str) -> str:
    """Name of a correction; that of another motor-brake level names it."""
    name, _, level = key.partition(":")
    words = CORRECTION_WORDS.get(name, name)
    return f"{words} at {level}" if level else words


def known_to(sigma: float) -> str:
    """One sigma of ln factor in words."""
    return f"a factor of {math.exp(sigma):.1f}" if sigma > 0.4 else f"{100 * sigma:.0f} percent"


def correction_sentence(factor: float, sigma: float, before: float, *, told: bool) -> str:
    """What a learned factor means."""
    if not told:
        return f"Nothing was learned about it: known to {known_to(before)}, as before."
    share = 100 * (factor - 1)
    if abs(share) < 0.5:
        change = "As predicted"
    elif factor > 2 or factor < 0.5:
        change = f"{factor:.2g} times the prediction"
    else:
        change = f"{abs(share):.0f} percent {'more' if share > 0 else 'less'} than predicted"
    return f"{change}, now known to {known_to(sigma)}; before to {known_to(before)}."


def apart_sentence(one: str, two: str, correlation: float) -> str:
    """Two corrections that the evidence does not tell apart."""
    names = frozenset((one.partition(":")[0], two.partition(":")[0]))
    buys = _APART.get(names, "a line on which only one of them acts")
    what = "only their sum is known" if correlation < 0 else "only their ratio is known"
    return f"{correction_words(one).capitalize()} and {correction_words(two)}: {what}. {buys.capitalize()} parts them."


def off_words(off: float, outlier: bool) -> str:
    """How far off a piece is, in words."""
    size = abs(off)
    if outlier:
        return f"outlier, {size:.1f} sigma off"
    if size < 1 or (off < 0 and size < 2):
        return "agrees"
    return f"{size:.1f} sigma off"


def seen_words(piece: Evidence) -> str:
    """What was seen, with unit and one sigma."""
    if isinstance(piece, TracedLine):
        return f"{piece.way[-1] - piece.way[0]:.0f} m in {piece.time[-1]:.1f} s, {len(piece.time)} places"
    if isinstance(piece, TimedLine):
        return f"{piece.length:.0f} m in {_number(piece.seconds, piece.sigma)} s"
    if isinstance(piece, SteadySpeed):
        return f"{_number(piece.speed, piece.sigma)} m/s"
    if isinstance(piece, ShaftSpeed):
        return f"{_number(piece.omega * _RPM, piece.sigma * _RPM)} rpm at {piece.speed:.1f} m/s"
    if isinstance(piece, Damping):
        return f"{_number(1e3 * piece.torque, 1e3 * piece.torque * piece.sigma)} mN m at {piece.omega * _RPM:.0f} rpm"
    if isinstance(piece, TimedRolls):
        return f"{piece.rolls:g} rolls in {_number(piece.seconds, piece.sigma)} s"
    if isinstance(piece, Pull):
        return _pull(piece.rate, piece.sigma)
    return f"stick {_number(100 * piece.flight.stick, 100 * piece.sigma)} percent"


def expected_words(piece: Evidence, expected: float | None) -> str:
    """What the others expect of the same number; empty where it is none."""
    if expected is None:
        return ""
    if isinstance(piece, TimedLine | TimedRolls):
        sigma, unit, scale = piece.sigma, "s", 1.0
    elif isinstance(piece, SteadySpeed):
        sigma, unit, scale = piece.sigma, "m/s", 1.0
    elif isinstance(piece, ShaftSpeed):
        sigma, unit, scale = piece.sigma, "rpm", _RPM
    elif isinstance(piece, Damping):
        sigma, unit, scale = piece.sigma * piece.torque, "mN m", 1e3
    elif isinstance(piece, Pull):
        return _pull(expected, None)
    elif isinstance(piece, HeldStick):
        sigma, unit, scale = piece.sigma, "percent", 100.0
    else:
        return ""
    return f"{_rounded(scale * expected, scale * sigma)} {unit}"


def _pull(rate: float, sigma: float | None) -> str:
    size = abs(math.degrees(rate))
    number = f"{size:.1f}" if sigma is None else _number(size, math.degrees(sigma))
    if size < 0.05:
        return f"{number} deg/s, straight"
    return f"{number} deg/s towards the {'canopy' if rate > 0 else 'belly'}"


def _places(sigma: float) -> int:
    """Places a spread deserves: its first digit, with the second where the first is 1 or 2. Common practice."""
    if sigma <= 0:
        return 2
    order = math.floor(math.log10(sigma))
    second = sigma / 10.0**order < 2.95
    return max(0, min(3, second - order))


def _rounded(value: float, sigma: float) -> str:
    if sigma >= 20:
        return f"{round(value, -1):.0f}"
    return f"{value:.{_places(sigma)}f}"


def _number(value: float, sigma: float) -> str:
    return f"{_rounded(value, sigma)} +- {_rounded(sigma, sigma)}"
