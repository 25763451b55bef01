"""Lift and drag of blade sections at every incidence, from the shipped table."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
import numpy.typing as npt

from evenfall.errors import DataError, ValueRangeError

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionTable:
    """The table as shipped: `cl`, `cd` of shape (thickness, n_crit, Reynolds number, incidence).

    Incidences run in equal steps over -180 to 180 deg, Reynolds numbers in equal steps of the logarithm.
    """

    thickness: Array
    n_crit: Array
    log_reynolds: Array
    incidence: Array
    cl: Array
    cd: Array
    digest: str


@lru_cache(maxsize=1)
def section_table() -> SectionTable:
    """The shipped table, built by `tools/build_blade_sections.py`; `DataError` where it is missing or damaged."""
    import hashlib

    try:
        raw = (resources.files("evenfall") / "data" / "propeller_sections.npz").read_bytes()
        with np.load(io.BytesIO(raw), allow_pickle=False) as data:
            return SectionTable(
                thickness=data["thickness"],
                n_crit=data["n_crit"],
                log_reynolds=np.log(data["reynolds"]),
                incidence=np.radians(data["incidence_deg"]),
                cl=data["cl"] * float(data["cl_scale"]),
                cd=data["cd"] * float(data["cd_scale"]),
                digest=hashlib.sha256(raw).hexdigest(),
            )
    except (OSError, ValueError, KeyError) as error:
        raise DataError("the table of blade sections is missing or damaged: reinstall Evenfall") from error


@dataclass(frozen=True, kw_only=True, eq=False)
class BladeSections:
    """Sections of n stations ready for look-up: `values` of shape (n, Reynolds, incidence, 2) with cl and cd."""

    values: Array
    log_reynolds_first: float
    log_reynolds_step: float
    incidence_step: float

    def coefficients(self, station: npt.NDArray[np.intp], incidence: Array, log_reynolds: Array) -> tuple[Array, Array]:
        """cl and cd by linear interpolation; incidence in rad is wrapped to +-pi, Reynolds number held at the ends."""
        _, n_re, n_inc, _ = self.values.shape
        x = (incidence + math.pi) / self.incidence_step % (n_inc - 1)
        y = np.clip((log_reynolds - self.log_reynolds_first) / self.log_reynolds_step, 0.0, n_re - 1.000001)
        i, j = x.astype(np.intp), y.astype(np.intp)
        fx, fy = (x - i)[..., None], (y - j)[..., None]
        flat = self.values.reshape(-1, 2)
        base = (station * n_re + j) * n_inc + i
        low = flat[base] * (1.0 - fx) + flat[base + 1] * fx
        high = flat[base + n_inc] * (1.0 - fx) + flat[base + n_inc + 1] * fx
        both = low + (high - low) * fy
        return both[..., 0], both[..., 1]


def _thickness_of(section: str) -> float:
    """Thickness of a section name naca4406 to naca4415."""
    digits = section.lower().removeprefix("naca")
    if not (len(digits) == 4 and digits.isdigit() and digits.startswith("44") and 6 <= int(digits[2:]) <= 15):
        raise ValueRangeError(f"no blade section called {section!r}: naca4406 to naca4415 are known")
    return int(digits[2:]) / 100.0


def blade_sections(
    thickness: Array, *, transition: float = 0.5, section: str | None = None, drag_increment: float = 0.0
) -> BladeSections:
    """Sections for stations of the given thickness.

    Args:
        thickness: over chord, shape (n,); held to .06-.15.
        transition: 0 for a quiet stream (Ncrit 9), 1 for a disturbed one (Ncrit 4), between them linear.
        section: one section name for all stations instead of `thickness`.
        drag_increment: added to every cd.
    """
    if not 0.0 <= transition <= 1.0:
        raise ValueRangeError(f"transition is {transition}: it runs from 0 (Ncrit 9) to 1 (Ncrit 4)")
    table = section_table()
    wanted = np.asarray(thickness, dtype=float) if section is None else np.full(len(thickness), _thickness_of(section))
    place = np.interp(wanted, table.thickness, np.arange(table.thickness.size))
    first = np.minimum(place.astype(int), table.thickness.size - 2)
    share = (place - first)[:, None, None]
    order = np.argsort(table.n_crit)

    def mix(values: Array) -> Array:
        at = transition * values[:, order[0]] + (1.0 - transition) * values[:, order[-1]]
        mixed: Array = at[first] * (1.0 - share) + at[first + 1] * share
        return mixed

    return BladeSections(
        values=np.ascontiguousarray(np.stack([mix(table.cl), mix(table.cd) + drag_increment], axis=-1)),
        log_reynolds_first=float(table.log_reynolds[0]),
        log_reynolds_step=float(table.log_reynolds[1] - table.log_reynolds[0]),
        incidence_step=float(table.incidence[1] - table.incidence[0]),
    )
