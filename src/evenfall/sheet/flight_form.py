"""A flight as the page's form sends it: the keys of the flight file in metric units (`evenfall.logs.evidence_file`).

Every list may be empty; what is null was not seen. `FlightForm.document` is what the flight file's reader takes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Words = Annotated[str, Field(max_length=4000)]
Name = Annotated[str, Field(max_length=200)]
Towards = Literal["canopy", "belly"]
LADDER = ("vertical down", "45 down", "level", "45 up", "vertical up")
LineName = Literal["vertical down", "45 down", "level", "45 up", "vertical up"]
Gusts = Literal["calm", "usual", "thermals"]


class Part(BaseModel):
    """Base of the form's parts: frozen, nothing undeclared, numbers finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class OnLine(Part):
    """How a line was flown."""

    line: LineName = Field(default="vertical down", description="Which line of the ladder.")
    slope_deg: float | None = Field(default=None, description="Its own slope instead, climbing positive.")
    inverted: bool = Field(default=False, description="Flown inverted.")
    stick_percent: float | None = Field(default=None, description="Throttle stick; null: closed going down.")
    crow: bool = Field(default=True, description="Crow switched on.")
    level: Name | None = Field(default=None, description="Motor-brake level; null is the plan's.")
    gusts: Gusts = Field(default="usual", description="How the air was.")


class TimedPart(OnLine):
    """A stretch timed by stopwatch or video: by its length, two heights, or two elevation angles at a distance."""

    seconds: float = Field(description="Time over the stretch.")
    by: Literal["stopwatch", "video"] = Field(default="stopwatch", description="What the time was taken with.")
    frame_s: float | None = Field(default=None, description="Time from one video frame to the next.")
    length_m: float | None = Field(default=None, description="Length of the stretch.")
    from_height_m: float | None = Field(default=None, description="Height where the time began.")
    to_height_m: float | None = Field(default=None, description="Height where it ended.")
    from_elevation_deg: float | None = Field(default=None, description="Elevation angle where it began.")
    to_elevation_deg: float | None = Field(default=None, description="Elevation angle where it ended.")
    distance_m: float | None = Field(default=None, description="Distance over ground to the line.")
    skipped_m: float | None = Field(default=None, description="Flown on the line before the time began.")
    entry_speed_m_s: float | None = Field(default=None, description="Speed at the start of the line.")


class Click(Part):
    """The plane's place in one frame."""

    t_s: float = Field(description="Time of the frame in the video.")
    x_px: float = Field(description="From the left edge of the frame.")
    y_px: float = Field(description="From the top edge of the frame.")


class ClickedPart(OnLine):
    """A line clicked frame by frame in the pilot's own video."""

    file: Name = Field(description="Name of the video, for the record; it is not kept.")
    width_px: int = Field(gt=0, description="Width of the frame.")
    height_px: int = Field(gt=0, description="Height of the frame.")
    distance_m: float | None = Field(default=None, description="From the camera over ground to the line.")
    field_of_view_deg: float | None = Field(default=None, description="Across the width of the frame.")
    markers_px: tuple[float, float, float, float] | None = Field(default=None, description="x, y, x, y of two markers.")
    markers_apart_m: float | None = Field(default=None, description="Between the two markers.")
    markers_distance_m: float | None = Field(default=None, description="From the camera to the markers.")
    span_px: float | None = Field(default=None, description="Length in the frame of something known on the line.")
    span_m: float | None = Field(default=None, description="Its real length, for example the wing's span.")
    span_y_px: float | None = Field(default=None, description="From the top edge to where the span was measured.")
    horizon_y_px: float | None = Field(default=None, description="Height of the camera's horizon in the frame.")
    camera_elevation_deg: float | None = Field(default=None, description="Camera looks up so far, for the horizon.")
    clicks: tuple[Click, ...] = Field(max_length=2000, description="Places in order of time.")

    def entry(self) -> dict[str, Any]:
        """The entry as the reader of the flight file takes it."""
        return _without_nothing(self.model_dump(mode="python"))


class CutPart(OnLine):
    """A line of a recorded flight, confirmed by the pilot."""

    from_s: float = Field(description="Start, in the recording's own time.")
    to_s: float = Field(description="End.")


class RecordedPart(Part):
    """A recorded flight and its confirmed lines."""

    file: Name = Field(description="Name of the recording in the record.")
    columns: dict[Name, Name] = Field(default={}, max_length=50, description="Column to what it holds, where changed.")
    line: tuple[CutPart, ...] = Field(default=(), max_length=200, description="Lines to learn from.")


class SoundPart(OnLine):
    """Sound of a propeller."""

    file: Name = Field(description="Name of the WAV file in the record.")
    what: Literal["line", "pass", "spin-down"] = Field(description="What was heard.")
    from_s: float | None = Field(default=None, description="Start of the part that counts.")
    to_s: float | None = Field(default=None, description="End of it.")
    speed_m_s: float | None = Field(default=None, description="Air speed at that time; null: from the line.")
    disc_inertia_g_cm2: float | None = Field(default=None, description="Of a guarded disc; null: the propeller's own.")


