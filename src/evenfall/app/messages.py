"""What the page and the server say to each other over the one socket: strict, declared, nothing else is accepted.

The page asks (`Ask`: computes, changes nothing) and does (`Do`: changes a file). Every message carries a `seq` that
its answers repeat. Asks of one `channel` replace each other: the newest wins and the older ones are answered
`Dropped`. Actions are carried out in their order, each exactly once: a `Do` sent again under the same `token` is
answered but not repeated.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from evenfall.sheet.flight_form import ClickedPart, FlightForm, SoundPart
from evenfall.sheet.folder_page import FaultPage, FolderPage
from evenfall.sheet.plan_view import PlanChanges

FRAME_LIMIT = 1_000_000
"""Longest message the server reads, bytes."""

Topic = Literal[
    "plane", "plan", "quick", "predict", "tune", "map", "shaft", "stick", "march", "kinematics", "bench", "rig",
    "sheet", "compare", "season", "flight", "learn", "diagnose", "card", "log", "sound", "clicked", "fly", "carry",
    "programme",
]  # fmt: skip
"""What can be asked, each answered by one page: see `evenfall.sheet.schema.TOPICS`."""

Value = bool | float | str | tuple[float, float] | None
"""A value of a plane file's key: a pair is (value, spread); null removes the key."""

FileName = Annotated[str, Field(min_length=1, max_length=200)]
Short = Annotated[str, Field(max_length=200)]
Token = Annotated[str, Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9_-]+$")]
"""Names a flight for good: letters, digits, `-` and `_`."""
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 of a file's bytes, hexadecimal."""
Seconds = Annotated[float, Field(ge=-1e9, le=1e12)]


class Message(BaseModel):
    """Base of every message: frozen, nothing undeclared, numbers finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


Winds = Annotated[tuple[Annotated[float, Field(ge=0.0, le=20.0)], ...], Field(min_length=1, max_length=4)]
"""Mean winds 6 m above the ground, m/s."""


class AirAsk(Message):
    """The air to compute in."""

    elevation_m: float = Field(default=0.0, ge=-500.0, le=5000.0, description="Height of the field.")
    temperature_c: float | None = Field(default=None, ge=-40.0, le=55.0, description="Null: standard.")
    pressure_hpa: float | None = Field(default=None, ge=450.0, le=1100.0, description="At the field. Null: standard.")


class Other(Message):
    """The second side of a comparison."""

    plane: FileName = Field(description="Plane file.")
    plan: FileName | None = Field(default=None, description="Plan file; null is the plane as it is now.")


class Ask(Message):
    """Compute something; changes nothing."""

    kind: Literal["ask"]
    seq: int = Field(ge=0, description="Counts up in one connection; the answer repeats it.")
    topic: Topic = Field(description="What is asked.")
    channel: Short = Field(default="", description="Asks of one channel replace each other; empty is the topic.")
    plane: FileName = Field(description="Plane file in the folder.")
    plan: FileName | None = Field(default=None, description="Plan file; null is the plane as it is now.")
    edits: dict[str, Value] = Field(default={}, max_length=200, description="Plane keys not saved yet, dotted path.")
    changes: PlanChanges | None = Field(default=None, description="Changes of the plan not saved yet.")
    air: AirAsk = Field(default=AirAsk(), description="The air.")
    arrangement: Short | None = Field(default=None, description="map: another arrangement than the plan's.")
    line: Short = Field(default="vertical down", description="march: which of the five lines.")
    entry_m_s: float | None = Field(default=None, ge=0.0, le=100.0, description="march: entry speed; null: wanted.")
    inverted: bool = Field(default=False, description="stick: flown inverted.")
    without_offset: bool = Field(default=False, description="kinematics, rig: arms square to their rods.")
    other: Other | None = Field(default=None, description="compare, fly: the second side.")
    flight: Token | None = Field(default=None, description="flight: which one of the record.")
    signs: tuple[Short, ...] = Field(default=(), max_length=20, description="diagnose: keys of the signs seen.")
    original: Hash | None = Field(default=None, description="log, sound: a file that was sent in.")
    columns: dict[Short, Short] = Field(default={}, max_length=50, description="log: column to what it holds.")
    cuts: tuple[tuple[Seconds, Seconds], ...] = Field(
        default=(), max_length=200, description="log: lines from and to these times instead of those found."
    )
    sound: SoundPart | None = Field(default=None, description="sound: what was heard and which part counts.")
    clicked: ClickedPart | None = Field(default=None, description="clicked: the places as clicked so far.")
    sequence: FileName = Field(
        default="eight", description="fly, programme: eight, seventeen or a NAME.seq.toml of the folder."
    )
    programme: FileName | None = Field(
        default=None, description="sheet: a sequence flown in calm on a further page; null: none."
    )
    wind_m_s: float = Field(default=0.0, ge=0.0, le=20.0, description="fly: mean wind 6 m above the ground, gusty.")
    wind_towards_deg: float = Field(
        default=0.0, ge=-360.0, le=360.0, description="fly: where it blows; 0 to the right as judged, 90 away."
    )
    winds_m_s: Winds = Field(default=(0.0, 4.0, 8.0), description="programme: mean winds tried, calm in any case.")
    to: FileName | None = Field(default=None, description="carry: plane file the plan is taken to; may be the same.")
    what_if: dict[str, Value] = Field(
        default={}, max_length=50, description="carry: keys of that plane changed for the occasion, dotted path."
    )


class PlaneSet(Message):
    """Write values into a plane file; comments are kept."""

    what: Literal["plane.set"]
    file: FileName
    edits: dict[str, Value] = Field(max_length=200)


class TextSet(Message):
    """Replace a whole plane or plan file by a text."""

    what: Literal["text.set"]
    file: FileName
    text: str = Field(max_length=500_000)
    base: int = Field(description="Revision the text was made from; refused where the file has moved on.")


class PartAdd(Message):
    """Add a part that drags, or take the one at `index` away."""

    what: Literal["part.add"]
    file: FileName
    part: Literal["wheel", "wire", "strut", "cowl opening", "area"]


class PartDrop(Message):
    """Take away the part at `index` of the file's drag tables."""

    what: Literal["part.drop"]
    file: FileName
    index: int = Field(ge=0)


