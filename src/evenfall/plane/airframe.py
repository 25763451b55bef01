"""What was measured on the aeroplane: surfaces, body, mass. Data only, no physics.

Lengths in metres, angles in radians, masses in kilograms. Positions are in the *drawing frame* of the plane file:
`x` aft and `z` up from the datum (propeller disc, thrust line), `y` right. `evenfall.plane.axes` holds the one
conversion to body axes. Surface angles are positive trailing edge down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from evenfall.errors import ValueRangeError
from evenfall.plane.controls import Linkage, Rigging, Servo
from evenfall.plane.corrections import PRIOR_DOUBT, Corrections, FactorDoubt
from evenfall.plane.electrics import Battery, Controller, Motor, Propeller

CORNERS = ("upper_left", "upper_right", "lower_left", "lower_right")
"""Names of the four ailerons: wing, then side as seen by a person standing behind the plane."""


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0:
            raise ValueRangeError(f"{name} must be positive, got {value!r}")


@dataclass(frozen=True, kw_only=True)
class Section:
    """A wing section: symmetric NACA four-digit of the given thickness, or a flat plate.

    Args:
        thickness: of the chord (0.12 is 12 %).
        flat_plate: a flat plate with rounded edges of that thickness instead of a four-digit section.
    """

    thickness: float
    flat_plate: bool = False


@dataclass(frozen=True, kw_only=True)
class Aileron:
    """One aileron; left and right are alike. Chords are those of the aileron behind its hinge line.

    Args:
        inner_y, outer_y: distance of its ends from the centre line, m.
        inner_chord, outer_chord: aileron chord at these ends, m.
        gap_sealed: hinge gap closed (True) or open.
        throw_up, throw_down: what the hinges allow, rad, both positive.
    """

    inner_y: float
    outer_y: float
    inner_chord: float
    outer_chord: float
    gap_sealed: bool
    throw_up: float
    throw_down: float


@dataclass(frozen=True, kw_only=True)
class Wing:
    """One wing, left and right panel alike except for incidence.

    Args:
        span: tip to tip, m.
        root_chord, tip_chord: m.
        root_le_x, tip_le_x: leading edge at root and tip, m aft of the datum.
        z: height of the root quarter-chord point, m above the datum.
        dihedral: rad.
        incidence_left, incidence_right: to the thrust line, rad, positive nose up.
    """

    span: float
    root_chord: float
    tip_chord: float
    root_le_x: float
    tip_le_x: float
    z: float
    section: Section
    dihedral: float = 0.0
    incidence_left: float = 0.0
    incidence_right: float = 0.0
    aileron: Aileron | None = None

    def __post_init__(self) -> None:
        _positive(span=self.span, root_chord=self.root_chord, tip_chord=self.tip_chord)

    @property
    def area(self) -> float:
        """Plan area, m^2."""
        return 0.5 * self.span * (self.root_chord + self.tip_chord)

    @property
    def mean_chord(self) -> float:
        """Mean aerodynamic chord of the straight-tapered wing, m: (2/3) c_r (1 + t + t^2)/(1 + t)."""
        t = self.tip_chord / self.root_chord
        return 2.0 / 3.0 * self.root_chord * (1 + t + t * t) / (1 + t)

    @property
    def quarter_chord_x(self) -> float:
        """x of the quarter-chord point of the mean aerodynamic chord, m aft of the datum."""
        t = self.tip_chord / self.root_chord
        share = (1 + 2 * t) / (3 * (1 + t))
        return self.root_le_x + share * (self.tip_le_x - self.root_le_x) + 0.25 * self.mean_chord


@dataclass(frozen=True, kw_only=True)
class Tail:
    """The horizontal tail with its elevator.

    Args:
        z: height above the datum, m.
        incidence: rad, positive nose up.
        elevator_fraction: elevator chord over local chord.
        elevator_up, elevator_down: throws, rad, both positive.
    """

    span: float
    root_chord: float
    tip_chord: float
    root_le_x: float
    tip_le_x: float
    z: float
    section: Section
    elevator_fraction: float
    elevator_up: float
    elevator_down: float
    incidence: float = 0.0

    def __post_init__(self) -> None:
        _positive(span=self.span, root_chord=self.root_chord, tip_chord=self.tip_chord)

    @property
    def area(self) -> float:
        """Plan area, m^2."""
        return 0.5 * self.span * (self.root_chord + self.tip_chord)


@dataclass(frozen=True, kw_only=True)
class Fin:
    """Fin and rudder, one vertical surface from `root_z` up over `height`.

    Args:
        root_z: height of its lower end above the datum (negative where it reaches below), m.
        offset: rad, positive leading edge right.
        rudder_fraction: rudder chord over local chord.
        rudder_throw: either way, rad.
    """

    height: float
    root_chord: float
    tip_chord: float
    root_le_x: float
    tip_le_x: float
    root_z: float
    section: Section
    rudder_fraction: float
    rudder_throw: float
    offset: float = 0.0

    def __post_init__(self) -> None:
        _positive(height=self.height, root_chord=self.root_chord, tip_chord=self.tip_chord)


@dataclass(frozen=True, kw_only=True)
class Body:
    """The fuselage as a box of these greatest dimensions, m. `nose_x` is aft of the datum."""

    length: float
    width: float
    height: float
    nose_x: float = 0.0
    z: float = 0.0


DragKind = Literal["wheel", "wire", "strut", "cowl_opening", "plate"]


@dataclass(frozen=True, kw_only=True)
class DragPart:
    """Parts that make drag beside the surfaces: a drag area, or a kind with its dimensions.

    Args:
        what: in the pilot's words.
        area: drag area Cd * S of all of them together, m^2; None where the dimensions stand instead.
        x, z: where it acts, m aft and up of the datum.
        kind: what the dimensions belong to; None where only the area is known.
        length: m; diameter of a wheel, length of a wire or strut, height of an opening or plate.
        width: m; width of a wheel, diameter of a wire, thickness of a strut across the flow, width of an opening or
            plate.
        count: how many alike.
    """

    what: str
    x: float
    z: float
    area: float | None = None
    kind: DragKind | None = None
    length: float | None = None
    width: float | None = None
    count: int = 1

    def __post_init__(self) -> None:
        if self.area is None and (self.kind is None or self.length is None or self.width is None):
            raise ValueRangeError(f"{self.what}: give a drag area, or a kind with length and width")


@dataclass(frozen=True, kw_only=True)
class Mass:
    """All-up mass (kg) and its centre, m aft and up of the datum; `cg_y` to the right."""

    all_up: float
    cg_x: float
    cg_z: float
    cg_y: float = 0.0

    def __post_init__(self) -> None:
        _positive(all_up=self.all_up)


@dataclass(frozen=True, kw_only=True)
class WantedSpeed:
    """The speed wanted on every line, m/s; None where the level stick decides.

    Args:
        speed: m/s, or None.
        level_stick: 0-1, "as fast as level at this stick", or None.
    """

    speed: float | None = None
    level_stick: float | None = None


@dataclass(frozen=True, kw_only=True)
class Plane:
    """One aeroplane as measured.

    Either wing may be absent (a monoplane has one). `corrections` are factors learned from flights, 1 before any;
    `doubt` says how far they may be off.
    """

    name: str
    wanted: WantedSpeed
    mass: Mass
    upper: Wing | None
    lower: Wing | None
    tail: Tail
    propeller: Propeller
    motor: Motor
    controller: Controller
    battery: Battery
    fin: Fin | None = None
    body: Body | None = None
    drag: tuple[DragPart, ...] = ()
    aileron_servo: Servo | None = None
    aileron_linkage: dict[str, Linkage] = field(default_factory=dict)
    rigging: Rigging | None = None
    corrections: Corrections = field(default_factory=Corrections)
    doubt: FactorDoubt = PRIOR_DOUBT

    def __post_init__(self) -> None:
        if self.upper is None and self.lower is None:
            raise ValueRangeError("a plane needs at least one wing: give [wing.upper], [wing.lower] or both")

    @property
    def wings(self) -> dict[str, Wing]:
        """The wings that exist, by name, upper first."""
        return {name: wing for name, wing in (("upper", self.upper), ("lower", self.lower)) if wing is not None}

    @property
    def wing_area(self) -> float:
        """Plan area of all wings, m^2."""
        return sum(wing.area for wing in self.wings.values())

    @property
    def mean_chord(self) -> float:
        """Mean aerodynamic chord of all wings, weighted by area, m."""
        return sum(wing.area * wing.mean_chord for wing in self.wings.values()) / self.wing_area
