"""Pages of `fly`: a flown programme, and two side by side."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenfall.estimate import Estimate
from evenfall.lines.flight_report import FlownPart, Why, electrics, incidences
from evenfall.lines.flown_path import Ended
from evenfall.sheet.fly_page import (
    FlyBox,
    FlyComparePage,
    FlyDiffRow,
    FlyFigurePage,
    FlyPage,
    FlyPartPage,
    FlyServo,
    FlyTrack,
)
from evenfall.sheet.fly_words import estimated_words, part_words
from evenfall.sheet.make import cause_words, spreading
from evenfall.sheet.pages import Spreading
from evenfall.sheet.spin_page import spin_page
from evenfall.workflow.flying import Flown, FlownTwice
from evenfall.workflow.spinning import SpinSnap

Floats = NDArray[np.float64]

RPM = 60 / (2 * math.pi)
MAH = 1 / 3.6
MOST_POINTS = 900
"""Points of a track, joints of parts aside."""
_DRAWN = 4
"""Decimals of a track: it is for drawing, and long."""
RESERVE = 0.2
"""Share of the battery to land with. Common practice, no source."""
DRIFTING = 0.01
"""Share of the time off the line by the wind above which it is spoken of. Ours, no source."""
HARD = 0.5
"""Share of a servo's stall torque above which it is spoken of."""


def fly_page(flown: Flown, *, wind: str = "calm", spin: SpinSnap | None = None) -> FlyPage:
    """The page of a flight; `wind` in words, `spin` where the programme has a spin or snap."""
    report, box, spread = flown.report, flown.sequence.box, flown.spread
    return FlyPage(
        plane=flown.ready.file.plane.name,
        plane_hash=flown.ready.file.content_hash,
        plan=flown.plan_name,
        sequence=flown.sequence.name,
        invented=flown.sequence.invented,
        wanted_speed_m_s=flown.ready.wanted,
        density_kg_m3=flown.ready.air.density,
        wind=wind,
        spin=None if spin is None else spin_page(spin),
        ended=report.ended.value,
        ended_words=report.ended.text,
        unevenness_percent=_spreading(report.unevenness, None if spread is None else spread.unevenness, 100.0),
        within_percent=100 * report.within,
        duration_s=_spreading(report.duration, None if spread is None else spread.duration),
        length_m=report.end,
        charge_mah=_spreading(report.charge, None if spread is None else spread.charge, MAH),
        left_percent=None if report.left is None else 100 * report.left,
        energy_wh=report.energy / 3600,
        current_a=report.current,
        voltage_v=report.voltage,
        fastest_m_s=report.fastest,
        servo=None
        if flown.servo is None
        else FlyServo(
            corner=flown.servo.corner.replace("_", " "),
            load_percent=100 * flown.servo.share,
            speed_m_s=flown.servo.speed,
        ),
        box=FlyBox(
            distance_m=flown.sequence.distance,
            side_deg=math.degrees(box.side),
            elevation_deg=math.degrees(box.elevation),
            lowest_m=box.ground,
            used_side_deg=math.degrees(report.aside),
            used_elevation_deg=math.degrees(report.up),
            used_low_m=report.low,
            used_high_m=report.high,
        ),
        figures=tuple(_figures(flown)),
        findings=tuple(
            dict.fromkeys(
                f"Figure {item.figure + 1} ({flown.sequence.figures[item.figure].name}) {item.message}."
                for item in flown.findings
            )
        ),
        words=tuple(_words(flown)),
        limits=tuple(_limits(flown)),
        track=_track(flown),
    )


def _spreading(value: float, found: Estimate | None, scale: float = 1.0) -> Spreading:
    """A number in the page's unit, with its spread and causes where there are any."""
    return spreading(found, scale) or Spreading(value=scale * value, spread=None)


def _figures(flown: Flown) -> list[FlyFigurePage]:
    done, pages = flown.flight, []
    charge = done.row("charge")[:, 0]
    for number, figure in enumerate(flown.sequence.figures):
        parts = [part for part in flown.report.parts if part.figure == number]
        if not parts:
            continue
        lasting = sum(part.ended - part.begun for part in parts)
        worst = max(parts, key=lambda part: abs(part.worst))
        used = float(np.interp([parts[0].start, parts[-1].end], done.place, charge) @ np.array([-1.0, 1.0]))
        pages.append(
            FlyFigurePage(
                number=number + 1,
                name=figure.name,
                flown=parts[-1].part == len(figure.parts) - 1 and parts[-1].end < flown.report.end + 1e-6,
                speed_m_s=(parts[-1].end - parts[0].start) / max(lasting, 1e-9),
                unevenness_percent=100 * _unevenness(flown, parts[0].start, parts[-1].end),
                worst_off_m_s=worst.worst,
                by_wind_m_s=worst.by_wind,
                worst_part=worst.part + 1,
                why_short=worst.why.short,
                why_words="" if worst.why is Why.EVEN else worst.why.text,
                low_m=min(part.low for part in parts),
                high_m=max(part.high for part in parts),
                load_low=min(part.load_low for part in parts),
                load_high=max(part.load_high for part in parts),
                charge_mah=used * MAH,
                parts=tuple(_part(flown, part) for part in parts),
            )
        )
    return pages


