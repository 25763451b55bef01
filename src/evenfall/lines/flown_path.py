"""What a flight along a path leaves behind: states place by place, how it ended, and the books of energy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.path import Path, Piece

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
EVEN = 0.05
"""Share of the wanted speed within which a speed counts as even. Ours, no source."""
REGAINED_WITHIN = 4.0
"""s that a plane is given to gather its speed again. Ours, no source."""
KEPT = 48
"""Planes up to which every row of the state is kept."""


class Ended(Enum):
    """How a flight along a path ended."""

    FLOWN = "flown"
    STALLED = "stalled"
    STOPPED = "stopped"
    EMPTY = "empty"
    BLOWN = "blown"

    @property
    def text(self) -> str:
        """One sentence: what happened and what to do."""
        return _ENDED[self]


_ENDED = {
    Ended.FLOWN: "Flown to the end.",
    Ended.STALLED: (
        "The path asks for more lift than the wings carry: fly faster there, or give the arc a larger radius."
    ),
    Ended.STOPPED: "The plane ran out of speed on its path: a shorter line up, more power or less crow is needed.",
    Ended.EMPTY: "The battery was empty before the end: a larger one, a shorter programme or less throttle is needed.",
    Ended.BLOWN: (
        "The wind is too strong for it here: in still air the same plane flies on. Wait for less wind, or fly faster."
    ),
}

ROWS = ("speed", "omega", "deployment", "stick", "grown", "charge", "time")
"""Rows of the state that are always kept; `WORKS` follow for few variants."""
WORKS = ("thrust", "drag", "wind", "motor", "propeller", "battery", "heat")
"""Integrals, J: thrust and drag along the path, the wind's share of lift, shaft work of the motor and into the
propeller, energy out of the cells, heat of battery, controller and motor (motor brake included)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FlownPath:
    """A flight along a path. Arrays (steps, n) unless said; n planes.

    Args:
        place: (steps,) m along the path. piece: (steps,) index of the piece, the ending one at a joint.
        state: (rows, steps, n), rows as `ROWS` and, up to `KEPT` planes, `WORKS`.
        closed: the motor is held closed. aim: (steps,) speed the pilot flies to, m/s.
        ended: (n,) how. end: (n,) place up to which the plane flew, m; later rows repeat the last state.
        empty: (n,) place at which the battery was empty, inf where never.
    """

    path: Path
    place: Floats
    piece: NDArray[np.intp]
    state: Floats
    closed: Bools
    aim: Floats
    ended: tuple[Ended, ...]
    end: Floats
    empty: Floats

    def row(self, name: str) -> Floats:
        """One row of the state by name, (steps, n)."""
        return np.asarray(self.state[(*ROWS, *WORKS).index(name)])

    def reached(self, plane: int) -> Floats:
        """Speed of one plane at every place, m/s, (steps,); nan beyond where it ended."""
        return np.where(self.place <= self.end[plane] + 1e-6, self.row("speed")[:, plane], np.nan)

    def without_last(self) -> FlownPath:
        """The same flight without the last plane."""
        return replace(
            self,
            state=self.state[:, :, :-1],
            closed=self.closed[:, :-1],
            ended=self.ended[:-1],
            end=self.end[:-1],
            empty=self.empty[:-1],
        )

    def counted(self, wanted: float) -> Bools:
        """Where speed is to be even, (steps,): not in a stall turn or a spin, not where it is given up on purpose, and
        not while the first plane still gathers it afterwards, for `REGAINED_WITHIN` seconds at most."""
        even = self.aim >= wanted - 1e-9
        speed, time = self.row("speed")[:, 0], self.row("time")[:, 0]
        left = None
        for k in range(len(self.place)):
            if self._piece(k).how in ("stall turn", "spin"):
                even[k], left = False, time[k]
            elif left is not None:
                gathering = speed[k] < (1.0 - EVEN) * wanted and time[k] - left < REGAINED_WITHIN
                left = left if gathering else None
                even[k] &= not gathering
        return np.asarray(even)

    def sines(self) -> Floats:
        """Sine of the slope at every place, (steps,)."""
        return np.array([self._piece(k).upright(self._way(k))[0] for k in range(len(self.place))])

    def positions(self) -> Floats:
        """Position at every place, m, (steps, 3): axes of `evenfall.lines.path`."""
        return np.array([self._piece(k).position_at(self._way(k)) for k in range(len(self.place))])

    def heights(self) -> Floats:
        """Height above the ground at every place, m, (steps,)."""
        return np.asarray(self.positions()[:, 2])

    def load_factors(self) -> Floats:
        """Force across the path in the plane of symmetry over weight, towards the canopy: V^2/(r g) and the share of
        the weight that lies there, (steps, n). Zero where the path is not carried by the wings (stall turn, spin)."""
        bend = np.array([self._piece(k).bend for k in range(len(self.place))])
        share = np.array([self._piece(k).upright(self._way(k))[1] for k in range(len(self.place))])
        carried = np.array([self._piece(k).how not in ("spin", "stall turn") for k in range(len(self.place))])
        found = self.row("speed") ** 2 * (bend / G0)[:, None] + share[:, None]
        return np.asarray(found * carried[:, None])

    def _piece(self, step: int) -> Piece:
        return self.path.pieces[int(self.piece[step])]

    def _way(self, step: int) -> float:
        return float(self.place[step]) - self._piece(step).start
