"""What a plan does, without spreads, fast enough to follow a hand on a slider."""

from __future__ import annotations

import math

from pydantic import Field

from evenfall.lines.line import SteadySpeed
from evenfall.lines.quick import QuickLine as Line
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan
from evenfall.sheet.map_page import LineShares, MapState, StickPoint, stick_point
from evenfall.sheet.pages import DragShares, Page
from evenfall.sheet.words import lower_first, upper_first
from evenfall.workflow import MarchAnswer, QuickAnswer

RPM = 60 / (2 * math.pi)


class QuickLine(Page):
    """One line of a plan, without spreads."""

    shares: LineShares = Field(description="Speed, stick and drag shares.")
    states: tuple[MapState, ...] = Field(description="Every steady state at that stick, slowest first.")
    remark: str = Field(description="What stands in the way, in words; empty where nothing.")


class QuickPage(Page):
    """Answer of topic `quick`."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="What is flown.")
    wanted_speed_m_s: float = Field(description="Speed wanted on every line.")
    density_kg_m3: float = Field(description="Air.")
    lines: tuple[QuickLine, ...] = Field(description="The five lines, vertical down first.")
    with_crow: tuple[StickPoint, ...] = Field(description="Holding stick over slope.")
    without_crow: tuple[StickPoint, ...] = Field(description="The same plan without crow.")
    threshold_percent: float | None = Field(description="Stick where deployment begins; null without crow.")
    closed_below_percent: float = Field(description="End of the closed band.")
    start_percent: float = Field(description="Stick at which the motor starts again.")
    brake_step_n: float = Field(description="Force gained where the motor comes free of the closed band.")
    brake_percent: float = Field(description="Motor brake that holds like the level: its percent unless measured.")
    crow_deg: float = Field(description="Size of the crow, degrees; 0 without.")
    words: tuple[str, ...] = Field(description="What to watch, in words.")


def quick_page(answer: QuickAnswer) -> QuickPage:
    """The page of `quick`."""
    found, plan, plane = answer.quick, answer.plan, answer.ready.file.plane
    return QuickPage(
        plane=plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        wanted_speed_m_s=found.wanted,
        density_kg_m3=answer.ready.air.density,
        lines=tuple(_line(line, answer.ready.frame.weight) for line in found.lines),
        with_crow=tuple(stick_point(held) for held in found.with_crow),
        without_crow=tuple(stick_point(held) for held in found.without_crow),
        threshold_percent=None if plan.crow is None else 100 * plan.crow.threshold,
        closed_below_percent=100 * plane.controller.closed_below,
        start_percent=100 * plane.controller.start_stick,
        brake_step_n=found.step,
        brake_percent=found.brake,
        crow_deg=0.0 if plan.crow is None else math.degrees(plan.crow.angle),
        words=tuple(_words(answer)),
    )


def _line(line: Line, weight: float) -> QuickLine:
    state = line.speed
    shares = None
    if state is not None:
        shares = DragShares(airframe=state.airframe, crow=state.crow, propeller=-state.thrust)
    return QuickLine(
        shares=LineShares(
            name=line.name,
            slope_deg=math.degrees(line.slope),
            stick_percent=100 * line.stick,
            speed_m_s=None if state is None else state.speed,
            weight_along_n=-weight * math.sin(line.slope),
            shares_n=shares,
            status=line.status.value,
        ),
        states=tuple(
            MapState(speed_m_s=s.speed, shaft_rpm=s.omega * RPM, thrust_n=s.thrust, stable=s.stable)
            for s in line.states
        ),
        remark="" if line.status is Status.OK else line.status.text,
    )


def _words(answer: QuickAnswer) -> list[str]:
    """What to watch: several speeds, lines off the wanted speed, crow in the way of level flight or of the throws."""
    said = []
    for line in answer.quick.lines:
        stable = [state for state in line.states if state.stable]
        if len(stable) > 1:
            speeds = " or ".join(f"{state.speed:.1f}" for state in stable)
            said.append(f"{upper_first(line.name)}: {speeds} m/s possible, the entry speed decides.")
        elif line.speed is None:
            said.append(f"{upper_first(line.name)}: {lower_first(line.status.text)}")
        else:
            said.extend(_off(line, line.speed, answer.quick.wanted))
    said.extend(_early_crow(answer))
    said.extend(_room(answer.plan, answer.ready.file.plane))
    return said


def _off(line: Line, state: SteadySpeed, wanted: float) -> list[str]:
    if line.status is Status.STICK_AT_CLOSED_END:
        return [
            f"{upper_first(line.name)}: {state.speed:.1f} m/s with the stick closed, "
            f"{state.speed - wanted:.1f} too fast."
        ]
    if line.status is Status.STICK_AT_OPEN_END:
        return [f"{upper_first(line.name)}: {state.speed:.1f} m/s at full stick, {wanted - state.speed:.1f} too slow."]
    if line.status is Status.INSIDE_CLOSED_BAND:
        return [f"{upper_first(line.name)}: {lower_first(line.status.text)}"]
    return []


def _early_crow(answer: QuickAnswer) -> list[str]:
    level = answer.quick.line("level")
    if level.deployment < 0.005:
        return []
    return [f"Crow is {100 * level.deployment:.0f} % out in level flight: lower the threshold below its stick."]


def _room(plan: Plan, plane: Plane) -> list[str]:
    """Throws that the hinges do not leave beside the crow."""
    if plan.crow is None:
        return []
    said = []
    for name, full in (("upper", plan.crow.upper), ("lower", plan.crow.lower)):
        wing = plane.wings.get(name)
        if wing is None or wing.aileron is None or full == 0.0:
            continue
        room = (wing.aileron.throw_up if full < 0 else wing.aileron.throw_down) - abs(full)
        throws = plan.throws
        short = [words for words, throw in (("normal", throws.normal), ("snap", throws.snap)) if throw > room + 1e-9]
        if short:
            left = max(math.degrees(room), 0.0)
            said.append(
                f"The {name} wing's hinges leave {left:.1f} deg beside the crow: less than the {short[0]} throw of "
                f"{math.degrees(getattr(throws, short[0])):.1f} deg."
            )
    return said


class MarchPage(Page):
    """Answer of topic `march`: a line from its entry on."""

    line: str = Field(description="The line.")
    slope_deg: float = Field(description="Its slope.")
    stick_percent: float = Field(description="Stick it is flown with.")
    entry_m_s: float = Field(description="Speed at entry.")
    time_s: tuple[float, ...] = Field(description="Time.")
    speed_m_s: tuple[float, ...] = Field(description="Speed.")
    shaft_rpm: tuple[float, ...] = Field(description="Shaft speed, revolutions a minute.")
    deployment_percent: tuple[float, ...] = Field(description="Crow really out.")
    height_m: tuple[float, ...] = Field(description="Height lost so far, down positive.")
    ends_m_s: float | None = Field(description="Steady speed it settles at; null where none within the time.")
    settled_s: float | None = Field(description="Time until within 3 percent of it for good.")
    others_m_s: tuple[float, ...] = Field(description="Other stable steady speeds that other entries end in.")
    words: str = Field(description="What happens, in a sentence.")


_MOST_POINTS = 400
_WITHIN = 0.03


def march_page(answer: MarchAnswer) -> MarchPage:
    """The page of `march`."""
    march, end = answer.march, answer.end
    settled = None if end is None else _settled(answer, end)
    every = max(1, -(-len(march.time) // _MOST_POINTS))
    shown = sorted({*range(0, len(march.time), every), len(march.time) - 1})
    stable = [state.speed for state in answer.line.states if state.stable]
    return MarchPage(
        line=answer.line.name,
        slope_deg=math.degrees(answer.line.slope),
        stick_percent=100 * answer.line.stick,
        entry_m_s=answer.entry,
        time_s=tuple(march.time[shown].tolist()),
        speed_m_s=tuple(march.speed[shown].tolist()),
        shaft_rpm=tuple((RPM * march.omega[shown]).tolist()),
        deployment_percent=tuple((100 * march.deployment[shown]).tolist()),
        height_m=tuple(march.height[shown].tolist()),
        ends_m_s=None if end is None else end.speed,
        settled_s=settled,
        others_m_s=tuple(speed for speed in stable if end is None or speed != end.speed),
        words=_march_words(answer, settled),
    )


def _settled(answer: MarchAnswer, end: SteadySpeed) -> float:
    """Time from which on the speed stays within 3 percent of where it ends."""
    off = abs(answer.march.speed - end.speed) > _WITHIN * end.speed
    away = off.nonzero()[0]
    return float(answer.march.time[min(away[-1] + 1, len(off) - 1)]) if away.size else 0.0


def _march_words(answer: MarchAnswer, settled: float | None) -> str:
    march, end = answer.march, answer.end
    head = f"{upper_first(answer.line.name)}, entered at {answer.entry:.1f} m/s:"
    if end is None or settled is None:
        return f"{head} {march.speed[-1]:.1f} m/s after {march.time[-1]:.0f} s, not settled."
    height = float(march.height[(march.time <= settled + 1e-9).nonzero()[0][-1]])
    lost = f"{height:.0f} m of height lost" if height >= 0 else f"{-height:.0f} m of height gained"
    when = f"after {settled:.1f} s, {lost}" if settled >= 0.05 else "from the start"
    said = f"{head} within 3 % of {end.speed:.1f} m/s {when}."
    others = [s.speed for s in answer.line.states if s.stable and s.speed != end.speed]
    if others:
        said += f" Other entries end at {' or '.join(f'{speed:.1f}' for speed in others)} m/s."
    return said
