"""Pages of the pictures: speed map, shaft torques, holding stick, drag shares. Converts and words; computes nothing."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from pydantic import Field

from evenfall.lines.holding import Holding
from evenfall.lines.map_curves import ChosenPoint, Contour
from evenfall.numeric import Status
from evenfall.sheet.make import air_page
from evenfall.sheet.pages import AirPage, DragShares, Page
from evenfall.tune.plane_map import MapLimit
from evenfall.workflow import MapAnswer, ShaftAnswer, SharesAnswer, StickAnswer

RPM = 60 / (2 * math.pi)


class MapState(Page):
    """One steady speed of a condition."""

    speed_m_s: float = Field(description="Down speed.")
    shaft_rpm: float = Field(description="Shaft speed, revolutions a minute.")
    thrust_n: float = Field(description="Thrust; negative where the propeller brakes.")
    stable: bool = Field(description="True where speed and shaft speed return after a disturbance.")


class ContourPage(Page):
    """The line of one down speed."""

    speed_m_s: float = Field(description="The down speed.")
    pieces: tuple[tuple[tuple[float, float], ...], ...] = Field(
        description="Pieces of points: motor brake percent, crow degrees. They end where a propeller state ends and "
        "may pass the edges of the map a little."
    )


class TwoSpeedsPage(Page):
    """A patch of the map with two propeller speeds: at each brake setting crow from low to high."""

    brake_percent: tuple[float, ...] = Field(description="Motor brake, rising.")
    low_deg: tuple[float, ...] = Field(description="Lowest crow with two stable steady speeds.")
    high_deg: tuple[float, ...] = Field(description="Highest crow with two stable steady speeds.")


class MapLimitPage(Page):
    """Crow from which on something is out of reach."""

    kind: Literal["snap", "normal"] = Field(description="Which throw is no longer there.")
    crow_deg: float = Field(description="From this crow upward.")
    reason: str = Field(description="The reason in words.")
    short: str = Field(description="The reason in a few words, for the picture.")


class ChosenPage(Page):
    """The chosen level and crow on the map."""

    level: str = Field(description="Name of the level.")
    brake_percent: float = Field(description="Motor brake that holds like it: its percent unless it was measured.")
    crow_deg: float = Field(description="Crow fully deployed.")
    speed_m_s: float | None = Field(description="Stable down speed nearest to the wanted one; null without one.")
    spread_m_s: float | None = Field(description="One sigma of it; null where it was not computed.")
    states: tuple[MapState, ...] = Field(description="Every steady speed there.")
    brake_range_percent: tuple[float, float] = Field(description="Motor brake within one sigma of its torque.")
    crow_range_deg: tuple[float, float] = Field(
        description="Crow that changes the drag by one sigma of its doubt (crow, body and parts, propeller)."
    )


class LevelPage(Page):
    """One level of the controller."""

    name: str = Field(description="Its name.")
    brake_percent: float = Field(description="Its place on the scale 0 to 100.")


class SpeedMapPage(Page):
    """Down speed over crow and motor brake, stick closed."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="The plan's name, or tuned.")
    arrangement: str = Field(description="Upper/lower wing.")
    wings: int = Field(description="Wings with ailerons.")
    wanted_speed_m_s: float = Field(description="Speed wanted on every line.")
    air: AirPage = Field(description="The air.")
    brake_percent: tuple[float, ...] = Field(description="Columns of the grid.")
    crow_deg: tuple[float, ...] = Field(description="Rows of the grid; the last one is the stop of the hinges.")
    states: tuple[tuple[tuple[MapState, ...], ...], ...] = Field(
        description="Every steady speed, slowest first, by row (crow) and column (motor brake)."
    )
    wanted: ContourPage = Field(description="Line of the wanted speed; without pieces where it is out of reach.")
    contours: tuple[ContourPage, ...] = Field(description="Lines of round speeds.")
    two_speeds: tuple[TwoSpeedsPage, ...] = Field(description="Where two propeller speeds are possible.")
    shaft_band_percent: tuple[float, float] | None = Field(
        description="Motor brake with two propeller speeds at the wanted speed, as computed; null without."
    )
    shaft_band_doubt_percent: tuple[float, float] | None = Field(
        description="The same with the torque of the motor brake half to twice what was computed."
    )
    levels: tuple[LevelPage, ...] = Field(description="Levels of the controller.")
    limits: tuple[MapLimitPage, ...] = Field(description="What is out of reach from which crow on, lowest first.")
    chosen: ChosenPage | None = Field(description="The chosen point; null where nothing is chosen.")
    warnings: tuple[str, ...] = Field(description="What stands in the way, in words.")
    remarks: tuple[str, ...] = Field(description="What to know about it, in words.")
    legend: str | None = Field(description="What the mark around the chosen point means; null without one.")


