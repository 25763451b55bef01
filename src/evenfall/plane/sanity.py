"""Whether the parts of a plane fit each other. Geometry only: faults that forbid, notes that warn."""

from __future__ import annotations

import math

from evenfall.plane.airframe import Aileron, Fin, Mass, Tail, Wing
from evenfall.plane.fields import Fields, Ledger

DEG = math.pi / 180


def check_wing(table: Fields, wing: Wing) -> None:
    """Tip against root, aileron inside its wing, throws."""
    if wing.tip_chord > 1.5 * wing.root_chord:
        table.fault(
            "tip_chord_mm", f"{_mm(wing.tip_chord)} is more than 1.5 times the root chord {_mm(wing.root_chord)}"
        )
    if wing.span < 1.5 * wing.mean_chord:
        table.fault("span_mm", f"{_mm(wing.span)} is less than 1.5 chords; give the span from tip to tip")
    if abs(wing.incidence_left - wing.incidence_right) > 3 * DEG:
        table.faults.notes.append(f"{table.where}: incidences differ by more than 3 deg left to right; check the gauge")
    if abs(wing.tip_le_x - wing.root_le_x) > wing.span:
        table.fault("tip_le_x_mm", "is further from root_le_x than the span; both are measured aft of the datum")
    aileron = wing.aileron
    if aileron is None:
        table.faults.notes.append(f"{table.where}: no aileron on this wing, so no crow here")
        return
    if aileron.inner_y >= aileron.outer_y:
        table.faults.add(
            f"{table.where}.aileron.inner_y_mm", f"{_mm(aileron.inner_y)} is not inside outer_y {_mm(aileron.outer_y)}"
        )
        return
    if aileron.outer_y > 0.5 * wing.span * 1.001:
        table.faults.add(
            f"{table.where}.aileron.outer_y_mm",
            f"{_mm(aileron.outer_y)} is outside the wing: half the span is {_mm(wing.span / 2)}",
        )
        return
    if aileron.outer_y - aileron.inner_y < 0.05 * wing.span:
        table.faults.notes.append(f"{table.where}: the aileron spans less than a twentieth of the wing")
    _check_chords(table, wing, aileron)


def _check_chords(table: Fields, wing: Wing, aileron: Aileron) -> None:
    for key, y, chord in (
        ("inner_chord_mm", aileron.inner_y, aileron.inner_chord),
        ("outer_chord_mm", aileron.outer_y, aileron.outer_chord),
    ):
        local = wing.root_chord + (wing.tip_chord - wing.root_chord) * y / (0.5 * wing.span)
        where = f"{table.where}.aileron.{key}"
        if chord >= 0.95 * local:
            table.faults.add(where, f"{_mm(chord)} leaves no wing ahead of it: the local chord is {_mm(local)}")
        elif not 0.15 <= chord / local <= 0.60:
            table.faults.notes.append(
                f"{where}: {100 * chord / local:.0f} % of the chord; the tables end at 15 and 60 %"
            )


def check_tail(table: Fields, tail: Tail, wings: list[Wing]) -> None:
    """The tail stands behind the wings."""
    if tail.tip_chord > 1.5 * tail.root_chord:
        table.fault(
            "tip_chord_mm", f"{_mm(tail.tip_chord)} is more than 1.5 times the root chord {_mm(tail.root_chord)}"
        )
    if wings and tail.root_le_x < max(wing.quarter_chord_x for wing in wings):
        table.fault("root_le_x_mm", f"{_mm(tail.root_le_x)} aft of the propeller puts the tail ahead of the wing")
    if wings and tail.span > 0.9 * max(wing.span for wing in wings):
        table.fault("span_mm", f"{_mm(tail.span)} is nearly that of the wing; check both")


def check_fin(table: Fields, fin: Fin, wings: list[Wing]) -> None:
    """The fin stands behind the wings."""
    if wings and fin.root_le_x + fin.root_chord < max(wing.quarter_chord_x for wing in wings):
        table.fault("root_le_x_mm", f"{_mm(fin.root_le_x)} aft of the propeller puts the fin ahead of the wing")


def check_pair(ledger: Ledger, upper: Wing | None, lower: Wing | None) -> None:
    """Upper above lower, and the stagger that turns crow into a pitching moment."""
    if upper is None or lower is None:
        return
    gap = upper.z - lower.z
    chord = 0.5 * (upper.mean_chord + lower.mean_chord)
    if gap <= 0.1 * chord:
        ledger.add("wing.lower.z_mm", f"the upper wing stands {_mm(gap)} above the lower; check both heights (z is up)")
        return
    if gap < 0.6 * chord:
        ledger.notes.append(f"gap is {gap / chord:.2f} chords: unusually small, interference is strong")
    stagger = lower.quarter_chord_x - upper.quarter_chord_x
    if abs(stagger) > 2 * chord:
        ledger.add(
            "wing.lower.root_le_x_mm", f"the wings stand {_mm(stagger)} apart fore and aft; check both positions"
        )
    elif abs(stagger) > 0.2 * chord:
        ledger.notes.append(
            f"quarter-chord stagger is {_mm(stagger)}: opposed crow pitches the plane, expect an elevator share"
        )


def check_mass(table: Fields, mass: Mass, wings: list[Wing], tail: Tail | None) -> None:
    """Centre of gravity near the wings, wing loading of a plane that flies."""
    if not wings:
        return
    area = sum(wing.area for wing in wings)
    front = min(min(wing.root_le_x, wing.tip_le_x) for wing in wings)
    rear = max(max(wing.root_le_x + wing.root_chord, wing.tip_le_x + wing.tip_chord) for wing in wings)
    chord = sum(wing.area * wing.mean_chord for wing in wings) / area
    key = "cg_x_mm" if table.given("cg_x", "length") == [] else table.given("cg_x", "length")[0]
    if not front - 0.5 * chord <= mass.cg_x <= rear + 0.5 * chord:
        table.fault(
            key, f"the CG lies {_mm(mass.cg_x)} aft of the propeller; the wings reach from {_mm(front)} to {_mm(rear)}"
        )
    elif tail is not None:
        quarter = sum(wing.area * wing.quarter_chord_x for wing in wings) / area
        if abs(mass.cg_x - quarter) > 0.5 * chord:
            table.faults.notes.append(
                f"the CG is {_mm(mass.cg_x - quarter)} aft of the mean quarter chord: unusual, check it"
            )
    heights = [wing.z for wing in wings]
    if not min(heights) - chord - 0.05 <= mass.cg_z <= max(heights) + chord + 0.05:
        table.fault("cg_z_mm", f"the CG lies {_mm(mass.cg_z)} above the thrust line, far from the wings; z is up")
    loading = mass.all_up / area
    if not 0.3 <= loading <= 30:
        table.fault(
            "all_up_g", f"gives a wing loading of {loading * 10:.0f} g/dm²; allowed is 3 to 300: check mass and span"
        )


def _mm(value: float) -> str:
    return f"{1000 * value:.0f} mm"
