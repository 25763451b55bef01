"""A recorded flight or a sound as the page shows it, to confirm or trim."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenfall.sheet.pages import Page


class ColumnPage(Page):
    """A column of a recording."""

    name: str = Field(description="As the file calls it.")
    holds: str = Field(description="What it is taken for; empty where it is not used.")
    unit: str = Field(description="In which unit; empty where it has none.")
    sample: str = Field(description="A few of its values.")


class LineCutPage(Page):
    """A straight line found in a recording."""

    from_s: float = Field(description="Start, in the recording's own time.")
    to_s: float = Field(description="End.")
    line: str = Field(description="The line of the ladder it fits; empty where none.")
    slope_deg: float = Field(description="Slope, climbing positive.")
    slope_sigma_deg: float = Field(description="Its doubt, one sigma.")
    speed_from_m_s: float = Field(description="Speed over ground at its start.")
    speed_to_m_s: float = Field(description="At its end.")
    length_m: float = Field(description="Length.")
    across_m: float = Field(description="How far the path leaves a straight line, rms.")
    closed_s: tuple[float, float] | None = Field(description="Closed-throttle part; null where none or not known.")
    doubts: tuple[str, ...] = Field(description="What to look at before confirming.")


class LogPage(Page):
    """A recording: what its columns hold, its track, its lines."""

    file: str = Field(description="Name in the record.")
    kind: Literal["csv", "gpx", "nmea"] = Field(description="Kind of file.")
    columns: tuple[ColumnPage, ...] = Field(description="Columns; empty for GPX and NMEA.")
    choices: tuple[str, ...] = Field(description="What a column may hold.")
    delimiter: str = Field(description="Delimiter in words; empty for GPX and NMEA.")
    notes: tuple[str, ...] = Field(description="Gaps, duplicates, clock jumps, what was left out.")
    time_s: tuple[float, ...] = Field(description="Thinned times.")
    height_m: tuple[float | None, ...] = Field(description="Height over the start at these times.")
    east_m: tuple[float | None, ...] = Field(description="East of the start.")
    north_m: tuple[float | None, ...] = Field(description="North of the start.")
    speed_m_s: tuple[float | None, ...] = Field(description="Speed over ground.")
    throttle_percent: tuple[float | None, ...] = Field(description="Throttle.")
    shaft_rpm: tuple[float | None, ...] = Field(description="Shaft speed.")
    lines: tuple[LineCutPage, ...] = Field(description="Straight lines found; as trimmed where asked.")
    wind: str = Field(description="Wind found in level flight, in words; or that it could not be.")


class SoundPage(Page):
    """A sound: its spectrogram and what was heard."""

    file: str = Field(description="Name in the record.")
    seconds: float = Field(description="Length.")
    heard: bool = Field(description="A propeller was heard.")
    words: str = Field(description="What was heard, or why it is refused.")
    time_s: tuple[float, ...] = Field(description="Times of the columns of the spectrogram.")
    frequency_hz: tuple[float, ...] = Field(description="Frequencies of its rows, rising.")
    level: str = Field(description="Loudness, base64 of one byte each, row by row from the lowest frequency.")
    track_s: tuple[float, ...] = Field(description="Times of the track.")
    track_rpm: tuple[float | None, ...] = Field(description="Shaft speed at these times; null where not heard.")
    track_hz: tuple[float | None, ...] = Field(description="Blade frequency as heard.")
    shaft_rpm: float | None = Field(description="Shaft speed, revolutions a minute; null where refused.")
    shaft_rpm_sigma: float | None = Field(description="One sigma.")
    damping_words: str = Field(description="Damping of a spin-down, with spread; empty where not asked or not heard.")


class ClickedPage(Page):
    """Clicked places as a way along the line."""

    time_s: tuple[float, ...] = Field(description="Times from the first click.")
    way_m: tuple[float, ...] = Field(description="Way along the line.")
    sigma_m: float = Field(description="One sigma of each.")
    slope_deg: float = Field(description="Slope as seen, climbing positive.")
    speed_m_s: tuple[float, float] = Field(description="Speed at the first and last click.")
    words: str = Field(description="What to know: scale, doubt, what to improve.")
