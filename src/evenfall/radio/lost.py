"""What a radio cannot do of a plan, in words with what helps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from evenfall.radio.channels import Channel, CornerTravel, Lost, crow_angle, mean_throw
from evenfall.radio.plan import Plan
from evenfall.radio.radio_description import RadioDescription

WORTH_SAYING = math.radians(0.25)
"""A surface angle lost that is worth saying, rad: half of what an angle gauge shows reliably."""


def no_mixes(radio: RadioDescription, crowed: Mapping[str, float]) -> Lost:
    """The crow that finds no mixes; `crowed` is the full angle of every corner with crow, rad."""
    angle = max(abs(full) for full in crowed.values())
    return Lost(
        what="crow",
        angle=angle,
        text=f"Crow needs {len(crowed)} free mixes, one for each aileron channel; {radio.name} has {radio.free_mixes}: "
        "crow cannot be set. Fly on the motor brake alone, or with a radio with more mixes.",
    )


def losses(
    plan: Plan,
    radio: RadioDescription,
    corners: Mapping[str, CornerTravel],
    channels: Mapping[str, Channel],
    sticks: Sequence[float],
    throttle_error: float,
    *,
    with_crow: bool,
) -> list[Lost]:
    """Everything of the plan that does not come out of the settings; `sticks` of the curve's points."""
    found = _corner_losses(plan, radio, corners, channels)
    if with_crow:
        found += _curve_losses(radio, channels, sticks)
    off = [phase.name for phase in plan.phases if not phase.crow_live]
    if with_crow and off and not radio.phase_mixes:
        text = (
            f"Crow stays live in {', '.join(off)}: {radio.name} has no mixes per phase. Use the crow-off switch there."
        )
        found.append(Lost(what="phase", angle=0.0, text=text))
    for phase in plan.phases:
        more = abs(phase.roll_boost) * phase.aileron
        if with_crow and phase.crow_live and more > WORTH_SAYING and not radio.share_follows:
            text = (
                f"Roll boost in {phase.name} is lost, {math.degrees(more):.1f} deg at full deployment: "
                f"no share of {radio.name} follows a stick."
            )
            found.append(Lost(what="boost", angle=more, text=text))
    if throttle_error > max(radio.share_step, 0.01):
        text = (
            f"The throttle curve is up to {100 * throttle_error:.0f} % off: it needs more points than {radio.name} has."
        )
        found.append(Lost(what="throttle curve", angle=0.0, text=text))
    return found


def _corner_losses(
    plan: Plan, radio: RadioDescription, corners: Mapping[str, CornerTravel], channels: Mapping[str, Channel]
) -> list[Lost]:
    """Neutral, full crow and throws that corners do not reach in this radio; corners with one cause share a row."""
    deg = math.degrees
    found: dict[tuple[str, str], list[tuple[float, str]]] = {}
    for name, channel in channels.items():
        where = name.replace("_", " ")
        if abs(channel.neutral_error) > WORTH_SAYING:
            found.setdefault(("neutral", _shift_words(radio)), []).append((channel.neutral_error, where))
        wanted = crow_angle(plan, name)
        if channel.curve and abs(wanted - channel.full) > WORTH_SAYING:
            cause = f"of {abs(deg(wanted)):.1f} deg: the radio's travel or an end limit ends it."
            found.setdefault(("crow", cause), []).append((abs(wanted - channel.full), where))
        for phase in plan.phases:
            off = mean_throw(radio, corners[name], channel, phase.name) - phase.aileron
            if abs(off) > WORTH_SAYING:
                cause = "end limits or travel of the radio" if off < 0 else "a neutral or step of the radio"
                names = _phases_with(plan, phase.aileron)
                found.setdefault((f"roll {names}", f"of {deg(phase.aileron):.1f} deg: {cause}."), []).append(
                    (off, where)
                )
    return [_corner_loss(kind, cause, rows) for (kind, cause), rows in found.items()]


def _corner_loss(kind: str, cause: str, rows: list[tuple[float, str]]) -> Lost:
    size = max((abs(value) for value, _ in rows), default=0.0)
    names = list(dict.fromkeys(name for _, name in rows))
    where = "all four ailerons" if len(names) == 4 else " and ".join(names)
    what, _, phases = kind.partition(" ")
    if what == "neutral":
        text = f"{where}: neutral stands up to {math.degrees(size):.1f} deg off: {cause}"
    elif what == "crow":
        text = f"{where}: {math.degrees(size):.1f} deg of crow missing {cause}"
    else:
        more = "missing" if min(rows)[0] < 0 else "too much"
        text = f"{where}, {phases}: {math.degrees(size):.1f} deg of throw {more} {cause}"
    return Lost(what=what, angle=size, text=text)


def _shift_words(radio: RadioDescription) -> str:
    can = f"shifts a centre by {1e6 * radio.shift_reach:.0f} us at most" if radio.centre_shift else "shifts no centre"
    return f"{radio.name} {can}. Choose teeth and holes for that, or a programmable servo."


def _phases_with(plan: Plan, throw: float) -> str:
    return ", ".join(phase.name for phase in plan.phases if phase.aileron == throw)


def _curve_losses(radio: RadioDescription, channels: Mapping[str, Channel], sticks: Sequence[float]) -> list[Lost]:
    """The worst surface error of the deployment curve, beyond that of a neutral that is off."""
    worst = max(channels.values(), key=lambda channel: channel.crow_error)
    if worst.crow_error <= max(WORTH_SAYING, abs(worst.neutral_error) + WORTH_SAYING / 2):
        return []
    how = f"{len(sticks)} points"
    if not radio.curves:
        how = (
            "a straight mix over the whole stick" if radio.straight_sides == 1 else "straight mixes and an offset only"
        )
    starts = next((stick for stick, out in zip(sticks, worst.curve, strict=True) if out == worst.curve[-1]), 1.0)
    text = (
        f"With {how} the deployment begins at {100 * starts:.0f} % stick and is up to "
        f"{math.degrees(worst.crow_error):.1f} deg off, at {100 * worst.crow_error_stick:.0f} %; full crow and neutral "
        "stay."
    )
    return [Lost(what="deployment curve", angle=worst.crow_error, text=text)]