def _part(flown: Flown, part: FlownPart) -> FlyPartPage:
    given = flown.sequence.figures[part.figure].parts[part.part]
    found = None if flown.spread is None else flown.spread.speeds.get((part.figure, part.part))
    return FlyPartPage(
        figure=part.figure + 1,
        part=part.part + 1,
        words=part_words(given),
        begins_m=part.start,
        ends_m=part.end,
        begins_s=part.begun,
        ends_s=part.ended,
        speed_m_s=_spreading(part.speed, found),
        slowest_m_s=part.slowest,
        fastest_m_s=part.fastest,
        worst_off_m_s=part.worst,
        by_wind_m_s=part.by_wind,
        worst_at_m=part.worst_at,
        why=part.why.value,
        why_short=part.why.short,
        why_words=part.why.text,
        counted=part.counted,
        estimated=part.estimated,
        stick_percent=100 * part.stick,
        deployment_percent=100 * part.deployment,
        thrust_n=part.thrust,
        drag_n=part.drag,
        weight_along_n=part.held,
        load_low=part.load_low,
        load_high=part.load_high,
        low_m=part.low,
        high_m=part.high,
        aside_deg=math.degrees(part.aside),
        up_deg=math.degrees(part.up),
    )


def _unevenness(flown: Flown, start: float, end: float) -> float:
    """Root mean square of the deviation between two places (m), where speed is to be even."""
    done, wanted = flown.flight, flown.ready.wanted
    inside = (done.place > start) & (done.place <= end + 1e-9) & done.counted(wanted)
    spans = np.diff(done.row("time")[:, 0], prepend=0.0)[inside]
    off = done.row("speed")[inside, 0] / wanted - 1.0
    return math.sqrt(float((spans * off**2).sum()) / float(spans.sum())) if spans.sum() > 0 else 0.0


def _words(flown: Flown) -> list[str]:
    """What to watch."""
    report, said = flown.report, []
    if report.ended is not Ended.FLOWN:
        last = report.parts[-1]
        name = flown.sequence.figures[last.figure].name
        said.append(f"Ends in figure {last.figure + 1} ({name}), {report.end:.0f} m on: {report.ended.text}")
    if flown.drifts > DRIFTING:
        said.append(
            f"On {100 * flown.drifts:.0f} % of the time more wind blows across the path than half of the speed: more "
            "than a plane leans against. There it drifts off its line, and only the rest of the wind is flown against."
        )
    if report.empty is not None:
        said.append(f"The battery is empty after {report.empty:.0f} m: a larger one, or less programme.")
    elif report.left is not None and report.left < RESERVE:
        said.append(f"{100 * report.left:.0f} % of the battery is left at the end; land with {100 * RESERVE:.0f} %.")
    if flown.servo is not None and flown.servo.share > HARD:
        said.append(
            f"The servo of the {flown.servo.corner.replace('_', ' ')} aileron works at {100 * flown.servo.share:.0f} % "
            f"of its stall torque at {flown.servo.speed:.1f} m/s; {100 * HARD:.0f} % is what lasts."
        )
    if flown.spread is not None:
        said += [
            f"With the {cause_words(name)} one sigma off it does not get to the end: {_lower(ended.text)}"
            for name, ended in flown.spread.lost
        ]
    counts = {why: sum(part.why is why for part in report.parts) for why in Why}
    for why in (Why.BRAKES_AT_END, Why.FULL_THROTTLE, Why.CLOSED_BAND, Why.WIND):
        if counts[why]:
            parts = "one part" if counts[why] == 1 else f"{counts[why]} parts"
            said.append(f"{parts[:1].upper()}{parts[1:]}: {_lower(why.text)}")
    return said


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _limits(flown: Flown) -> list[str]:
    said = [
        "the path is held as given; drag of rolling ailerons, of knife edge and of the rudder is left out",
        "the pilot on the throttle is one with common reactions; yours may be quicker or smoother",
    ]
    estimated = estimated_words(flown.sequence)
    return [*said, estimated] if estimated else said


