"""A programme of figures flown: part by part, as a whole, and as a track to draw and to play."""

from __future__ import annotations

from pydantic import Field

from evenfall.sheet.pages import Page, Spreading
from evenfall.sheet.spin_page import SpinPage


class FlyPartPage(Page):
    """One part of a figure."""

    figure: int = Field(description="Number of its figure, from 1.")
    part: int = Field(description="Number of the part in its figure, from 1.")
    words: str = Field(description="What is flown, in words.")
    begins_m: float = Field(description="Place on the path where it begins.")
    ends_m: float = Field(description="Place on the path where it ends.")
    begins_s: float = Field(description="Time at its beginning.")
    ends_s: float = Field(description="Time at its end.")
    speed_m_s: Spreading = Field(description="Mean speed.")
    slowest_m_s: float = Field(description="Lowest speed.")
    fastest_m_s: float = Field(description="Highest speed.")
    worst_off_m_s: float = Field(description="Largest deviation from the wanted speed; 0 where none is counted.")
    by_wind_m_s: float | None = Field(
        default=None,
        description="What of it the moving air makes: less the speed in still air at the same place; null when calm.",
    )
    worst_at_m: float = Field(description="Place on the path of that deviation.")
    why: str = Field(description="Cause of it: even, slowed, brakes_at_end, closed_band, wind and so on.")
    why_short: str = Field(description="The cause in a few words; empty where even.")
    why_words: str = Field(description="The cause in a sentence.")
    counted: bool = Field(description="The speed is to be even on it; false where it is given up on purpose.")
    estimated: bool = Field(description="A snap or a spin is in it: an estimate.")
    stick_percent: float = Field(description="Mean stick.")
    deployment_percent: float = Field(description="Mean deployment.")
    thrust_n: float = Field(description="Mean thrust, negative where the propeller brakes.")
    drag_n: float = Field(description="Mean drag of the airframe.")
    weight_along_n: float = Field(description="Mean weight along the path, positive holds back.")
    load_low: float = Field(description="Least force across the path over weight, towards the canopy.")
    load_high: float = Field(description="Greatest.")
    low_m: float = Field(description="Lowest height.")
    high_m: float = Field(description="Greatest height.")
    aside_deg: float = Field(description="Greatest angle from the middle of the box as judged.")
    up_deg: float = Field(description="Greatest angle above the horizon as judged.")


class FlyFigurePage(Page):
    """One figure."""

    number: int = Field(description="From 1.")
    name: str = Field(description="Its name in the sequence file.")
    flown: bool = Field(description="Flown to its end.")
    speed_m_s: float = Field(description="Mean speed.")
    unevenness_percent: float = Field(description="Root mean square of the deviation where speed is to be even.")
    worst_off_m_s: float = Field(description="Largest deviation from the wanted speed.")
    by_wind_m_s: float | None = Field(default=None, description="What of it the moving air makes; null when calm.")
    worst_part: int = Field(description="Part in which it lies, from 1.")
    why_short: str = Field(description="Cause of it in a few words; empty where even.")
    why_words: str = Field(description="Cause of it in a sentence; empty where even.")
    low_m: float = Field(description="Lowest height.")
    high_m: float = Field(description="Greatest height.")
    load_low: float = Field(description="Least force across the path over weight, towards the canopy.")
    load_high: float = Field(description="Greatest.")
    charge_mah: float = Field(description="Charge used on it.")
    parts: tuple[FlyPartPage, ...] = Field(description="Its parts in the order flown.")


class FlyTrack(Page):
    """The flight in time, to four decimals, one entry each. Axes: x along the flight line to the right as judged, y
    away, z up."""

    time_s: tuple[float, ...] = Field(description="Time.")
    place_m: tuple[float, ...] = Field(description="Place on the path.")
    x_m: tuple[float, ...] = Field(description="Along the flight line, right of the middle positive.")
    y_m: tuple[float, ...] = Field(description="Off the flight line, away from the judges positive.")
    height_m: tuple[float, ...] = Field(description="Height above the ground.")
    forward: tuple[tuple[float, float, float], ...] = Field(description="Unit vector the nose points along.")
    canopy: tuple[tuple[float, float, float], ...] = Field(description="Unit vector towards the canopy.")
    figure: tuple[int, ...] = Field(description="Number of the figure, from 1.")
    part: tuple[int, ...] = Field(description="Number of the part, from 1.")
    speed_m_s: tuple[float, ...] = Field(description="Speed.")
    counted: tuple[bool, ...] = Field(description="Speed is to be even here.")
    stick_percent: tuple[float, ...] = Field(description="Throttle stick.")
    deployment_percent: tuple[float, ...] = Field(description="Crow really out.")
    shaft_rpm: tuple[float, ...] = Field(description="Shaft speed, revolutions a minute.")
    closed: tuple[bool, ...] = Field(description="The controller holds the motor closed.")
    thrust_n: tuple[float, ...] = Field(description="Thrust, negative where the propeller brakes.")
    current_a: tuple[float, ...] = Field(description="Battery current.")
    voltage_v: tuple[float, ...] = Field(description="Battery voltage under that load.")
    left_percent: tuple[float, ...] = Field(description="Charge left in the battery; empty list where it stays full.")
    load: tuple[float, ...] = Field(description="Force across the path over weight, towards the canopy.")
    incidence_deg: tuple[float, ...] = Field(description="Incidence of the thrust line, nose up positive.")