class PlanSet(Message):
    """Change a plan file."""

    what: Literal["plan.set"]
    plane: FileName
    file: FileName
    changes: PlanChanges


class PlanTune(Message):
    """Compute the plan and write it; a candidate of the ranking may be chosen instead of the best."""

    what: Literal["plan.tune"]
    plane: FileName
    file: FileName | None = Field(default=None, description="Null: the plane's own plan file.")
    level: Short | None = None
    arrangement: Short | None = None
    air: AirAsk = AirAsk()


class PlanCarry(Message):
    """Take a plan along to another plane and write it as that one's own plan, or as a new plane with its plan."""

    what: Literal["plan.carry"]
    plane: FileName
    plan: FileName
    to: FileName = Field(description="Plane file it is taken to.")
    name: Annotated[str, Field(min_length=1, max_length=60)] | None = Field(
        default=None, description="Name of a new plane: `to` with the keys of `what_if`; null: `to` itself."
    )
    what_if: dict[str, Value] = Field(default={}, max_length=50, description="Of a new plane only.")
    air: AirAsk = AirAsk()


class PlanProgramme(Message):
    """Tune for a whole programme and write the evenest plan."""

    what: Literal["plan.programme"]
    plane: FileName
    file: FileName | None = Field(default=None, description="Null: the plane's own plan file.")
    sequence: FileName
    winds_m_s: Winds = (0.0, 4.0, 8.0)
    air: AirAsk = AirAsk()


ComputedAction = PlanTune | PlanCarry | PlanProgramme
"""Actions whose plan is computed before it is written."""


class PlanFreeze(Message):
    """Keep a copy of a plan under a name; a frozen plan is never changed."""

    what: Literal["plan.freeze"]
    plane: FileName
    file: FileName
    label: Annotated[str, Field(min_length=1, max_length=60)]


class PlanThaw(Message):
    """Make a frozen plan the plane's own plan again."""

    what: Literal["plan.thaw"]
    plane: FileName
    file: FileName


class PlaneNew(Message):
    """A new plane file from the commented template or a copy of another."""

    what: Literal["plane.new"]
    name: Annotated[str, Field(min_length=1, max_length=60)]
    source: FileName | None = Field(default=None, description="Plane file to copy; null: the template.")


class Undo(Message):
    """Take back the last change of a file."""

    what: Literal["undo"]
    file: FileName


class Redo(Message):
    """Do again what was taken back."""

    what: Literal["redo"]
    file: FileName


class BenchRead(Message):
    """Measured angles of one bench position; null takes a reading away."""

    what: Literal["bench.read"]
    plane: FileName
    plan: FileName
    phase: Short
    throttle_percent: float = Field(ge=0, le=100)
    aileron_percent: float = Field(ge=-100, le=100)
    elevator_percent: float = Field(default=0.0, ge=-100, le=100)
    angles_deg: dict[Short, Annotated[float, Field(ge=-90, le=90)] | None] = Field(max_length=8)