def _track(flown: Flown) -> FlyTrack:
    done, plane, report = flown.flight, flown.ready.file.plane, flown.report
    steps = int(np.searchsorted(done.place, report.end + 1e-6))
    rows = _shown(done.row("time")[:steps, 0], done.piece[:steps])
    pieces = [done.path.pieces[number] for number in done.piece[rows].tolist()]
    ways = [place - piece.start for place, piece in zip(done.place[rows].tolist(), pieces, strict=True)]
    attitudes = [piece.attitude(way) for piece, way in zip(pieces, ways, strict=True)]
    where = np.array([piece.position_at(way) for piece, way in zip(pieces, ways, strict=True)])
    flow = electrics(done, plane, flown.charge_left)
    alpha = incidences(done, flown.forces, plane, flow.thrust)
    return FlyTrack(
        time_s=_column(done.row("time")[rows, 0]),
        place_m=_column(done.place[rows]),
        x_m=_column(where[:, 0]),
        y_m=_column(where[:, 1]),
        height_m=_column(where[:, 2]),
        forward=_vectors([forward for forward, _ in attitudes]),
        canopy=_vectors([canopy for _, canopy in attitudes]),
        figure=tuple(piece.figure + 1 for piece in pieces),
        part=tuple(piece.part + 1 for piece in pieces),
        speed_m_s=_column(done.row("speed")[rows, 0]),
        counted=tuple(done.counted(flown.ready.wanted)[rows].tolist()),
        stick_percent=_column(100 * done.row("stick")[rows, 0]),
        deployment_percent=_column(100 * done.row("deployment")[rows, 0]),
        shaft_rpm=_column(RPM * done.row("omega")[rows, 0]),
        closed=tuple(done.closed[rows, 0].tolist()),
        thrust_n=_column(flow.thrust[rows]),
        current_a=_column(flow.current[rows]),
        voltage_v=_column(flow.voltage[rows]),
        left_percent=() if flow.left is None else _column(100 * flow.left[rows]),
        load=_column(done.load_factors()[rows, 0]),
        incidence_deg=_column(np.degrees(alpha[rows])),
    )


def _shown(time: Floats, piece: NDArray[np.intp]) -> NDArray[np.intp]:
    """Steps to show: even in time, and the end of every piece."""
    even = np.searchsorted(time, np.linspace(0.0, time[-1], MOST_POINTS)).clip(0, len(time) - 1)
    joints = np.flatnonzero(np.diff(piece, append=piece[-1] + 1))
    return np.unique(np.concatenate([[0], even, joints]))


def _column(values: Floats) -> tuple[float, ...]:
    return tuple(np.round(values, _DRAWN).tolist())


def _vectors(values: list[tuple[float, float, float]]) -> tuple[tuple[float, float, float], ...]:
    return tuple((round(x, _DRAWN), round(y, _DRAWN), round(z, _DRAWN)) for x, y, z in values)


def fly_compare_page(both: FlownTwice, *, winds: tuple[str, str] = ("calm", "calm")) -> FlyComparePage:
    """The page of two flights."""
    first, second = fly_page(both.first, wind=winds[0]), fly_page(both.second, wind=winds[1])
    seconds = {figure.number: figure for figure in second.figures}
    return FlyComparePage(
        first=first,
        second=second,
        rows=tuple(
            FlyDiffRow(
                number=one.number,
                name=one.name,
                first_m_s=one.speed_m_s,
                second_m_s=seconds[one.number].speed_m_s,
                first_worst_m_s=one.worst_off_m_s,
                second_worst_m_s=seconds[one.number].worst_off_m_s,
            )
            for one in first.figures
            if one.number in seconds
        ),
        words=tuple(_differences(first, second)),
    )


def fly_against_page(both: FlownTwice, *, wind: str = "calm") -> FlyPage:
    """The page of the first flight, the second in it."""
    first, second = fly_page(both.first, wind=wind), fly_page(both.second, wind=wind)
    return first.model_copy(update={"against": second, "differs": tuple(_differences(first, second))})


def _differences(first: FlyPage, second: FlyPage) -> list[str]:
    off, charge = (
        (getattr(first, name).value, getattr(second, name).value) for name in ("unevenness_percent", "charge_mah")
    )
    return [
        f"Unevenness {off[0]:.1f} % with {first.plan}, {off[1]:.1f} % with {second.plan}.",
        f"Charge {charge[0]:.0f} mAh and {charge[1]:.0f} mAh.",
    ]
