"""Everything the page needs to move ailerons, arms, rods and horns by itself, as the real ones move."""

from __future__ import annotations

from pydantic import Field

from evenfall.sheet.pages import Page, PlanPhasePage


class LinkagePage(Page):
    """One aileron's linkage, SI and radians: the arguments of `evenfall.linkage.fourbar.FourBar` and of the corner."""

    corner: str = Field(description="upper_left and so on.")
    arm: float = Field(description="Servo arm radius, m.")
    horn: float = Field(description="Horn radius, m.")
    rod: float = Field(description="Rod, pin to pin, m.")
    distance: float = Field(description="Servo axis to hinge line along the chord, m.")
    height: float = Field(description="Servo axis beyond the hinge line towards the horn's side, m.")
    setback: float = Field(description="Horn pin aft of the hinge line at neutral, m.")
    crossed: bool = Field(description="The arm stands on the side away from the horn.")
    horn_above: bool = Field(description="The horn stands on the upper side.")
    square: float = Field(description="Arm angle square to its rod, from the chord's normal, rad.")
    centre: float = Field(description="Arm from square at the centre pulse, rad.")
    offset: float = Field(description="Arm from square with the surface at neutral, rad.")
    direction: float = Field(description="+1 where a longer pulse pushes the rod.")
    servo_gain: float = Field(description="Servo angle per pulse, rad/s.")
    pulse_centre: float = Field(description="Centre pulse, s.")
    low: float = Field(description="Least throw any limit allows, rad, trailing edge down positive.")
    high: float = Field(description="Greatest throw any limit allows, rad.")
    low_words: str = Field(description="What ends the travel there.")
    high_words: str = Field(description="What ends the travel there.")
    y: float = Field(description="Spanwise place of the servo, m, right positive.")


class WingMix(Page):
    """Crow of one wing."""

    wing: str = Field(description="upper or lower.")
    crow: float = Field(description="Angle fully deployed, rad, trailing edge down positive.")


class CornerOut(Page):
    """What one corner keeps with crow out."""

    corner: str = Field(description="upper_left and so on.")
    kept_normal: float | None = Field(description="Roll throw deployed over stowed at equal stick, normal phase.")
    kept_snap: float | None = Field(description="The same at snap throw.")
    offset_deg: float = Field(description="Arm offset.")
    left_deg: float = Field(description="Least servo turn left in any phase; negative where it breaks.")
    tightest: str = Field(description="Phase and limit where that is.")
    servo_load: float | None = Field(description="Largest torque over stall torque; null if unknown.")


class KinematicsPage(Page):
    """Answer of topic `kinematics`. Angles rad, lengths m, sticks -1 to 1 (throttle 0 to 1)."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="Name of the plan.")
    phases: tuple[PlanPhasePage, ...] = Field(description="Phases with throws and exponentials.")
    curve: tuple[tuple[float, float], ...] = Field(description="Deployment over throttle stick, 0 to 1; empty without.")
    wings: tuple[WingMix, ...] = Field(description="Wings with ailerons.")
    elevator_crow: float = Field(description="Elevator added at full deployment, rad, trailing edge down positive.")
    throttle_curve: tuple[tuple[float, float], ...] = Field(description="Motor command over stick, 0 to 1.")
    closed_below: float = Field(description="End of the closed band, 0 to 1.")
    linkages: tuple[LinkagePage, ...] = Field(description="Every described linkage; empty without.")
    missing: str = Field(description="Why linkages are missing, and which keys would give them; empty where all there.")
    without_offset: bool = Field(description="Arms square to their rods instead of as planned.")
    kept: tuple[CornerOut, ...] = Field(description="What each corner keeps with crow out.")
    kept_words: str = Field(description="With and without offset in a sentence.")
    cautions: tuple[str, ...] = Field(description="Before bench work.")


class SheetAnswer(Page):
    """Answer of topic `sheet`: where the printed sheet can be had."""

    ready: bool = Field(description="A sheet can be made.")
    why_not: str = Field(description="What is missing; empty where ready.")
    pdf: str = Field(description="Address of the PDF; &paper=letter for the other paper.")
    html: str = Field(description="Address of the file for the phone.")
    pages: tuple[str, ...] = Field(description="Addresses of the pages as pictures (SVG).")
    bytes_html: int = Field(description="Size of the phone's file.")
