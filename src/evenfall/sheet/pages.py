"""Results as declared pages: what JSON holds, what tables and sheets show.

Numbers stay unrounded and in the unit their name ends in; renderers round by `evenfall.sheet.words`. `spread` is one
sigma everywhere.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Page(BaseModel):
    """Base of every page: frozen, nothing undeclared."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Cause(Page):
    """One cause of a spread."""

    name: str = Field(description="The uncertain input, in the pilot's words.")
    share: float = Field(description="Its share of the variance, 0 to 1.")
    buys: str | None = Field(default=None, description="What measuring it would buy.")


class Spreading(Page):
    """A number with its spread."""

    value: float = Field(description="Best estimate, in the unit of the key that holds it.")
    spread: float | None = Field(description="One sigma in the same unit; null where it was not computed.")
    causes: tuple[Cause, ...] = Field(default=(), description="The largest causes of the spread, largest first.")


class DragShares(Page):
    """Forces against the flight on a steady line, N."""

    airframe: float = Field(description="Clean aeroplane.")
    crow: float = Field(description="Added by deployment.")
    propeller: float = Field(description="Propeller; negative where it pulls.")


class Steady(Page):
    """One steady speed of a line."""

    speed_m_s: Spreading = Field(description="Speed, m/s.")
    shaft_rpm: float = Field(description="Shaft speed, revolutions a minute.")
    stable: bool = Field(description="True where speed and shaft speed return after a disturbance.")
    drag_n: DragShares = Field(description="Who holds against the flight, N.")
    reached_from_m_s: tuple[float, float] | None = Field(
        description="Lowest and highest entry speed that ends here, of those tried; null where none does."
    )


class LinePage(Page):
    """One line at the stick it is flown with."""

    name: str = Field(description='"vertical down", "45 down", "level", "45 up" or "vertical up".')
    slope_deg: float = Field(description="Slope, degrees, climbing positive.")
    stick_percent: float = Field(description="Stick: where the wanted speed is held, or the nearest end.")
    status: str = Field(description="ok, or what stands in the way (one of the statuses).")
    remark: str = Field(description="The status in words.")
    steady: tuple[Steady, ...] = Field(description="Every steady speed at that stick, slowest first.")


class Retention(Page):
    """Roll response deployed over stowed, in parts that multiply."""

    linkage: float | None = Field(description="Part of the linkage; null where the plane file describes none.")
    section: float = Field(description="Part of the wing sections at equal throw and speed.")
    speed: float = Field(description="Speed of the line over the wanted speed.")
    total: float = Field(description="Product of the parts that are known.")


class RollPage(Page):
    """Steady roll at one throw."""

    deployed: bool = Field(description="Crow fully out or stowed.")
    throw_deg: float = Field(description="Aileron throw either way from where crow holds it, degrees.")
    rate_deg_s: float = Field(description="Steady rate of roll, degrees a second.")
    rate: Spreading | None = Field(description="The same rate with its spread, degrees a second; null if unsolved.")
    section: Spreading | None = Field(description="The section part of retention with its spread; null if unsolved.")
    retention: Retention = Field(description="Deployed over stowed.")


class StraightnessPage(Page):
    """How much a line bends with the elevator held at hands-off level trim."""

    line: str = Field(description="The line.")
    inverted: bool = Field(description="Flown inverted.")
    clean_deg_s: float = Field(description="Clean aeroplane, degrees a second, towards the canopy positive.")
    crow_deg_s: float = Field(description="Added by full crow, degrees a second.")
    clean_deg_50m: float = Field(description="The same over 50 m of line, degrees.")
    crow_deg_50m: float = Field(description="The same over 50 m of line, degrees.")
    clean: Spreading | None = Field(description="Clean bend with its spread, degrees a second; null if unsolved.")
    crow: Spreading | None = Field(description="Bend of the crow with its spread, degrees a second; null if unsolved.")
    cure: str = Field(description="What to change, or that nothing is needed.")


class HoldingStickPage(Page):
    """Stick at which a line of a slope is flown at the wanted speed."""

    slope_deg: float = Field(description="Slope, degrees, climbing positive.")
    stick_percent: float | None = Field(description="Stick; null where no stick holds the wanted speed.")
    status: str = Field(description="ok, or what stands in the way.")
    stick: Spreading | None = Field(description="The stick with its spread, percent; null on an end or in the band.")


class AirPage(Page):
    """The air a page was computed for."""

    density_kg_m3: float = Field(description="Density.")
    temperature_c: float = Field(description="Temperature, degrees Celsius.")
    pressure_hpa: float = Field(description="Pressure at the field.")


