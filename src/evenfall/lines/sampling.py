"""Random aeroplanes drawn from the stated spreads: every uncertain input moved at once, each by its own sigma."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from evenfall.lines.spread import SPEED_INPUTS, Doubt, Nudge, speed_axes
from evenfall.lines.variants import Variant
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import moved_along
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.perturb import attribute, perturbed


def draw_variants(
    plane: Plane,
    spreads: Mapping[str, Doubt],
    *,
    level: BrakeLevel,
    surfaces: Sequence[Nudge],
    count: int,
    rng: np.random.Generator,
) -> list[Variant]:
    """`count` aeroplanes, each with every uncertain input drawn from its spread.

    Factors of the engine are log-normal, inputs of the file normal (kept above 30 % of their value), an unknown pulse
    frequency 8, 16 or 24 kHz with chances that give it the variance its nudge stands for.

    Args:
        surfaces: nudges that act on the drag of the surfaces (sections, crow setting) of the line to be flown.
    """
    return [_draw(plane, spreads, level, surfaces, rng) for _ in range(count)]


def _draw(
    plane: Plane, spreads: Mapping[str, Doubt], level: BrakeLevel, surfaces: Sequence[Nudge], rng: np.random.Generator
) -> Variant:
    corrections = plane.corrections
    for _, axis in speed_axes(plane, level=level):
        corrections = moved_along(corrections, axis, by=float(rng.standard_normal()))
    changed = replace(plane, corrections=corrections)
    inputs = {}
    for path in SPEED_INPUTS:
        now = float(attribute(plane, path))
        sigma = spreads[path].absolute(now) if path in spreads else 0.0
        if sigma > 0:
            inputs[path] = max(now + sigma * float(rng.standard_normal()), 0.3 * now)
    if not plane.controller.brake_frequency_known and level.damping is None:
        inputs["controller.brake_frequency"] = float(rng.choice([8e3, 16e3, 24e3], p=[0.5, 0.0, 0.5]))
    clean = crow = 1.0
    for nudge in surfaces:
        z = float(rng.standard_normal())
        clean *= 1 + 0.5 * z * (nudge.high.clean - nudge.low.clean)
        crow *= 1 + 0.5 * z * (nudge.high.crow - nudge.low.crow)
    return Variant(plane=perturbed(changed, inputs), clean=max(clean, 0.1), crow=max(crow, 0.0))
