"""What "right" means: the targets of the tuning, with their tolerances."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Targets:
    """Tolerances and limits. Values are ours unless a source is named.

    Args:
        speed_tolerance: down speed over wanted speed, either way.
        speed_span: lowest and highest speed over the wanted one between which only one shaft state may exist.
        fold_probability: chance of two shaft states that is still accepted; one sigma of doubt reaching the fold on
            one side is .16.
        straightness: rad/s of bend on the vertical that passes as straight once the cure is in (3 deg/s bends a
            line of 50 m at 22 m/s by 7 deg).
        stowed_margin: stick between the threshold and the level holding stick.
    """

    speed_tolerance: float = 0.02
    speed_span: tuple[float, float] = (0.7, 1.3)
    fold_probability: float = 0.16
    straightness: float = 0.0524
    stowed_margin: float = 0.05


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What a candidate's shortcomings cost against each other; a cost of 1 is "one step worse". Ours, no source.

    Args:
        fold: for a chance of two shaft states equal to the accepted one.
        span: for the same chance at other speeds of the span, where it only delays the steady speed.
        doubt: spread of the down speed over the wanted speed that counts as one step.
        bend: rad/s of bend added by crow before the cure that count as one step.
        roll: loss of roll response (0-1) that counts as one step.
        reach: for crow at its limit.
        hard: for the hardest motor brake: it loosens propeller nuts and a stopped propeller restarts late.
    """

    fold: float = 1.0
    span: float = 0.25
    doubt: float = 0.02
    bend: float = 0.35
    roll: float = 0.25
    reach: float = 2.0
    hard: float = 0.3
