"""Parts of figures and outcomes of a flight in words."""

from __future__ import annotations

import math

from evenfall.lines.sequence import Line, Loop, Part, Roll, Sequence, Spin, StallTurn

_SHARES = {90: "quarter loop", 180: "half loop", 270: "three-quarter loop", 360: "loop"}
_ROLLS = {90: "quarter roll", 180: "half roll", 270: "three-quarter roll", 360: "roll"}


def part_words(part: Part) -> str:
    """What is flown.

    >>> part_words(Line(slope=0.0, length=40.0))
    'level, 40 m'
    >>> part_words(Loop(radius=22.0, angle=math.pi, towards="belly"))
    'half loop to the belly, radius 22 m'
    """
    if isinstance(part, Line):
        rolls = "".join(f", {roll_words(roll)}" for roll in part.rolls)
        return f"{'pause' if part.pause else slope_words(part.slope)}, {part.length:.0f} m{rolls}"
    if isinstance(part, Loop):
        degrees = round(math.degrees(part.angle))
        return f"{_SHARES.get(degrees, f'{degrees} deg of loop')} to the {part.towards}, radius {part.radius:.0f} m"
    if isinstance(part, StallTurn):
        return f"stall turn to the {_side(part.way)}"
    return f"spin {_side(part.way)}, {part.turns:g} turn{'' if part.turns == 1 else 's'}"


def slope_words(slope: float) -> str:
    """A slope (rad) as pilots say it."""
    degrees = round(math.degrees(slope))
    if degrees == 0:
        return "level"
    way = "up" if degrees > 0 else "down"
    return f"vertical {way}" if abs(degrees) == 90 else f"{abs(degrees)} {way}"


def roll_words(roll: Roll) -> str:
    """A roll on a line: what, which way."""
    degrees = round(math.degrees(abs(roll.angle)))
    if roll.snap:
        turns = degrees / 360
        what = "snap roll" if turns == 1 else f"{turns:g} snap rolls"
    elif roll.points > 1:
        whole = round(360 * roll.points / degrees)
        what = f"{roll.points} points of {whole}" if degrees != 360 else f"{roll.points}-point roll"
    else:
        what = _ROLLS.get(degrees, f"{degrees / 360:g} rolls" if degrees % 180 == 0 else f"{degrees} deg of roll")
    return f"{what} {_side(1 if roll.angle > 0 else -1)}"


def estimated_words(sequence: Sequence) -> str:
    """What of a sequence is an estimate; empty where nothing."""
    parts = [part for figure in sequence.figures for part in figure.parts]
    snaps = any(isinstance(part, Line) and any(roll.snap for roll in part.rolls) for part in parts)
    spins = any(isinstance(part, Spin) for part in parts)
    if not snaps and not spins:
        return ""
    what = " and ".join(word for word, there in (("snap rolls", snaps), ("spins", spins)) if there)
    return f"{what} are estimates: the wings beyond the stall are not computed here"


def _side(way: int) -> str:
    return "right" if way > 0 else "left"
