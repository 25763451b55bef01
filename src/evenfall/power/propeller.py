"""Thrust and torque of a propeller: tabulated once by blade elements, then looked up.

The table runs over x = V/(V + k 0.7 omega R), a stretched angle theta = atan2(V, 0.7 omega R) that is regular at a
stopped shaft and at zero speed, and over the logarithm of the resultant speed (Reynolds number).

Limits: axial flow, a free disc (no body behind it: a fuselage takes some of the drag away), sections without
compressibility (thrust some 5 % low at a tip Mach number of .45), no measured propeller of this size with its shaft
braked to compare with. How the blade stalls backwards sets the dip of the windmilling torque: run `transition` 0, .5
and 1 to see how much of an answer hangs on it. Measured against computed: `tools/check_propellers.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from evenfall.plane.electrics import Propeller
from evenfall.power import cache
from evenfall.power.blade_sections import BladeSections, blade_sections, section_table
from evenfall.power.blades import CHARACTERS, PLAIN, Blade, Character, Outline, blade, outline
from evenfall.power.inflow import solve_elements

Array = npt.NDArray[np.float64]

EDITION = 4
"""Raised whenever the computation changes, so that older cached tables are left alone."""
STRETCH = 0.5
REFERENCE = 0.7
"""Radius over tip radius at which the rotary speed is taken."""
NODES = 241
"""Nodes in x; .1 to .5 deg of theta apart."""
RESULTANTS = 2.0 * 2.0 ** (0.5 * np.arange(14))
"""Resultant speeds of the table, m/s in standard air: 2 to 181."""
STANDARD_DENSITY = 1.225
SOUND = 340.294
"""Speed of sound, m/s (ISO 2533:1975, sea level)."""
TIP_MACH_LIMIT = 0.6
"""Above this tip Mach number the incompressible sections are not to be trusted. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PropellerMap:
    """Loads of one propeller at any forward speed V >= 0 and shaft speed omega >= 0.

    thrust = density U^2 R^2 CT(x, U), torque = density U^2 R^3 CQ(x, U), U^2 = V^2 + (0.7 omega R)^2.
    Beyond the tabulated resultants (2 to 181 m/s) the coefficients are held: see `valid`.

    Args:
        radius: tip radius, m.
        blade_area: all blades outside the root, m^2.
        pieces: shape (resultants - 1, nodes - 1, 16): cubic coefficients of CT and CQ in the local x, by power, at the
            lower resultant, then their growth to the next.
        unbalanced: share of elements left without a balance while tabulating (0 when all are solved).
    """

    radius: float
    blade_area: float
    pieces: Array
    unbalanced: float

    def loads(
        self, speed: npt.ArrayLike, omega: npt.ArrayLike, density: npt.ArrayLike = STANDARD_DENSITY
    ) -> tuple[Array, Array]:
        """Thrust in N (forward positive) and torque in N m (positive absorbed, negative driving the shaft).

        Args:
            speed: m/s, >= 0; omega: rad/s, >= 0; density: kg/m^3. All broadcast. Negative values count as zero.
        """
        rho = np.asarray(density, float)
        square, rows, h, share = self._place(speed, omega, rho)
        rows = rows[..., :8] + rows[..., 8:] * share[..., None]
        at = h[..., None]
        found = ((rows[..., 6:8] * at + rows[..., 4:6]) * at + rows[..., 2:4]) * at + rows[..., :2]
        scale = rho * square * self.radius**2
        return scale * found[..., 0], scale * self.radius * found[..., 1]

    def valid(self, speed: npt.ArrayLike, omega: npt.ArrayLike) -> npt.NDArray[np.bool_]:
        """True inside the table (resultant 2 to 181 m/s, both speeds >= 0) and below a tip Mach number of .6."""
        v, w = np.asarray(speed, float), np.asarray(omega, float)
        resultant = np.hypot(v, REFERENCE * self.radius * w)
        tip = np.hypot(v, self.radius * w)
        out: npt.NDArray[np.bool_] = (
            (v >= 0.0)
            & (w >= 0.0)
            & (resultant >= RESULTANTS[0])
            & (resultant <= RESULTANTS[-1])
            & (tip <= TIP_MACH_LIMIT * SOUND)
        )
        return out

    def _place(self, speed: npt.ArrayLike, omega: npt.ArrayLike, density: Array) -> tuple[Array, Array, Array, Array]:
        """Square of the resultant speed, the cell's coefficients, and the place in it by x and by resultant."""
        v, w = np.maximum(np.asarray(speed, float), 0.0), np.maximum(np.asarray(omega, float), 0.0)
        rotary = REFERENCE * self.radius * w
        square = v * v + rotary * rotary
        x = v / np.maximum(v + STRETCH * rotary, 1e-300) * (NODES - 1)
        i = np.minimum(x.astype(np.intp), NODES - 2)
        log_u = 0.5 * np.log(np.maximum(square * (density / STANDARD_DENSITY) ** 2, 1e-12))
        y = np.minimum(np.maximum((log_u - _LOG_FIRST) / _LOG_STEP, 0.0), RESULTANTS.size - 1.0)
        j = np.minimum(y.astype(np.intp), RESULTANTS.size - 2)
        rows = self.pieces.reshape(-1, 16).take(j * (NODES - 1) + i, axis=0)
        return square, rows, x - i, y - j


_LOG_FIRST = float(np.log(RESULTANTS[0]))
_LOG_STEP = float(np.log(RESULTANTS[1] / RESULTANTS[0]))