def map_page(answer: MapAnswer) -> SpeedMapPage:
    """The page of `map`."""
    drawn, plane = answer.map, answer.ready.file.plane
    limits = tuple(_limit(limit) for limit in drawn.limits)
    chosen = None if drawn.chosen is None else _chosen(drawn.chosen, answer)
    return SpeedMapPage(
        plane=plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        arrangement=drawn.arrangement,
        wings=sum(wing.aileron is not None for wing in plane.wings.values()),
        wanted_speed_m_s=answer.ready.wanted,
        air=air_page(answer.ready.air),
        brake_percent=tuple(drawn.grid.brake.tolist()),
        crow_deg=tuple(np.degrees(drawn.grid.crow).tolist()),
        states=_states(answer),
        wanted=_contour(drawn.wanted),
        contours=tuple(_contour(line) for line in drawn.contours),
        two_speeds=tuple(
            TwoSpeedsPage(
                brake_percent=tuple(patch.brake.tolist()),
                low_deg=tuple(np.degrees(patch.low).tolist()),
                high_deg=tuple(np.degrees(patch.high).tolist()),
            )
            for patch in drawn.two_speeds
        ),
        shaft_band_percent=drawn.band.likely,
        shaft_band_doubt_percent=drawn.band.doubtful,
        levels=tuple(LevelPage(name=level.name, brake_percent=level.percent) for level in plane.controller.levels),
        limits=limits,
        chosen=chosen,
        warnings=_warnings(answer, chosen),
        remarks=_remarks(answer),
        legend=None if chosen is None else _spread_words(chosen),
    )


def _states(answer: MapAnswer) -> tuple[tuple[tuple[MapState, ...], ...], ...]:
    grid = answer.map.grid
    speed, omega, thrust, stable = (x.tolist() for x in (grid.speed, grid.omega, grid.thrust, grid.stable))
    return tuple(
        tuple(
            tuple(
                MapState(speed_m_s=v, shaft_rpm=w * RPM, thrust_n=t, stable=ok)
                for v, w, t, ok in zip(*cell, strict=True)
                if not math.isnan(v)
            )
            for cell in zip(*row, strict=True)
        )
        for row in zip(speed, omega, thrust, stable, strict=True)
    )


def _contour(line: Contour) -> ContourPage:
    return ContourPage(
        speed_m_s=line.speed,
        pieces=tuple(tuple((b, math.degrees(a)) for b, a in piece.tolist()) for piece in line.pieces),
    )


def _limit(limit: MapLimit) -> MapLimitPage:
    throw = f"{math.degrees(limit.throw):.1f}".removesuffix(".0")
    return MapLimitPage(
        kind=limit.kind,
        crow_deg=math.degrees(limit.crow),
        reason=f"Above {math.degrees(limit.crow):.1f} deg of crow the {limit.wing} wing's hinges leave less than the "
        f"{limit.kind} throw of {throw} deg.",
        short=f"{limit.kind} throw {throw}\u00b0 out of reach",
    )


def _chosen(point: ChosenPoint, answer: MapAnswer) -> ChosenPage:
    stable = [state.speed for state in point.states if state.stable]
    return ChosenPage(
        level=point.level,
        brake_percent=point.brake,
        crow_deg=math.degrees(point.crow),
        speed_m_s=min(stable, key=lambda speed: abs(speed - answer.ready.wanted), default=None),
        spread_m_s=None if answer.estimate is None else answer.estimate.spread,
        states=tuple(
            MapState(speed_m_s=s.speed, shaft_rpm=s.omega * RPM, thrust_n=s.thrust, stable=s.stable)
            for s in point.states
        ),
        brake_range_percent=point.brake_range,
        crow_range_deg=(math.degrees(point.crow_range[0]), math.degrees(point.crow_range[1])),
    )