class PredictPage(Page):
    """Answer of `predict`."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="What was flown: as it is now, or the plan's name.")
    wanted_speed_m_s: float = Field(description="Speed wanted on every line.")
    air: AirPage = Field(description="The air.")
    lines: tuple[LinePage, ...] = Field(description="The five lines, from vertical down to vertical up.")
    roll: tuple[RollPage, ...] = Field(description="Steady rolls.")
    straightness: tuple[StraightnessPage, ...] = Field(description="Straightness of the down lines.")
    holding_stick: tuple[HoldingStickPage, ...] = Field(description="Holding stick against slope.")
    warnings: tuple[str, ...] = Field(description="What to watch, in words.")
    limits: tuple[str, ...] = Field(description="What this answer leaves out.")


class CrowAngles(Page):
    """Angles fully deployed, degrees, trailing edge down positive; null where the wing has no ailerons."""

    upper: float | None = Field(description="Upper wing.")
    lower: float | None = Field(description="Lower wing.")


class CandidatePage(Page):
    """One motor-brake level with one arrangement."""

    level: str = Field(description="Name of the level.")
    brake_percent: float = Field(description="The level on the scale 0 to 100.")
    arrangement: str = Field(description="Upper/lower wing.")
    crow_deg: CrowAngles = Field(description="Crow for the wanted speed, or the nearest that can be set.")
    shaft_states: int = Field(description="Stable shaft states at the wanted speed.")
    margin: float | None = Field(
        description="Distance to the nearest fold, percent of brake; null where there is none."
    )
    margin_spread: float | None = Field(description="One sigma of the margin, percent of brake; null without one.")
    crow: Spreading | None = Field(description="Size of the crow with its spread, degrees; null without a speed.")
    speed: Spreading | None = Field(description="Down speed with its spread, m/s; null without one.")
    fold_probability: float = Field(
        description="Chance that doubt of the brake puts this level among two shaft states."
    )
    down_speed_m_s: float | None = Field(description="Vertical down speed with this crow.")
    reach_m_s: tuple[float, float] | None = Field(description="Speed with most and with no crow.")
    roll_retention: float | None = Field(description="Section part of roll retention at normal throw.")
    curvature_deg_s: float | None = Field(description="Bend of the vertical added by crow before any cure.")
    per_degree_m_s: float | None = Field(description="Change of down speed for one more degree of crow.")
    per_5_brake_m_s: float | None = Field(description="Change of down speed for 5 percent more brake.")
    verdict: Literal["chosen", "usable", "fickle", "refused"] = Field(description="Where it stands.")
    why: str = Field(description="The reason in words.")


class TargetPage(Page):
    """One target of the tuning."""

    name: str = Field(description="What was asked.")
    wanted: str = Field(description="What counts as met.")
    got: str = Field(description="What the plan reaches.")
    met: bool = Field(description="Met or not.")


class CrowPage(Page):
    """Crow as in the plan file."""

    arrangement: str = Field(description="Upper/lower wing.")
    upper_deg: float | None = Field(description="Upper wing fully deployed, trailing edge down positive.")
    lower_deg: float | None = Field(description="Lower wing fully deployed, trailing edge down positive.")
    threshold_percent: float = Field(description="Stick where deployment begins.")
    curve: tuple[tuple[float, float], ...] = Field(description="Points: stick percent, deployment percent.")
    elevator_share: float = Field(description="Elevator angle over crow angle, trailing edge down positive.")


class MotorPage(Page):
    """Motor choice as in the plan file."""

    level: str = Field(description="Motor-brake level.")
    brake_percent: float = Field(description="The level on the scale 0 to 100.")
    throttle_curve: tuple[tuple[float, float], ...] = Field(description="Points: stick percent, command percent.")


class PlanPhasePage(Page):
    """A phase as in the plan file. Throws either way at full stick."""

    name: str = Field(description="As the pilot calls it.")
    kind: str = Field(description="take-off, normal, snap, spin, landing or other.")
    crow_live: bool = Field(description="Crow follows the throttle stick here.")
    aileron_deg: float = Field(description="Aileron throw, mean of up and down.")
    elevator_deg: float = Field(description="Elevator throw.")
    rudder_deg: float = Field(description="Rudder throw.")
    aileron_exponential_percent: float = Field(description="Exponential of the aileron stick.")
    elevator_exponential_percent: float = Field(description="Exponential of the elevator stick.")
    rudder_exponential_percent: float = Field(description="Exponential of the rudder stick.")
    roll_boost_percent: float = Field(description="Roll throw added at full deployment.")


class PlanCornerPage(Page):
    """One aileron corner as in the plan file."""

    corner: str = Field(description="upper_left, upper_right, lower_left or lower_right.")
    arm_hole_mm: float = Field(description="Hole of the servo arm.")
    horn_hole_mm: float = Field(description="Hole of the surface horn.")
    teeth: int = Field(description="Teeth to turn the arm from square, pushing positive.")
    arm: int = Field(description="Which arm of the horn carries the rod; 1 is the one in use.")
    turned_over: bool = Field(description="The servo horn is turned upside down.")
    offset_deg: float = Field(description="Arm from square to its rod with the surface at neutral, pushing positive.")
    shift_us: float = Field(description="Neutral pulse less centre pulse.")
    shift_by: str = Field(description="radio, servo or none.")
    pulse_neutral_us: float = Field(description="Pulse with the surface at neutral.")
    pulse_deployed_us: float = Field(description="Pulse with crow fully out.")
    normal_turn_deg: float = Field(description="Servo turn either way for the normal throw.")
    snap_turn_deg: float = Field(description="Servo turn either way for the snap throw.")
    words: str = Field(description="How the arm is fitted, in one line.")


class PlanPage(Page):
    """A plan as in its file."""

    crow: CrowPage | None = Field(description="Crow; null where the plan has none.")
    motor: MotorPage = Field(description="Motor brake and throttle curve.")
    phases: tuple[PlanPhasePage, ...] = Field(description="The phases.")
    corners: tuple[PlanCornerPage, ...] = Field(description="How each aileron is fitted; empty where unknown.")


class TunePage(Page):
    """Answer of `tune`."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    status: Literal["met", "limited", "none"] = Field(description="All targets met, some missed, or no plan at all.")
    summary: str = Field(description="The plan or its absence in two or three sentences.")
    wanted_speed_m_s: float = Field(description="Speed wanted on every line.")
    air: AirPage = Field(description="The air.")
    plan: PlanPage | None = Field(description="The plan; null where none exists.")
    targets: tuple[TargetPage, ...] = Field(description="What was asked and what was reached.")
    candidates: tuple[CandidatePage, ...] = Field(description="Every level and arrangement, best first.")
    predicted: PredictPage | None = Field(description="What the plan is expected to do.")
    remedies: tuple[str, ...] = Field(description="What would buy what is missing.")
    cautions: tuple[str, ...] = Field(description="Before the first flight.")