def _hermite(values: Array) -> Array:
    """Cubic pieces with centred slopes along axis 1 of (resultants, nodes, 2): shape (resultants, nodes - 1, 8)."""
    slope = np.empty_like(values)
    slope[:, 1:-1] = 0.5 * (values[:, 2:] - values[:, :-2])
    slope[:, 0] = -1.5 * values[:, 0] + 2.0 * values[:, 1] - 0.5 * values[:, 2]
    slope[:, -1] = 1.5 * values[:, -1] - 2.0 * values[:, -2] + 0.5 * values[:, -3]
    a, b, p, q = values[:, :-1], values[:, 1:], slope[:, :-1], slope[:, 1:]
    return np.concatenate([a, p, 3.0 * (b - a) - 2.0 * p - q, 2.0 * (a - b) + p + q], axis=-1)


def _tabulate(shape: Blade, sections: BladeSections) -> tuple[Array, float]:
    """Coefficients at the nodes as cubic pieces, and the share of elements left without a balance."""
    x = np.linspace(0.0, 1.0, NODES)
    # x = s/(s + k c) with s, c the sine and cosine of theta
    theta = np.arctan2(STRETCH * x, 1.0 - x)
    resultant = RESULTANTS[:, None]
    speed = resultant * np.sin(theta)
    omega = resultant * np.cos(theta) / (REFERENCE * shape.radius)
    elements = solve_elements(shape, sections, speed=speed, omega=omega)
    scale = resultant**2 * shape.radius**2
    thrust = np.sum(elements.thrust * shape.width, axis=-1) / scale
    torque = np.sum(elements.torque * shape.width, axis=-1) / (scale * shape.radius)
    return _hermite(np.stack([thrust, torque], axis=-1)), float(1.0 - np.mean(elements.converged))


def map_of_outline(
    shape: Outline,
    *,
    radius: float,
    blades: int = 2,
    character: Character = PLAIN,
    transition: float = 0.5,
    section: str | None = None,
    cache_dir: Path | None = None,
    use_cache: bool = True,
) -> PropellerMap:
    """Map of an outline with the given character of its sections; the other arguments are those of `propeller_map`."""
    form = blade(shape, radius=radius, blades=blades, angle_offset=character.angle_offset)
    folder = (cache_dir if cache_dir is not None else cache.cache_folder()) if use_cache else None
    geometry = [values.tolist() for values in (form.r, form.chord, form.angle, form.thickness)]
    condition = (character.drag_increment, transition, section, section_table().digest)
    key = cache.content_key("propeller", EDITION, form.radius, form.blades, geometry, condition)
    stored = cache.load(key, folder)
    wanted = (RESULTANTS.size, NODES - 1, 8)
    if stored is not None and "rows" in stored and "unbalanced" in stored and stored["rows"].shape == wanted:
        rows, unbalanced = np.asarray(stored["rows"], float), float(np.asarray(stored["unbalanced"], float))
    else:
        sections = blade_sections(
            form.thickness, transition=transition, section=section, drag_increment=character.drag_increment
        )
        rows, unbalanced = _tabulate(form, sections)
        cache.store(key, {"rows": rows, "unbalanced": np.array(unbalanced)}, folder)
    pieces = np.concatenate([rows[:-1], rows[1:] - rows[:-1]], axis=-1)
    return PropellerMap(radius=radius, blade_area=form.area, pieces=pieces, unbalanced=unbalanced)


@lru_cache(maxsize=64)
def propeller_map(
    propeller: Propeller,
    *,
    transition: float = 0.5,
    section: str | None = None,
    cache_dir: Path | None = None,
    use_cache: bool = True,
) -> PropellerMap:
    """Map of a propeller, computed once and kept by content.

    Args:
        propeller: diameter, pitch, family and ruler chord, or measured stations.
        transition: 0 quiet stream (Ncrit 9), 1 disturbed (Ncrit 4): an uncertain input. Measured propellers are
            met best half way.
        section: one plain section, `naca4406` to `naca4415`, for the whole blade; None takes the assumed thickness
            and the character of the family.
        cache_dir: folder to keep it in; None the user's cache folder. `use_cache` False computes afresh.
    """
    return map_of_outline(
        outline(propeller),
        radius=propeller.radius,
        blades=propeller.blades,
        character=CHARACTERS[propeller.shape] if section is None else PLAIN,
        transition=transition,
        section=section,
        cache_dir=cache_dir,
        use_cache=use_cache,
    )


def mass_estimate(propeller: Propeller) -> float:
    """Mass in kg where none was weighed: 18 g for two blades of 0.254 m, with diameter^3 (same shape, same material).

    Common practice, no source: moulded propellers of 10 in weigh 15 to 22 g. Doubt 30 %.
    """
    return 0.018 * (propeller.diameter / 0.254) ** 3 * propeller.blades / 2.0


@lru_cache(maxsize=64)
def inertia(propeller: Propeller) -> float:
    """Moment of inertia about the shaft, kg m^2.

    m times the mean of r^2 weighted with section area, chord^2 x thickness; the hub (15 % of the radius) is counted
    with the blade root. The mass is the weighed one, else `mass_estimate`.
    """
    form = blade(outline(propeller), radius=propeller.radius, blades=propeller.blades)
    weight = form.chord**2 * form.thickness * form.width
    mass = propeller.mass if propeller.mass is not None else mass_estimate(propeller)
    return mass * float(np.sum(weight * form.r**2) / np.sum(weight))