def _warnings(answer: MapAnswer, chosen: ChosenPage | None) -> tuple[str, ...]:
    wanted, drawn = answer.ready.wanted, answer.map
    said = []
    allowed = max(min((limit.crow for limit in drawn.limits if limit.kind == "normal"), default=math.inf), 0.0)
    if not any(bool(((piece[:, 1] >= 0) & (piece[:, 1] <= allowed)).any()) for piece in drawn.wanted.pieces):
        rows = drawn.grid.crow <= allowed + 1e-9
        stable = drawn.grid.speed[rows][drawn.grid.stable[rows]]
        slowest, fastest = float(stable.min(initial=math.inf)), float(stable.max(initial=0.0))
        side = f"still {slowest:.1f} m/s at best" if slowest > wanted else f"only {fastest:.1f} m/s even without crow"
        said.append(f"{wanted:.1f} m/s is out of reach with crow {drawn.arrangement}: {side}.")
    speeds = [state.speed_m_s for state in chosen.states if state.stable] if chosen else []
    if chosen is not None and len(speeds) > 1:
        listed = " or ".join(f"{speed:.1f}" for speed in speeds)
        said.append(f"Level {chosen.level} with {chosen.crow_deg:.1f} deg: {listed} m/s, entry speed decides.")
    if chosen is not None and not speeds:
        said.append(f"Level {chosen.level} with {chosen.crow_deg:.1f} deg: no steady speed.")
    return tuple(said)


def _remarks(answer: MapAnswer) -> tuple[str, ...]:
    wanted, drawn = answer.ready.wanted, answer.map
    said = []
    if drawn.band.likely is not None and drawn.band.doubtful is not None:
        (low, high), (lowest, highest) = drawn.band.likely, drawn.band.doubtful
        said.append(
            f"Two propeller speeds at {wanted:.1f} m/s: from {low:.0f} to {high:.0f} % of motor brake as computed, "
            f"from {lowest:.0f} to {highest:.0f} % with its torque half to twice that."
        )
    said.extend(_limit(limit).reason for limit in drawn.limits[:1])
    return tuple(said)


def _spread_words(chosen: ChosenPage) -> str:
    low, high = chosen.brake_range_percent
    if high - low < 0.5:
        return "Bar through the point: what one sigma of drag is worth in degrees of crow."
    return "Ellipse: what one sigma of drag is worth in degrees of crow, and of torque in percent of motor brake."


def map_words(page: SpeedMapPage) -> list[str]:
    """What `map` prints beside the picture."""
    head = f"{page.plane}. Vertical down, stick closed, crow {page.arrangement}."
    said = [head, *(f"! {warning}" for warning in page.warnings), *page.remarks]
    chosen = page.chosen
    if chosen is not None and chosen.speed_m_s is not None:
        spread = "" if chosen.spread_m_s is None else f" +- {chosen.spread_m_s:.1f}"
        said.insert(
            1, f"Level {chosen.level} with {chosen.crow_deg:.1f} deg of crow: {chosen.speed_m_s:.1f}{spread} m/s."
        )
    return said


class ShaftMeeting(Page):
    """A steady state of the shaft."""

    level: str = Field(description="Name of the level.")
    speed_m_s: float = Field(description="Airspeed.")
    shaft_rpm: float = Field(description="Shaft speed, revolutions a minute.")
    torque_n_m: float = Field(description="Torque there.")
    thrust_n: float = Field(description="Thrust; negative where the propeller brakes.")
    stable: bool = Field(description="True where the shaft returns to it.")


class TorqueCurve(Page):
    """Torque over the shaft speeds of the page: by the air at an airspeed, or held by a level."""

    name: str = Field(description="Airspeed in m/s, or the name of the level.")
    torque_n_m: tuple[float, ...] = Field(description="Positive: the air turns the shaft forward; held by the level.")