class FlyBox(Page):
    """Where figures may lie."""

    distance_m: float = Field(description="Distance of the flight line from the judges.")
    side_deg: float = Field(description="Either way from the middle.")
    elevation_deg: float = Field(description="Above the horizon.")
    lowest_m: float = Field(description="Lowest height allowed.")
    used_side_deg: float = Field(description="Greatest angle from the middle flown.")
    used_elevation_deg: float = Field(description="Greatest angle above the horizon flown.")
    used_low_m: float = Field(description="Lowest height flown.")
    used_high_m: float = Field(description="Greatest height flown.")


class FlyServo(Page):
    """The aileron servo that works hardest."""

    corner: str = Field(description="Which aileron.")
    load_percent: float = Field(description="Of its stall torque at sagged supply.")
    speed_m_s: float = Field(description="At this speed, the highest of the flight.")


class FlyPage(Page):
    """A programme flown with a plan."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="What is flown.")
    sequence: str = Field(description="Name of the programme.")
    invented: bool = Field(description="The programme is made up, of no rule book.")
    wanted_speed_m_s: float = Field(description="Speed wanted throughout.")
    density_kg_m3: float = Field(description="Air.")
    wind: str = Field(default="calm", description="Wind in words.")
    ended: str = Field(description="flown, stalled, stopped, empty or blown.")
    ended_words: str = Field(description="How it ended, in a sentence.")
    unevenness_percent: Spreading = Field(description="Root mean square of the deviation where speed is to be even.")
    within_percent: float = Field(description="Share of that time within 5 percent of the wanted speed.")
    duration_s: Spreading = Field(description="Time of the whole.")
    length_m: float = Field(description="Length of the path flown.")
    charge_mah: Spreading = Field(description="Charge used.")
    left_percent: float | None = Field(description="Charge left at the end; null where the battery stays full.")
    energy_wh: float = Field(description="Energy out of the cells.")
    current_a: float = Field(description="Greatest battery current.")
    voltage_v: float = Field(description="Lowest voltage under load.")
    fastest_m_s: float = Field(description="Highest speed.")
    servo: FlyServo | None = Field(description="Null where no linkage is described.")
    box: FlyBox = Field(description="Box and what was used of it.")
    figures: tuple[FlyFigurePage, ...] = Field(description="Figures in the order flown.")
    findings: tuple[str, ...] = Field(description="What of the programme costs marks though it can be flown.")
    words: tuple[str, ...] = Field(description="What to watch, in sentences.")
    limits: tuple[str, ...] = Field(description="What this answer leaves out.")
    spin: SpinPage | None = Field(default=None, description="Spin and snap, where the programme has any: estimates.")
    track: FlyTrack = Field(description="The flight in time.")
    against: FlyPage | None = Field(default=None, description="The second flight; null where none is asked.")
    differs: tuple[str, ...] = Field(default=(), description="What differs in the second flight, in sentences.")


class FlyDiffRow(Page):
    """One figure flown twice."""

    number: int = Field(description="From 1.")
    name: str = Field(description="Its name.")
    first_m_s: float = Field(description="Mean speed of the first flight.")
    second_m_s: float = Field(description="Mean speed of the second.")
    first_worst_m_s: float = Field(description="Largest deviation of the first flight.")
    second_worst_m_s: float = Field(description="Largest deviation of the second.")


class FlyComparePage(Page):
    """Two flights of one programme side by side."""

    first: FlyPage = Field(description="The first flight.")
    second: FlyPage = Field(description="The second.")
    rows: tuple[FlyDiffRow, ...] = Field(description="Figure by figure, those flown in both.")
    words: tuple[str, ...] = Field(description="What differs, in sentences.")
