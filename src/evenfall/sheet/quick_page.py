"""What a plan does, without spreads, fast enough to follow a hand on a slider."""

from __future__ import annotations

from pydantic import Field

from evenfall.sheet.map_page import LineShares, MapState, StickPoint
from evenfall.sheet.pages import Page


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
