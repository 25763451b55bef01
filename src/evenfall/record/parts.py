"""Which tests a replaced part voids. Common practice of the trade, not from a published source."""

from __future__ import annotations

from collections.abc import Mapping

VOIDS: Mapping[str, tuple[str, ...]] = {
    "servo": ("centre and end points", "throw by phase", "play", "surface match left and right"),
    "linkage": ("throw by phase", "play", "surface match left and right"),
    "propeller": ("current at full throttle", "balance", "brake strength", "timed down line"),
    "motor or controller": (
        "current at full throttle",
        "direction of turn",
        "brake strength",
        "failsafe",
        "timed down line",
    ),
    "battery": ("balance point", "voltage under load", "flight time"),
    "wing or tail repair": ("balance point", "lateral balance", "surface match left and right", "trim in level flight"),
    "radio": ("range", "failsafe", "throw by phase", "direction of every surface"),
}
"""Part to the tests to be done again before the next flight."""
