"""Section coefficients with a plain flap: lift, drag, moment and hinge moment, from tables or thin-aerofoil theory.

Signs: incidence nose up, throw trailing edge down; cm about the quarter chord of the unbent section; ch about the
hinge, referred to the flap chord squared, positive trailing edge down. All coefficients refer to the unbent chord.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.section_data import Blend, SectionTables, blend, cubic_matrix, load_sections
from evenfall.errors import ValueRangeError

Array = NDArray[np.float64]

_LINEAR_DEG = 32.0
"""Incidence nodes are 1 deg apart up to here and 4 deg apart beyond."""
_NODE_ALPHA_DEG = np.concatenate([np.arange(-180.0, -32.0, 4.0), np.arange(-32.0, 33.0), np.arange(36.0, 181.0, 4.0)])
_HALF = 69
"""Nodes on either side of zero incidence."""
_DELTA_MAX_DEG = 45.0
_DELTA_NODES = 31
_REYNOLDS_NODES = 16
_LIFT_STEP = 2.0**-22
"""Lift coefficients are kept as multiples of this, so that they and their steps are exact in single precision: without
that the straight pieces would not join, and no solver would settle on a joint."""
_BLEND_DEG = (18.0, 30.0)
"""Between these incidences the tables give way to the plate in separated flow."""


NOMINAL_TRANSITION = 0.5
"""Half way between late (Ncrit 9) and early transition (Ncrit 4): neither is known for a model in outdoor air."""


@dataclass(frozen=True, kw_only=True)
class SectionLoads:
    """Section coefficients, all of one shape; `valid` is false where extrapolated or blended to the plate."""

    cl: Array
    cd: Array
    cm: Array
    ch: Array
    valid: NDArray[np.bool_]


class Sections(Protocol):
    """One section per station of a lifting line."""

    @property
    def n(self) -> int:
        """Number of stations."""

    def lift(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> Array:
        """Lift coefficient (..., n) at incidence and throw (rad) and Reynolds number, each broadcast to (..., n)."""

    def loads(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> SectionLoads:
        """All coefficients (..., n), arguments as for `lift`."""


@dataclass(frozen=True, kw_only=True)
class ThinFlap:
    """Plain-flap derivatives of thin-aerofoil theory, per radian: `tau` as a share of incidence."""

    tau: Array
    dcm: Array
    b1: Array
    b2: Array


def thin_flap(flap_fraction: ArrayLike) -> ThinFlap:
    """Effectiveness, moment and hinge moments of a plain sealed flap on a thin section in unseparated flow.

    cos phi = 2 F - 1; tau = (pi - phi + sin phi)/pi; dcm = -sin phi (1 - cos phi)/2;
    b1 = -[2 (pi - phi)(2 cos phi - 1) + 4 sin phi - sin 2 phi]/(4 F^2);
    b2 = -[1 - cos 2 phi - 2 (pi - phi)^2 (1 - 2 cos phi) + 4 (pi - phi) sin phi]/(4 pi F^2).
    `flap_fraction` F is flap chord over chord, 0 to 1; zero means no flap and gives zeros.
    Houghton and Carpenter, Aerodynamics for Engineering Students, section 4.5, after Glauert (ARC R&M 1095, 1927).

    >>> round(float(thin_flap(0.25).tau), 4)
    0.609
    """
    fraction = np.asarray(flap_fraction, dtype=np.float64)
    if not np.all((fraction >= 0) & (fraction <= 1)):
        raise ValueRangeError(f"A flap fraction of {fraction} was given; it must lie between 0 and 1.")
    flapped = fraction > 0
    f = np.where(flapped, fraction, 0.5)
    phi = np.arccos(2 * f - 1)
    rest, sin, cos = np.pi - phi, np.sin(phi), np.cos(phi)
    tau = (rest + sin) / np.pi
    dcm = -sin * (1 - cos) / 2
    b1 = -(2 * rest * (2 * cos - 1) + 4 * sin - np.sin(2 * phi)) / (4 * f**2)
    b2 = -(1 - np.cos(2 * phi) - 2 * rest**2 * (1 - 2 * cos) + 4 * rest * sin) / (4 * np.pi * f**2)
    tau, dcm, b1, b2 = (np.where(flapped, value, 0.0) for value in (tau, dcm, b1, b2))
    return ThinFlap(tau=tau, dcm=dcm, b1=b1, b2=b2)


class LinearSections:
    """Linear sections for checks: cl = slope (alpha + tau delta), cm = dcm delta, ch = b1 alpha + b2 delta."""

    def __init__(self, flap_fraction: ArrayLike, *, slope: float = 2 * np.pi, cd: float = 0.0) -> None:
        fraction = np.atleast_1d(np.asarray(flap_fraction, dtype=np.float64))
        self.n = len(fraction)
        self.slope, self.cd, self.flap = slope, cd, thin_flap(fraction)
        self._fraction = fraction

    def take(self, stations: NDArray[np.intp]) -> LinearSections:
        """The sections of these stations."""
        return LinearSections(self._fraction[stations], slope=self.slope, cd=self.cd)

    def lift(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> Array:
        """Lift coefficient, no stall; the Reynolds number is ignored but broadcast."""
        cl = self.slope * (np.asarray(alpha) + self.flap.tau * np.asarray(delta))
        return np.asarray(cl + np.zeros(np.shape(reynolds)))

    def loads(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> SectionLoads:
        """All coefficients; always valid."""
        cl = self.lift(alpha, delta, reynolds)
        zero = np.zeros(cl.shape)
        return SectionLoads(
            cl=cl,
            cd=zero + self.cd,
            cm=zero + self.flap.dcm * np.asarray(delta),
            ch=zero + self.flap.b1 * np.asarray(alpha) + self.flap.b2 * np.asarray(delta),
            valid=np.ones(cl.shape, dtype=bool),
        )


def separated_plate(alpha: ArrayLike, delta: ArrayLike, flap_fraction: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """cl, cd, cm, ch of a section in fully separated flow at any incidence: a plate along the bent chord line.

    cn = 1.8 sin a/(.56 + .44 sin a) with a the incidence of the line from nose to trailing edge (C. Lindenburg, ECN
    report ECN-C--01-033, 2001, eq. for infinite span; the greatest drag 1.8 instead of 1.98 for sections with
    thickness, as measured by Sheldahl and Klimas, SAND80-2114, 1981 [both from memory]); centre of pressure from
    a quarter chord at a = 0 linearly to three quarters at 180 deg, pressure linear along the chord; friction .02 along
    it. Any incidence (rad); throw to +-90 deg.
    """
    alpha, delta, f = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (alpha, delta, flap_fraction)))
    along, across = 1 - f + f * np.cos(delta), f * np.sin(delta)
    chord, turn = np.hypot(along, across), np.arctan2(across, along)
    a = np.angle(np.exp(1j * (alpha + turn)))
    sine = np.sin(np.abs(a))
    cn = np.sign(a) * 1.8 * sine / (0.56 + 0.44 * sine) * chord
    ca = 0.02 * np.cos(a)
    cl, cd = cn * np.cos(a) - ca * np.sin(a), cn * np.sin(a) + ca * np.cos(a)
    centre = 0.25 + 0.5 * np.abs(a) / np.pi
    cm = -cn * (centre * chord - 0.25 * np.cos(turn))
    share = 0.5 + 12 * (centre - 0.5) * ((0.5 - f) / 2 + f / 3)
    return cl, cd, cm, np.where(f > 0, -cn * share, 0.0)


def open_gap_share(flap_fraction: ArrayLike) -> Array:
    """Share of a sealed flap's lift and moment that is left with an open hinge gap.

    1/(1 + g), g the gain by sealing: 1/3 at a flap fraction of .09, 1/5 at .18, a power law through both.
    Measured in flight on plain ailerons (H. A. Soule and W. Gracey, NACA TN 632, 1938, summary; the number of the note
    from memory). Wider flaps are an extrapolation: .87 at .28, .90 at .40. No flap (0) gives 1.
    """
    fraction = np.asarray(flap_fraction, dtype=np.float64)
    gain = 0.2 * np.power(np.where(fraction > 0, fraction, 0.18) / 0.18, np.log2(0.2 * 3))
    return np.asarray(np.where(fraction > 0, 1 / (1 + gain), 1.0))


def _mirrored(blended: Blend) -> tuple[Array, Array]:
    """The blend with negative throws added by symmetry: (4, 2 delta - 1, reynolds, alpha) and its validity."""
    values, valid = blended.values, blended.valid
    sign = np.array([-1.0, 1.0, -1.0, -1.0])[:, None, None]
    plain = (values[:, 0] + sign * values[:, 0, :, ::-1]) / 2
    negative = sign[:, None] * values[:, :0:-1, :, ::-1]
    extended = np.concatenate([negative, plain[:, None], values[:, 1:]], axis=1)
    return extended, np.concatenate([valid[:0:-1, :, ::-1], valid], axis=0)


@lru_cache(maxsize=4)
def _resampling(delta_deg: bytes, reynolds: bytes) -> tuple[Array, Array]:
    """Matrices from the tabulated throws (negative ones included) and Reynolds numbers to the run-time axes."""
    delta, logs = np.frombuffer(delta_deg), np.log(np.frombuffer(reynolds))
    axis = np.concatenate([-delta[:0:-1], delta])
    by_delta = cubic_matrix(axis, np.linspace(0, _DELTA_MAX_DEG, _DELTA_NODES))
    return by_delta, cubic_matrix(logs, np.linspace(logs[0], logs[-1], _REYNOLDS_NODES))


def _fill(out: Array, tables: SectionTables, blended: Blend, flap_fraction: float, share_left: float) -> None:
    """Write cl, cd, cm, ch, valid on the run-time axes to `out` (5, reynolds, delta, alpha), all incidences."""
    values, valid = _mirrored(blended)
    by_delta, by_reynolds = _resampling(tables.delta_deg.tobytes(), tables.reynolds.tobytes())
    deltas = np.radians(np.linspace(0, _DELTA_MAX_DEG, _DELTA_NODES))
    if flap_fraction <= 0:
        by_delta, deltas = np.repeat(by_delta[:1], _DELTA_NODES, 0), np.zeros(_DELTA_NODES)
    doubtful = np.tensordot(np.abs(by_delta), 1 - valid, 1)
    tabled = np.moveaxis(np.tensordot(by_delta, values, (1, 1)), 0, 2)
    tabled = np.tensordot(by_reynolds, tabled, (1, 1)).swapaxes(0, 1)
    tabled[1] = np.exp(tabled[1])
    if share_left < 1:
        for i in (0, 2):
            tabled[i] = tabled[i, :, :1] + share_left * (tabled[i] - tabled[i, :, :1])
    alpha = _NODE_ALPHA_DEG
    plate = np.stack(separated_plate(np.radians(alpha), deltas[:, None], flap_fraction))
    out[:4] = plate[:, None]
    middle = slice(*np.flatnonzero(np.abs(alpha) <= tables.alpha_deg[-1])[[0, -1]] + np.array([0, 1]))
    low, high = _BLEND_DEG
    share = np.clip((np.abs(alpha[middle]) - low) / (high - low), 0, 1)
    share = share**2 * (3 - 2 * share)
    out[:4, ..., middle] += (tabled - plate[:, None, :, middle]) * (1 - share)
    if flap_fraction <= 0:
        out[3] = 0.0
    out[4] = 0.0
    out[4, ..., middle] = (np.tensordot(by_reynolds, doubtful, (1, 1)) < 0.5) & (share < 0.5)


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Stations at given throws and Reynolds numbers, looked up once for any incidence, arrays (m, n) alike.

    Args:
        flat: index of the corner of the table at the lowest incidence. x, r: weights along throw and log Reynolds
            number. sign: mirror sign by throw. plain: no throw, so that the sign is that of incidence. inside: throw
            and Reynolds number within the tables.
    """

    sections: TableSections
    flat: NDArray[np.intp]
    x: Array
    r: Array
    sign: Array
    plain: NDArray[np.bool_]
    inside: NDArray[np.bool_]

    def part(self, rows: NDArray[np.intp], stations: NDArray[np.intp] | None = None) -> Placed:
        """These rows, of these stations or of all."""
        at = rows if stations is None else np.ix_(rows, stations)
        return Placed(
            sections=self.sections,
            flat=self.flat[at],
            x=self.x[at],
            r=self.r[at],
            sign=self.sign[at],
            plain=self.plain[at],
            inside=self.inside[at],
        )

    def lift(self, alpha: Array) -> tuple[Array, Array]:
        """Lift coefficient and its derivative by incidence (1/rad) inside the cell of the table, for Newton steps."""
        flat, t, sign = self.sections._along(alpha, self)
        value, step = self.sections._gather(flat, self.x, self.r)
        near = np.abs(alpha) <= np.radians(_LINEAR_DEG)
        return np.asarray(sign * (value + t * step)), step * np.where(near, 180 / np.pi, 45 / np.pi)

    def loads(self, alpha: Array) -> SectionLoads:
        """All coefficients at incidences (rad)."""
        flat, t, sign = self.sections._along(alpha, self)
        value, slope = self.sections._gather(flat, self.x, self.r)
        cl = np.asarray(sign * (value + t * slope))
        cd, cm, ch, known = np.moveaxis(self.sections._gather_rows(flat, t, self.x, self.r), -1, 0)
        valid = (known > 0.5) & np.isfinite(cl) & self.inside
        return SectionLoads(cl=cl, cd=cd, cm=sign * cm, ch=sign * ch, valid=valid)