class ShaftPicturePage(Page):
    """Why half motor brake is hard: torques over shaft speed."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    shaft_rpm: tuple[float, ...] = Field(description="Shaft speeds, revolutions a minute.")
    speeds_m_s: tuple[float, ...] = Field(description="Airspeeds of `driving`.")
    driving: tuple[TorqueCurve, ...] = Field(description="Windmilling torque at each airspeed.")
    holding: tuple[TorqueCurve, ...] = Field(description="Torque of each level with friction.")
    meetings: tuple[ShaftMeeting, ...] = Field(description="Every steady state.")


def shaft_page(answer: ShaftAnswer) -> ShaftPicturePage:
    """The page of the shaft-torque picture."""
    picture = answer.picture
    return ShaftPicturePage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        shaft_rpm=tuple((picture.omega * RPM).tolist()),
        speeds_m_s=tuple(picture.speeds.tolist()),
        driving=tuple(
            TorqueCurve(name=f"{speed:.1f}", torque_n_m=tuple(row))
            for speed, row in zip(picture.speeds.tolist(), picture.driving.tolist(), strict=True)
        ),
        holding=tuple(
            TorqueCurve(name=name, torque_n_m=tuple(row))
            for name, row in zip(picture.levels, picture.holding.tolist(), strict=True)
        ),
        meetings=tuple(
            ShaftMeeting(
                level=m.level,
                speed_m_s=m.speed,
                shaft_rpm=m.omega * RPM,
                torque_n_m=m.torque,
                thrust_n=m.thrust,
                stable=m.stable,
            )
            for m in picture.meetings
        ),
    )


class StickPoint(Page):
    """Holding stick at one slope."""

    slope_deg: float = Field(description="Slope, degrees, climbing positive.")
    stick_percent: float = Field(description="Stick, or the nearest end where no stick holds the wanted speed.")
    deployment_percent: float = Field(description="Deployment at that stick.")
    status: str = Field(description="ok, or what stands in the way.")
    left_over_n: float | None = Field(description="Force along the path left over there; null where stalled.")


class StickPicturePage(Page):
    """Holding stick over slope, with crow and without."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="The plan's name, or as it is now.")
    inverted: bool = Field(description="Flown inverted.")
    wanted_speed_m_s: float = Field(description="Speed held.")
    with_crow: tuple[StickPoint, ...] = Field(description="With the plan's crow; as without where it has none.")
    without_crow: tuple[StickPoint, ...] = Field(description="The same plan without crow.")
    threshold_percent: float | None = Field(description="Stick where deployment begins; null without crow.")
    closed_below_percent: float = Field(description="End of the closed band.")
    brake_step_n: float = Field(description="Force gained where the motor comes free of the closed band.")


def stick_page(answer: StickAnswer) -> StickPicturePage:
    """The page of the holding-stick picture."""
    picture = answer.picture
    return StickPicturePage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        inverted=picture.inverted,
        wanted_speed_m_s=answer.ready.wanted,
        with_crow=tuple(stick_point(held) for held in picture.crow),
        without_crow=tuple(stick_point(held) for held in picture.clean),
        threshold_percent=None if picture.threshold is None else 100 * picture.threshold,
        closed_below_percent=100 * picture.closed_below,
        brake_step_n=picture.step,
    )


def stick_point(held: Holding) -> StickPoint:
    """A holding stick on the page."""
    return StickPoint(
        slope_deg=math.degrees(held.slope),
        stick_percent=100 * held.stick,
        deployment_percent=100 * held.deployment,
        status=held.status.value,
        left_over_n=None if math.isnan(held.excess) else held.excess,
    )


class LineShares(Page):
    """Who holds against the flight on one line."""

    name: str = Field(description="The line.")
    slope_deg: float = Field(description="Slope, degrees, climbing positive.")
    stick_percent: float = Field(description="Stick it is flown with.")
    speed_m_s: float | None = Field(description="Steady speed most entries end in; null without one.")
    weight_along_n: float = Field(description="Weight along the path, pulling down the line positive.")
    shares_n: DragShares | None = Field(description="Airframe, crow and propeller; null without a steady speed.")
    status: str = Field(description="ok, or what stands in the way.")


class DragSharesPage(Page):
    """Drag shares along the five lines."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="The plan's name, or as it is now.")
    wanted_speed_m_s: float = Field(description="Speed wanted on every line.")
    lines: tuple[LineShares, ...] = Field(description="The five lines.")


def shares_page(answer: SharesAnswer) -> DragSharesPage:
    """The page of the drag shares."""
    weight = answer.ready.frame.weight
    rows = []
    for line in answer.survey.lines:
        state = line.speed
        shares = None
        if state is not None:
            shares = DragShares(airframe=state.airframe, crow=state.crow, propeller=-state.thrust)
        rows.append(
            LineShares(
                name=line.name,
                slope_deg=math.degrees(line.slope),
                stick_percent=100 * line.stick,
                speed_m_s=None if state is None else state.speed,
                weight_along_n=-weight * math.sin(line.slope),
                shares_n=shares,
                status=Status(line.status).value,
            )
        )
    return DragSharesPage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        wanted_speed_m_s=answer.ready.wanted,
        lines=tuple(rows),
    )