class RollsPart(OnLine):
    """Full rolls by stopwatch."""

    rolls: float = Field(gt=0, description="Turns.")
    seconds: float = Field(gt=0, description="Time for them.")
    phase: Name = Field(default="normal", description="Phase whose full throw was used.")
    speed_m_s: float | None = Field(default=None, description="Air speed; null: the wanted speed.")


class PullPart(OnLine):
    """How the line bent with the elevator left alone: by its rate, by degrees, or by metres over a length."""

    towards: Towards | Literal["none"] = Field(description="Towards the canopy, the belly, or straight.")
    bent_deg: float | None = Field(default=None, description="Turned so far over the length.")
    off_m: float | None = Field(default=None, description="Off the straight line by so much after the length.")
    over_m: float | None = Field(default=None, description="Length of line over which it was seen.")
    turning_deg_s: float | None = Field(default=None, description="Turned so fast, where known.")


class HeadingPart(OnLine):
    """Heading or roll drift on a line with the sticks left alone; signs for the diagnosis."""

    yawed_deg: float | None = Field(default=None, description="Nose right positive.")
    rolled_deg: float | None = Field(default=None, description="Right wing down positive.")
    over_m: float | None = Field(default=None, description="Length of line over which it was seen.")


class HeldPart(OnLine):
    """Stick at which a line went at the wanted speed: `stick_percent`."""


class SteadyPart(OnLine):
    """A speed that had settled."""

    speed_m_s: float = Field(gt=0, description="Speed; of a level pass both ways the mean.")


class ShaftPart(OnLine):
    """Shaft speed on a line, from telemetry."""

    shaft_rpm: float = Field(gt=0, description="Revolutions a minute.")
    speed_m_s: float | None = Field(default=None, description="Air speed; null: the wanted speed.")


class TrimPart(OnLine):
    """Change of elevator trim that made a line straight; a sign for the diagnosis."""

    elevator_percent: float = Field(description="Up positive.")


class AirPart(Part):
    """The air of the day."""

    temperature_c: float | None = Field(default=None, ge=-40, le=55, description="At the field.")
    pressure_hpa: float | None = Field(default=None, ge=450, le=1100, description="At the field itself.")
    elevation_m: float | None = Field(default=None, ge=-500, le=5000, description="Of the field.")
    wind_m_s: float | None = Field(default=None, ge=0, le=30, description="Mean wind at flying height.")


class BatteryPart(Part):
    """The pack before and after."""

    before_v: float | None = Field(default=None, gt=0, description="At rest before the flight.")
    after_v: float | None = Field(default=None, gt=0, description="At rest after it.")
    used_mah: float | None = Field(default=None, ge=0, description="Charged back, or counted.")


class FlightForm(Part):
    """One flight: conditions and everything seen."""

    date: Annotated[str, Field(min_length=1, max_length=40)] = Field(description="ISO 8601 date, with time if known.")
    place: Name = Field(default="", description="Where.")
    notes: Words = Field(default="", description="In the pilot's words.")
    air: AirPart = Field(default=AirPart(), description="The air.")
    battery: BatteryPart = Field(default=BatteryPart(), description="The pack.")
    recorded: tuple[RecordedPart, ...] = Field(default=(), max_length=10, description="Recorded flights.")
    timed: tuple[TimedPart, ...] = Field(default=(), max_length=50, description="Timed stretches.")
    clicked: tuple[ClickedPart, ...] = Field(default=(), max_length=20, description="Lines clicked in a video.")
    sound: tuple[SoundPart, ...] = Field(default=(), max_length=20, description="Sound.")
    rolls: tuple[RollsPart, ...] = Field(default=(), max_length=50, description="Timed rolls.")
    pull: tuple[PullPart, ...] = Field(default=(), max_length=50, description="Lines that bent.")
    heading: tuple[HeadingPart, ...] = Field(default=(), max_length=50, description="Heading and roll drift.")
    held: tuple[HeldPart, ...] = Field(default=(), max_length=50, description="Holding sticks.")
    steady: tuple[SteadyPart, ...] = Field(default=(), max_length=50, description="Settled speeds.")
    shaft: tuple[ShaftPart, ...] = Field(default=(), max_length=50, description="Shaft speeds.")
    trim: tuple[TrimPart, ...] = Field(default=(), max_length=50, description="Trim changes.")
    signs: tuple[Name, ...] = Field(default=(), max_length=20, description="What was seen, as signs of the diagnosis.")

    def document(self) -> dict[str, Any]:
        """The flight as the reader of the flight file takes it: what is null or empty is left out."""
        return {"format": 1, **_without_nothing(self.model_dump(mode="python", exclude_defaults=False))}


def _without_nothing(given: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in given.items():
        if value is None or value in ({}, (), []):
            continue
        if isinstance(value, dict):
            if inner := _without_nothing(value):
                made[key] = inner
        elif isinstance(value, list | tuple) and value and isinstance(value[0], dict):
            made[key] = [_without_nothing(item) for item in value]
        elif isinstance(value, tuple):
            made[key] = list(value)
        else:
            made[key] = value
    return made