class TableSections:
    """Sections from the shipped tables, one per station: symmetric four-digit sections or the 3 % flat plate.

    `thickness` and `flap_fraction` (n,) over chord, `flat_plate` (n,) bool; a fraction of 0 means no flap (its throw is
    ignored, ch is zero). `transition` 0 is Ncrit 9 (smooth), 1 is Ncrit 4 (rough or turbulent), between them linear.
    `gap_open` (n,) bool lessens what a throw adds to cl and cm by `open_gap_share`; cd and ch stay as sealed.
    Valid for thickness .06-.18, fraction .15-.60, Reynolds number 3e4-1e6, throw to 45 deg, incidence short of deep
    stall. Beyond, thickness, fraction, Reynolds number and throw are held at the limit and incidence goes over to a
    separated plate, all with `valid` false. A value that is not finite gives NaN and `valid` false.
    """

    def __init__(
        self,
        thickness: ArrayLike,
        flap_fraction: ArrayLike,
        flat_plate: ArrayLike,
        *,
        transition: float = 0.0,
        gap_open: ArrayLike | None = None,
        tables: SectionTables | None = None,
    ) -> None:
        tables = load_sections() if tables is None else tables
        gaps = False if gap_open is None else gap_open
        given = (thickness, flap_fraction, flat_plate, gaps)
        arrays = (np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in given)
        rows = np.stack(np.broadcast_arrays(*arrays), axis=1)
        rows[rows[:, 2] > 0, 0] = tables.thickness[0]
        if not np.all(np.isfinite(rows)) or np.any(rows[:, :2] < 0) or np.any(rows[:, 1] > 1):
            raise ValueRangeError("Section thickness and flap fraction must lie between 0 and 1 of the chord.")
        self.n = len(rows)
        kinds, station = np.unique(rows, axis=0, return_inverse=True)
        self._log_low = float(np.log(tables.reynolds[0]))
        self._per_log = (_REYNOLDS_NODES - 1) / float(np.log(tables.reynolds[-1]) - self._log_low)
        self._reynolds_range = float(tables.reynolds[0]), float(tables.reynolds[-1])
        shape = (_REYNOLDS_NODES, _DELTA_NODES, len(_NODE_ALPHA_DEG))
        self._flapped = rows[:, 1] > 0
        self._base = np.asarray(station.reshape(-1) * int(np.prod(shape)), dtype=np.intp)
        pairs = np.zeros((len(kinds), *shape), np.complex64)
        others = np.zeros((len(kinds), *shape, 4), np.float32)
        filled = np.empty((5, *shape))
        for pair, other, (t, fraction, plate, gap) in zip(pairs, others, kinds, strict=True):
            blended = blend(tables, t, fraction, flat_plate=bool(plate), transition=float(transition))
            left = float(open_gap_share(fraction)) if gap else 1.0
            _fill(filled, tables, blended, fraction, left)
            pair.real = np.rint(filled[0] / _LIFT_STEP) * _LIFT_STEP
            pair.imag[..., :-1] = np.diff(pair.real, axis=-1)
            other[...] = np.moveaxis(filled[1:], 0, -1)
        self._pairs, self._rows = pairs.reshape(-1), others.reshape(-1).view(np.complex128)

    def take(self, stations: NDArray[np.intp]) -> TableSections:
        """The sections of these stations, sharing the tables."""
        part = copy(self)
        part.n, part._base, part._flapped = len(stations), self._base[stations], self._flapped[stations]
        return part

    def placed(self, delta: ArrayLike, reynolds: ArrayLike) -> Placed:
        """Every station at throw (rad) and Reynolds number, each broadcast to (..., n), ready for any incidence."""
        throw, re = np.asarray(delta, dtype=np.float64), np.asarray(reynolds, dtype=np.float64)
        low, high = self._reynolds_range
        with np.errstate(invalid="ignore", over="ignore"):
            size = np.abs(throw) * (180 / np.pi)
            x = np.minimum(size, _DELTA_MAX_DEG) * ((_DELTA_NODES - 1) / _DELTA_MAX_DEG)
            r = (np.log(np.minimum(np.maximum(re, low), high)) - self._log_low) * self._per_log
            j = np.minimum(np.maximum(x.astype(np.intp), 0), _DELTA_NODES - 2)
            k = np.minimum(np.maximum(r.astype(np.intp), 0), _REYNOLDS_NODES - 2)
        inside = (np.abs(throw) <= np.radians(_DELTA_MAX_DEG) + 1e-9) | ~self._flapped
        return Placed(
            sections=self,
            flat=self._base + (k * _DELTA_NODES + j) * len(_NODE_ALPHA_DEG),
            x=x - j,
            r=r - k,
            sign=np.where(throw < 0, -1.0, 1.0),
            plain=throw == 0,
            inside=inside & (re >= low * (1 - 1e-9)) & (re <= high * (1 + 1e-9)),
        )

    def _along(self, alpha: ArrayLike, across: Placed) -> tuple[NDArray[np.intp], Array, Array]:
        """Flat index of the lower corner, weight along incidence, and mirror sign."""
        with np.errstate(invalid="ignore", over="ignore"):
            a = np.asarray(alpha, dtype=np.float64) * (180 / np.pi)
            sign = np.where(across.plain & (a < 0), -1.0, across.sign)
            a = a * sign
            if not np.max(np.abs(a), initial=0.0) <= 180:
                a = np.remainder(a + 180, 360) - 180
            near = np.minimum(np.maximum(a, -_LINEAR_DEG), _LINEAR_DEG)
            w = near + (a - near) * 0.25 + _HALF
            i = np.minimum(np.maximum(w.astype(np.intp), 0), 2 * _HALF - 1)
        return across.flat + i, w - i, sign

    def _gather(self, flat: NDArray[np.intp], x: Array, r: Array) -> tuple[Array, Array]:
        """cl at the lower incidence node and its step to the next, blended over throw and Reynolds number."""
        step = len(_NODE_ALPHA_DEG)
        jump = step * _DELTA_NODES
        corner, across = self._pairs.take(flat), self._pairs.take(flat + step)
        low = corner + x * (across - corner)
        corner, across = self._pairs.take(flat + jump), self._pairs.take(flat + (jump + step))
        high = corner + x * (across - corner)
        low += r * (high - low)
        return cast(Array, low.real), cast(Array, low.imag)

    def _gather_rows(self, flat: NDArray[np.intp], t: Array, x: Array, r: Array) -> Array:
        """cd, cm, ch and validity (..., 4): straight along incidence, throw and Reynolds number."""
        step = len(_NODE_ALPHA_DEG)
        jump = step * _DELTA_NODES
        found = np.zeros((*flat.shape, 4))
        for along, there in ((0, 1 - t), (1, t)):
            for across, part in ((0, 1 - x), (step, x)):
                for up, share in ((0, 1 - r), (jump, r)):
                    corner = self._rows.take(flat + (along + across + up)).view(np.float32)
                    found += (there * part * share)[..., None] * corner.reshape(*flat.shape, 4)
        return found

    def lift(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> Array:
        """Lift coefficient (..., n) at incidence and throw (rad) and Reynolds number, each broadcast to (..., n)."""
        return self.placed(delta, reynolds).lift(np.asarray(alpha, dtype=np.float64))[0]

    def loads(self, alpha: ArrayLike, delta: ArrayLike, reynolds: ArrayLike) -> SectionLoads:
        """All coefficients (..., n), arguments as for `lift`."""
        return self.placed(delta, reynolds).loads(np.asarray(alpha, dtype=np.float64))


def station_sections(
    thickness: Array,
    flap_fraction: Array,
    flat_plate: NDArray[np.bool_],
    *,
    gap_open: NDArray[np.bool_],
    transition: float,
) -> TableSections:
    """`TableSections` of these stations, the last few kept: changed planes mostly have the same sections."""
    rows = np.stack([thickness, flap_fraction, flat_plate, gap_open]).astype(np.float64)
    return _kept_sections(rows.tobytes(), len(thickness), transition)


@lru_cache(maxsize=3)
def _kept_sections(rows: bytes, count: int, transition: float) -> TableSections:
    thickness, flap_fraction, flat_plate, gap_open = np.frombuffer(rows).reshape(4, count)
    return TableSections(thickness, flap_fraction, flat_plate > 0, gap_open=gap_open > 0, transition=transition)