class FlightSave(Message):
    """Enter a flight, or change one."""

    what: Literal["flight.save"]
    plane: FileName
    plan: FileName | None = Field(default=None, description="Plan it was flown with; null: the plane as it was then.")
    flight: Token | None = Field(default=None, description="Null: a new flight, named by the token of the action.")
    base: int = Field(default=0, ge=0, description="Revision the form was made from; 0 for a new flight.")
    form: FlightForm


class FlightRemove(Message):
    """Take a flight out; it can be brought back."""

    what: Literal["flight.remove"]
    plane: FileName
    flight: Token


class FlightRestore(Message):
    """Bring a flight back."""

    what: Literal["flight.restore"]
    plane: FileName
    flight: Token


class PartReplaced(Message):
    """Note that a part was replaced or repaired."""

    what: Literal["part.replaced"]
    plane: FileName
    part: Short = Field(description="Key of one of the season page's kinds.")
    date: Annotated[str, Field(min_length=1, max_length=40)] = Field(description="ISO 8601 date.")
    words: Annotated[str, Field(max_length=1000)] = Field(default="", description="What was done.")


class TestDone(Message):
    """Note that a test which a part voids was done again."""

    what: Literal["test.done"]
    plane: FileName
    part: Short = Field(description="The part's token on the season page.")
    test: Short = Field(description="One of what the part voids.")
    date: Annotated[str, Field(min_length=1, max_length=40)] = Field(description="ISO 8601 date.")


class TestOpen(Message):
    """Take that back: the test is to be done still."""

    what: Literal["test.open"]
    plane: FileName
    part: Short = Field(description="The part's token on the season page.")
    test: Short = Field(description="One of what the part voids.")


class ChangeTake(Message):
    """Write the next change that the flights call for into the plan."""

    what: Literal["change.take"]
    plane: FileName
    plan: FileName


class PlanProve(Message):
    """Mark a plan as proven where its flights say so."""

    what: Literal["plan.prove"]
    plane: FileName
    plan: FileName


RecordAction = FlightSave | FlightRemove | FlightRestore | PartReplaced | TestDone | TestOpen | ChangeTake | PlanProve
"""Actions that write into the record of flights."""

Action = Annotated[
    PlaneSet | TextSet | PartAdd | PartDrop | PlanSet | ComputedAction | PlanFreeze | PlanThaw | PlaneNew | Undo | Redo
    | BenchRead | RecordAction,
    Field(discriminator="what"),
]  # fmt: skip


class Do(Message):
    """Change something."""

    kind: Literal["do"]
    seq: int = Field(ge=0)
    token: Annotated[str, Field(min_length=8, max_length=64)] = Field(description="New for every action, kept on retry")
    action: Action


class Cancel(Message):
    """Stop working on an ask."""

    kind: Literal["cancel"]
    channel: Short


Incoming = Annotated[Ask | Do | Cancel, Field(discriminator="kind")]
INCOMING: TypeAdapter[Ask | Do | Cancel] = TypeAdapter(Incoming)
"""Reads what the page says."""


class Hello(Message):
    """First message of every connection."""

    kind: Literal["hello"] = "hello"
    version: str
    role: Literal["owner", "guest"] = Field(description="A guest reads everything and writes forms only.")
    run: str = Field(description="New at every start of the server.")
    folder: FolderPage


class FolderMoved(Message):
    """The folder or a file in it has changed, by whom ever."""

    kind: Literal["folder"] = "folder"
    folder: FolderPage


class Progress(Message):
    """What a long job is doing."""

    kind: Literal["progress"] = "progress"
    seq: int
    words: str


class Dropped(Message):
    """A newer ask of the channel came, or it was cancelled."""

    kind: Literal["dropped"] = "dropped"
    seq: int


class Done(Message):
    """An action was carried out and its file saved."""

    kind: Literal["done"] = "done"
    seq: int
    file: str
    revision: int
    words: str = Field(description="What was done.")


class Refused(Message):
    """An ask or an action could not be answered: the reason and every fault."""

    kind: Literal["refused"] = "refused"
    seq: int | None
    words: str = Field(description="What came, what is allowed, what to do.")
    faults: tuple[FaultPage, ...] = ()


Outgoing = Hello | FolderMoved | Progress | Dropped | Done | Refused
"""What the server says besides answers. An answer is `{"kind": "answer", "seq", "topic", "body"}`."""
